"""Health as it is told: when it changed, at most once in ten seconds, last of all; a radio wrench's battery too."""

import asyncio
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from decimal import Decimal
from pathlib import Path
from typing import Any, Protocol

import pytest
from dbus_fast import Variant

from bridge.core.commands import Command
from bridge.core.events import (
    Binding,
    Body,
    BytesRejected,
    CertificatePoint,
    LinkSeen,
    PersonAdded,
    ReadingTaken,
    Stored,
    WrenchAdded,
)
from bridge.core.events_links import LinkHealth
from bridge.service.bench import Bench
from bridge.service.link_health import EVERY_S, KEPT_RAW, LinkWatch
from bridge.service.listening import listen
from bridge.service.start import start_job
from bridge.trail.clock import SystemClock
from bridge.trail.reader import Reader
from drivers.errors import LinkError, LinkReason
from drivers.links.ble import BleLink
from drivers.links.opened import open_all
from drivers.load import builtin_profile
from drivers.reading import Chunk, LinkChange, LinkState, Rejected, Told
from drivers.reconnect import keep
from drivers.sim.bluez import names
from drivers.sim.bluez.names import TORQUE_VALUES
from drivers.sim.bluez.service import BluetoothService
from drivers.sim.driver import SimLink
from specs.expand import expand
from specs.load import find

FIRST = "02:00:00:00:0A:01"
LIMIT_S = 30


class Clock(Protocol):
    """The clock of `conftest.py`."""

    timeout: Callable[[float], AbstractAsyncContextManager[object]]
    slept: list[float]

    async def sleep(self, seconds: float) -> None: ...
    async def asleep(self) -> None: ...
    async def wake(self) -> None: ...


class Book:
    """Takes what is to be recorded, at a time that the test sets."""

    def __init__(self, clock: Clock) -> None:
        self.t = Decimal(100)
        self.kept: list[LinkHealth] = []
        self.refuses = False
        self.watch = LinkWatch("W1", lambda: self.t, self.record, sleep=clock.sleep)
        self.news = asyncio.Event()

    async def record(self, body: Body) -> bool:
        assert isinstance(body, LinkHealth)
        if self.refuses:
            return False
        self.kept.append(body)
        self.news.set()
        return True

    async def told(self, count: int) -> None:
        """Until so many were recorded."""
        async with asyncio.timeout(LIMIT_S):
            while len(self.kept) < count:
                self.news.clear()
                await self.news.wait()


def noise(count: int) -> Rejected:
    return Rejected(b"\xff" * count, "link.checksum", ("0", "1"))


async def test_the_first_reject_is_kept_whole_and_the_others_are_counted(clock: Clock) -> None:
    book = Book(clock)
    async with book.watch as watch:
        first = watch.rejected(book.t, noise(3))
        assert isinstance(first, BytesRejected)
        assert first.raw == "ffffff"
        watch.heard(book.t)
        assert watch.rejected(book.t + 1, noise(4)) is None
        await book.told(1)
        assert (book.kept[0].unread, book.kept[0].unread_bytes, book.kept[0].heard) == (1, 4, book.t)
        assert watch.rejected(book.t + EVERY_S, noise(5)) is not None
    assert book.kept[1:] == [LinkHealth("W1", book.t, False, book.t, None, 0, 0)]


async def test_it_is_told_once_in_ten_seconds_and_all_of_it(clock: Clock) -> None:
    book = Book(clock)
    async with book.watch as watch:
        watch.told(Told(87))
        await book.told(1)
        for battery in (86, 85, 84):
            watch.told(Told(battery))
            watch.rejected(book.t, noise(2))
        await clock.asleep()
        assert len(book.kept) == 1
        assert clock.slept == [10.0]
        book.t += EVERY_S
        await clock.wake()
        await book.told(2)
    assert [(each.battery, each.unread) for each in book.kept] == [(87, 0), (84, 2), (84, 0)]


async def test_the_same_again_is_no_news(clock: Clock) -> None:
    book = Book(clock)
    async with book.watch as watch:
        watch.told(Told(87))
        await book.told(1)
        book.t += 100
        watch.told(Told(87))
        watch.told(Told(None))
        watch.heard(book.t)
        for _ in range(5):
            await asyncio.sleep(0)
    assert [each.listening for each in book.kept] == [True, False]


async def test_what_waits_for_its_time_is_told_when_the_listening_ends(clock: Clock) -> None:
    book = Book(clock)
    async with book.watch as watch:
        watch.told(Told(87))
        await book.told(1)
        watch.rejected(book.t, noise(1))
        watch.rejected(book.t, noise(7))
        await clock.asleep()
        watch.left([noise(9)])
    assert [(each.listening, each.unread, each.unread_bytes) for each in book.kept[1:]] == [(False, 2, 16)]


async def test_bytes_that_a_reject_cannot_hold_are_counted_without_a_stretch(clock: Clock) -> None:
    book = Book(clock)
    async with book.watch as watch:
        kept = watch.rejected(book.t, noise(KEPT_RAW + 8))
        assert kept is not None
        assert len(kept.raw) == 2 * KEPT_RAW
        await book.told(1)
    assert (book.kept[0].unread, book.kept[0].unread_bytes) == (0, 8)


async def test_what_could_not_be_recorded_is_told_with_the_next(clock: Clock) -> None:
    book = Book(clock)
    book.refuses = True
    async with book.watch as watch:
        watch.rejected(book.t, noise(1))
        watch.rejected(book.t, noise(7))
        await clock.asleep()  # refused, so it waits for its next time
        book.refuses = False
    assert [(each.unread, each.unread_bytes) for each in book.kept] == [(1, 7)]


