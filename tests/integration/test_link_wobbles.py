"""A link that wobbles: a loss and a return in ten seconds, and what they end or begin is as if all had been told."""

import asyncio
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from decimal import Decimal
from pathlib import Path
from typing import Protocol

from hypothesis import given
from hypothesis import strategies as st

from bridge.core.commands import Command
from bridge.core.events import Binding, Body, LinkSeen, PersonAdded, ReadingTaken, Reason, Said, WrenchAdded
from bridge.core.events_links import LinkHealth
from bridge.core.health import Health
from bridge.core.intake import Happened, Intake
from bridge.core.pulls import Pull
from bridge.service.bench import Bench
from bridge.service.link_health import EVERY_S, LinkWatch
from bridge.service.listening import listen
from bridge.service.start import start_job
from bridge.trail.reader import Reader
from drivers.backoff import Waits
from drivers.load import builtin_profile
from drivers.sim.driver import SimLink
from specs.expand import expand
from specs.load import find

LIMIT_S = 30
FAST = Waits(first=0.001, ceiling=0.001)


class Clock(Protocol):
    """The clock of `conftest.py`."""

    timeout: Callable[[float], AbstractAsyncContextManager[object]]
    slept: list[float]

    async def sleep(self, seconds: float) -> None: ...
    async def asleep(self) -> None: ...
    async def wake(self) -> None: ...


def seen(state: str, t: str, losses: int = 0) -> LinkSeen:
    return LinkSeen("W1", Decimal(t), state, Reason("link.up" if state == "up" else "link.gone"), losses)


class Book:
    """What a link has recorded, at a time that the test sets."""

    def __init__(self, clock: Clock) -> None:
        self.t = Decimal(0)
        self.kept: list[Body] = []
        self.watch = LinkWatch("W1", lambda: self.t, self.record, sleep=clock.sleep)

    async def record(self, body: Body) -> bool:
        self.kept.append(body)
        return True

    def changes(self, *changes: tuple[str, str]) -> list[tuple[str, str]]:
        """Those that are told at once."""
        told = []
        for state, t in changes:
            self.t = Decimal(t)
            body = self.watch.changed(seen(state, t))
            if body is not None:
                assert body == seen(state, t)
                told.append((state, t))
        return told


async def test_a_loss_and_a_return_are_told_at_once(clock: Clock) -> None:
    book = Book(clock)
    async with book.watch:
        plain = [("up", "0"), ("lost", "12"), ("up", "13"), ("lost", "13.5"), ("up", "24")]
        assert book.changes(*plain) == plain
    assert [type(body) for body in book.kept] == [LinkHealth]


async def test_a_wobble_is_told_once_in_ten_seconds_with_its_count(clock: Clock) -> None:
    book = Book(clock)
    async with book.watch:
        wobble = [("up", "0"), ("lost", "1"), ("up", "1.5"), ("lost", "2"), ("up", "3"), ("lost", "4"), ("up", "4.5")]
        assert book.changes(*wobble) == wobble[:2]
        await clock.asleep()
        assert clock.slept == [5.5]
        book.t = EVERY_S
        await clock.wake()
        await until(lambda: bool(book.kept))
        assert book.kept == [seen("up", "4.5", 2)]
        # From there on it counts anew.
        assert book.changes(("lost", "10.5"), ("up", "12")) == [("lost", "10.5")]
        book.kept.clear()
    assert book.kept[:1] == [seen("up", "12")]


async def test_it_never_says_up_for_longer_than_it_is_and_ends_as_it_stands(clock: Clock) -> None:
    book = Book(clock)
    async with book.watch:
        assert book.changes(("up", "0"), ("lost", "1"), ("up", "2"), ("lost", "3")) == [("up", "0"), ("lost", "1")]
    assert book.kept[0] == seen("lost", "3", 1)
    assert isinstance(book.kept[1], LinkHealth)


async def test_a_return_is_not_held_for_another_reason_of_the_loss_before(clock: Clock) -> None:
    book = Book(clock)
    async with book.watch:
        assert book.changes(("lost", "0"), ("lost", "3"), ("up", "6")) == [("lost", "0")]
        await until(lambda: bool(book.kept))
        assert (book.kept, clock.slept) == ([seen("up", "6")], [])


async def test_what_goes_before_something_else_is_given_once(clock: Clock) -> None:
    book = Book(clock)
    async with book.watch:
        book.changes(("up", "0"), ("lost", "1"), ("up", "2"))
        assert book.watch.before_else() == [seen("up", "2")]
        assert book.watch.before_else() == []
        more = [("lost", "3"), ("up", "4")]
        assert book.changes(*more) == more  # something was recorded since, which they may end


LANE = Binding("W1", "W1", "A1", "line-basic", "one")
STEPS = st.lists(st.tuples(st.sampled_from(["change", "reading", "display"]), st.integers(1, 60)), max_size=25)


