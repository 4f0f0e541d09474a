"""The queue of a port is bounded by not reading on, keeps order, and ends once."""

import asyncio

import pytest

from drivers.links.inbox import Inbox
from drivers.reading import LinkChange, LinkState

GONE = LinkChange(LinkState.LOST, "link.gone", ("port",))
CLOSED = LinkChange(LinkState.LOST, "link.closed", ("port",))


def inbox(most: int) -> tuple[Inbox, list[str]]:
    said: list[str] = []
    return Inbox(lambda: said.append("pause"), lambda: said.append("resume"), most), said


async def test_a_full_inbox_pauses_the_port_once_and_half_an_empty_one_resumes_it() -> None:
    box, said = inbox(4)
    for sign in b"abcd":
        box.put(bytes([sign]))
        assert box.paused == (sign == ord("d"))
    assert said == ["pause"]
    box.put(b"e")  # read before the pause took hold
    assert said == ["pause"]
    got = [await box.get(), await box.get()]
    assert said == ["pause"]
    got.append(await box.get())
    assert said == ["pause", "resume"]
    got += [await box.get(), await box.get()]
    assert got == [b"a", b"b", b"c", b"d", b"e"]
    assert said == ["pause", "resume"]


async def test_what_waits_can_be_read_after_the_end_and_the_first_end_counts() -> None:
    box, said = inbox(1)
    box.put(b"a")
    box.end(GONE)
    box.end(CLOSED)
    box.put(b"too late")
    assert box.ended
    assert [await box.get(), await box.get(), await box.get()] == [b"a", GONE, GONE]
    assert said == ["pause"]  # a port that is gone is not read again


async def test_one_who_waits_is_woken_by_bytes_and_by_the_end() -> None:
    box, _ = inbox(4)
    waiting = asyncio.create_task(box.get())
    await asyncio.sleep(0)
    box.put(b"a")
    assert await waiting == b"a"
    waiting = asyncio.create_task(box.get())
    await asyncio.sleep(0)
    box.end(GONE)
    assert await waiting == GONE


async def test_a_reader_that_is_cancelled_at_the_same_moment_costs_nothing() -> None:
    box, _ = inbox(4)
    reader = asyncio.create_task(box.get())
    await asyncio.sleep(0)
    reader.cancel()
    box.put(b"a")
    with pytest.raises(asyncio.CancelledError):
        await reader
    reader = asyncio.create_task(box.get())
    assert await reader == b"a"
    reader = asyncio.create_task(box.get())
    await asyncio.sleep(0)
    reader.cancel()
    await asyncio.sleep(0)
    box.put(b"b")
    assert await box.get() == b"b"