async def test_a_link_that_never_opened_has_no_health(clock: Clock) -> None:
    book = Book(clock)
    with pytest.raises(LinkError):
        async with book.watch:
            raise LinkError(LinkReason.MISSING, "port")
    assert book.kept == []


# --- through the bench


async def ready(path: Path, profile: str = "line-basic") -> Bench:
    bench = await Bench.open(path, mode="work", program="0.1.0", clock=SystemClock())
    papers = ("K-1", "2026-01-01", "2999-01-01", (CertificatePoint("8 ft·lb", "2"), CertificatePoint("75 ft·lb", "2")))
    small = ("K-1", "2026-01-01", "2999-01-01", (CertificatePoint("8 in·lb", "2"), CertificatePoint("75 in·lb", "2")))
    first = WrenchAdded("A1", "large", "ft·lb", "8 ft·lb", "75 ft·lb", profile, *papers)
    second = WrenchAdded("A2", "small", "in·lb", "8 in·lb", "75 in·lb", profile, *small)
    added: list[Body] = [PersonAdded("Orla Venn", ("fitter",)), first, second]
    await bench.submit(*(Command(f"{n}", body) for n, body in enumerate(added)))
    bound = (Binding("W1", "W1", "A1", profile, "one"), Binding("W2", "W2", "A2", profile, "two"))
    await start_job(bench, expand(find("practice-cover")), "Pump P-2", ["Orla Venn"], bound)
    return bench


async def until(bench: Bench, true: Callable[[Any], bool]) -> Stored:
    """The first event of which that is true."""
    async with asyncio.timeout(LIMIT_S):
        events = bench.subscribe(0)
        try:
            async for stored in events:
                if true(stored.event.body):
                    return stored
        finally:
            await events.aclose()
    raise AssertionError("the bench closed")


async def ended(task: "asyncio.Task[None]") -> None:
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)


def bodies(trail: Path) -> list[Body]:
    with Reader.open(trail) as reader:
        return [stored.event.body for stored in reader.events()]


async def test_every_byte_of_noise_is_in_the_record_also_what_was_begun_at_the_end(tmp_path: Path) -> None:
    bench, link = await ready(tmp_path / "bench.trail"), SimLink("one")
    task = asyncio.create_task(listen(bench, "W1", link, builtin_profile("line-basic"), "A1"))
    await until(bench, lambda body: isinstance(body, LinkSeen))
    sent = [b"x\r\n", b"yy\r\n", b"zzz\r\n", b"A1,1,20.1,ft.lb,CW\r\n" + b"cut of"]
    for piece in sent:
        link.send(piece)
    await until(bench, lambda body: isinstance(body, ReadingTaken))
    (link_view, _) = bench.view.links
    assert link_view.state == "up"
    await ended(task)
    (link_view, other) = bench.view.links
    await bench.close()
    assert (link_view.unread, link_view.unread_bytes, link_view.state) == (4, 3 + 4 + 5 + 6, "ended")
    assert other.state == "not yet heard"
    kinds = [type(body) for body in bodies(tmp_path / "bench.trail")]
    assert kinds.count(BytesRejected) == 1
    assert kinds[-1] is LinkHealth


async def test_battery_and_serial_of_a_radio_wrench_are_items_of_its_kept_link(
    air: BluetoothService, clock: Clock
) -> None:
    link = BleLink(FIRST, values=TORQUE_VALUES, timeout=clock.timeout, sleep=clock.sleep)
    items = keep(link)
    assert await anext(items) == LinkChange(LinkState.UP)
    assert await anext(items) == Told(87, "A1023")
    air.radio.notify(FIRST, b"x")
    assert await anext(items) == Chunk(b"x")
    await clock.wake()  # something came, so nothing is asked
    await clock.asleep()
    drain(air, 19)
    await clock.wake()
    async with asyncio.timeout(LIMIT_S):  # only keeps a change that is not told from holding up the tests
        assert await anext(items) == Told(19, "A1023")
        assert await anext(items) == Chunk(b"")
    await items.aclose()


def drain(air: BluetoothService, percent: int) -> None:
    """The battery of the first wrench runs down."""
    path = air.radio.tree.find(FIRST, names.BATTERY_LEVEL)
    assert path is not None
    air.radio.tree.objects[path][names.CHARACTERISTIC]["Value"] = Variant("ay", bytes([percent]))


async def test_battery_of_a_radio_wrench_is_in_the_record(air: BluetoothService, clock: Clock, tmp_path: Path) -> None:
    bench = await ready(tmp_path / "bench.trail")
    link = BleLink(FIRST, values=TORQUE_VALUES, timeout=clock.timeout, sleep=clock.sleep)
    (opened,) = await open_all([link])  # as a job tries it before it begins
    task = asyncio.create_task(listen(bench, "W1", opened, builtin_profile("line-basic"), "A1"))
    told = await until(bench, lambda body: isinstance(body, LinkHealth))
    assert isinstance(told.event.body, LinkHealth)
    assert told.event.body.battery == 87
    assert (told.event.wrench, bench.view.links[0].battery) == ("A1", 87)
    await clock.asleep()
    drain(air, 19)
    await clock.wake()
    await clock.asleep()
    await asyncio.sleep(0)
    await ended(task)
    assert (bench.view.links[0].battery, bench.view.links[0].low_battery) == (19, True)
    await bench.close()