class Folded:
    """What the events of a job amount to, as far as links have a say in it."""

    def __init__(self) -> None:
        self.intake = Intake()
        self.intake.bind([LANE])
        self.health = Health([LANE], self.intake.missing)

    def take(self, body: Happened) -> None:
        self.intake.take(body)
        self.health.take(body, ())

    def proof(self) -> tuple[str | None, tuple[int, ...]]:
        """The unit that was read last and still stands, and the readings that wait for the next."""
        display = self.intake.display("W1")
        return display.unit, tuple(display.between)

    def amounts_to(self) -> tuple[object, ...]:
        pulls = [item for item in self.intake.inputs if isinstance(item, Pull)]
        (link,) = self.health.views()
        return pulls, dict(self.intake.proven), self.proof(), link.losses, link.state, link.since, link.why


@given(STEPS)
def test_proofs_and_counts_are_as_if_each_change_had_been_told(steps: list[tuple[str, int]]) -> None:
    each, folded, state, t = Folded(), Folded(), "lost", Decimal(0)
    watch = LinkWatch("W1", lambda: t, never)
    for n, (what, tenths) in enumerate(steps):
        t += Decimal(tenths) / 10
        body: Happened
        if what == "change":
            state = "up" if state == "lost" else "lost"
            body = seen(state, str(t))
            told = watch.changed(body)
            if told is not None:
                folded.take(told)
        else:
            display = Said(t, "display", about="ft·lb", lane="W1")
            body = ReadingTaken(n, "W1", t, "", "44", None) if what == "reading" else display
            for held in watch.before_else():
                folded.take(held)
            folded.take(body)
        each.take(body)
        assert folded.proof() == each.proof()  # at every moment, also while something is held
        if what != "change":
            assert folded.amounts_to() == each.amounts_to()
    for held in watch.before_else():
        folded.take(held)
    assert folded.amounts_to() == each.amounts_to()


async def never(_: Body) -> bool:
    raise AssertionError("it was not entered")


# --- through the bench


async def ready(path: Path) -> Bench:
    bench = await Bench.open(path, mode="work", program="0.1.0")
    wrench = ("A1", "large", "ft·lb", "8 ft·lb", "75 ft·lb", "line-basic", "K-1", "2026-01-01", "2999-01-01")
    second = ("A2", "small", "in·lb", "8 in·lb", "75 in·lb", "line-basic", "K-2", "2026-01-01", "2999-01-01")
    added: list[Body] = [PersonAdded("Orla Venn", ("fitter",)), WrenchAdded(*wrench), WrenchAdded(*second)]
    await bench.submit(*(Command(f"{n}", body) for n, body in enumerate(added)))
    bound = (LANE, Binding("W2", "W2", "A2", "line-basic", "two"))
    await start_job(bench, expand(find("practice-cover")), "Pump P-2", ["Orla Venn"], bound)
    return bench


class Opened(SimLink):
    """Says when it was opened, and again."""

    def __init__(self, name: str) -> None:
        super().__init__(name)
        self.times = 0

    async def open(self) -> None:
        await super().open()
        self.times += 1


async def until(true: Callable[[], bool]) -> None:
    async with asyncio.timeout(LIMIT_S):
        while not true():
            await asyncio.sleep(0)


async def wobbled(bench: Bench, link: Opened, times: int) -> None:
    """Lost and back, so often; each return has been taken in."""
    for _ in range(times):
        opened = link.times
        link.lose()
        await until(lambda opened=opened: link.times > opened)  # type: ignore[misc]  # bound for the loop's sake
        for _ in range(5):
            await asyncio.sleep(0)
    await bench.submit()


def told(path: Path) -> list[tuple[str, int] | str]:
    """Changes of the link, and what else is of it, in the order of the record."""
    found: list[tuple[str, int] | str] = []
    with Reader.open(path) as reader:
        for stored in reader.events():
            match stored.event.body:
                case LinkSeen() as body:
                    found.append((body.state, body.losses))
                case ReadingTaken():
                    found.append("reading")
                case Said(word=word):
                    found.append(word)
    return found


async def test_a_reading_and_a_read_back_stand_behind_what_was_held(tmp_path: Path) -> None:
    path = tmp_path / "bench.trail"
    bench, link = await ready(path), Opened("one")
    task = asyncio.create_task(listen(bench, "W1", link, builtin_profile("line-basic"), "A1", waits=FAST))
    await until(lambda: bench.view.lanes[0].state == "up")
    await wobbled(bench, link, 3)
    link.send(b"A1,1,20.1,,CW\r\n")
    await until(lambda: bench.view.last is not None)
    await wobbled(bench, link, 2)
    await bench.submit(Command("display", Said(bench.now(), "display", about="ft·lb", lane="W1"), "Orla Venn"))
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    await bench.close()
    first: list[tuple[str, int] | str] = [("up", 0), ("lost", 0), ("up", 2), "reading"]
    assert told(path) == [*first, ("lost", 0), ("up", 0), ("lost", 0), ("up", 0), "display"]
