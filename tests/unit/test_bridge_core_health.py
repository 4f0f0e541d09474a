"""How links do, folded from events: states, counts, battery, overload; the same live and from a trail."""

from decimal import Decimal
from typing import Any

import pytest

from bridge.core.events import (
    Binding,
    Body,
    BytesRejected,
    Event,
    JobResumed,
    LinkSeen,
    MemoryMarked,
    ReadingTaken,
    Reason,
    Said,
    Stored,
    WrenchChecked,
    WrenchQuarantined,
)
from bridge.core.events_links import LinkHealth, WrenchProven
from bridge.core.health import Health, LinkHealthView, of_bench, stretches_of
from bridge.core.missing import Missing
from bridge.core.registry import Registry

WHY = Reason("link.gone", ("port",))


def at(t: int) -> Decimal:
    return Decimal(t)


def up(t: int, lane: str = "W1") -> LinkSeen:
    return LinkSeen(lane, at(t), "up", Reason("link.up"))


def lost(t: int) -> LinkSeen:
    return LinkSeen("W1", at(t), "lost", WHY)


def health(t: int, **more: Any) -> LinkHealth:
    told = {"listening": True, "heard": None, "battery": None, "unread": 0, "unread_bytes": 0, **more}
    return LinkHealth("W1", at(t), **told)


def reading(n: int, *flags: str, counter: int | None = None) -> ReadingTaken:
    return ReadingTaken(n, "W1", at(n), "00", "27", "ft.lb", counter=counter, flags=flags)


def seen(*bodies: Body, repeats: tuple[int, ...] = ()) -> LinkHealthView:
    """The first of two lanes behind these events."""
    missing = Missing()
    fold = Health([Binding("W1", "W1", "A1", "p", "l"), Binding("W2", "W2", "A2", "p", "m")], missing)
    for body in bodies:
        if isinstance(body, ReadingTaken):
            missing.live(body)
        fold.take(body, repeats)
    first, second = fold.views()
    assert second == Health([Binding("W2", "W2", "A2", "p", "m")], Missing()).views()[0]  # nothing crosses over
    return first


@pytest.mark.parametrize(
    ("bodies", "state", "since", "losses"),
    [
        ((), "not yet heard", None, 0),
        ((up(1),), "up", 1, 0),
        ((up(1), lost(5)), "waiting", 5, 1),
        ((up(1), lost(5), LinkSeen("W1", at(9), "lost", Reason("link.missing", ("port",)))), "waiting", 5, 1),
        ((up(1), lost(5), up(7)), "up", 7, 1),
        ((up(1), lost(5), health(8, listening=False)), "lost", 5, 1),
        ((up(1), health(8, listening=False)), "ended", 8, 0),
        ((up(1), health(8)), "up", 1, 0),
        ((up(1), health(8, listening=False), up(20)), "up", 20, 0),
    ],
)
def test_states(bodies: tuple[Body, ...], state: str, since: int | None, losses: int) -> None:
    found = seen(*bodies)
    assert (found.state, found.since, found.losses) == (state, None if since is None else at(since), losses)


def test_why_is_that_of_the_loss_that_lasts() -> None:
    assert seen(up(1), lost(5)).why == WHY
    assert seen(up(1), lost(5), up(7)).why is None


def test_bytes_that_were_not_understood_are_counted_once_each() -> None:
    found = seen(
        BytesRejected(1, "W1", at(1), "ffff", Reason("link.checksum", ("0", "1"))),
        health(3, unread=4, unread_bytes=40, heard=at(3)),
        BytesRejected(2, "W1", at(12), "ff", Reason("bench.noise", ("3", "link.checksum"))),  # of an older trail
    )
    assert (found.unread, found.unread_bytes, found.heard) == (1 + 4 + 3, 2 + 40 + 1, at(12))
    assert stretches_of(BytesRejected(1, "W1", at(1), "ff", WHY)) == 1


def test_what_was_heard_last_never_goes_back() -> None:
    assert seen(reading(9), health(10, heard=at(4))).heard == at(9)
    assert seen(reading(9), health(20, heard=at(15))).heard == at(15)


@pytest.mark.parametrize(
    ("bodies", "battery", "low"),
    [
        ((health(1, battery=87),), 87, False),
        ((health(1, battery=87), health(2)), 87, False),
        ((health(1, battery=19),), 19, True),
        ((health(1, battery=20),), 20, False),
        ((reading(1, "low battery"),), None, True),
        ((reading(1, "low battery"), reading(2)), None, False),
    ],
)
def test_battery(bodies: tuple[Body, ...], battery: int | None, low: bool) -> None:
    found = seen(*bodies)
    assert (found.battery, found.low_battery) == (battery, low)


def test_an_overload_sets_aside_until_a_check() -> None:
    overload = reading(2, "overload")
    assert seen(reading(1)).set_aside is None
    assert seen(overload, reading(3)).set_aside == Reason("bench.overloaded", ("27",))
    assert seen(overload, WrenchChecked("A1", "")).set_aside is None
    assert seen(overload, Said(at(3), "checked", "W1")).set_aside is None
    assert seen(overload, Said(at(3), "checked", "W9"), WrenchChecked("A9", "")).set_aside is not None
    assert seen(overload, repeats=(2,)).set_aside is None
    assert seen(Said(at(3), "dropped", "A1")).set_aside == Reason("bench.dropped")
    assert seen(WrenchQuarantined("A1", WHY)).set_aside == WHY
    block = (MemoryMarked("W1", at(1), "begin"), overload, MemoryMarked("W1", at(3), "end"))
    assert seen(*block[:2]).set_aside is None
    assert seen(*block).set_aside is not None
    assert seen(*block, repeats=(2,)).set_aside is None
    assert seen(*block[:2], JobResumed(at(9), (), 5)).set_aside is not None


def codes(view: LinkHealthView) -> list[str]:
    return [need.code for need in view.needs]


def test_what_needs_somebody() -> None:
    assert codes(seen(up(1), reading(2, counter=1), reading(3, counter=2))) == []
    assert codes(seen(up(1), reading(2, counter=1), reading(3, counter=4))) == ["health.need-missing"]
    assert codes(seen(up(1), reading(2, counter=254), reading(3, counter=1))) == ["health.need-perhaps"]
    assert codes(seen(up(1), lost(2))) == ["health.need-link"]
    assert codes(seen(up(1), lost(2), health(9, listening=False))) == []  # the job is over; its audit speaks of it
    assert codes(seen(reading(1, "overload"), up(2), lost(3))) == ["health.need-check", "health.need-link"]


def test_the_bench_adds_what_it_knows_of_the_wrench() -> None:
    why = Reason("bench.said", ("out of tolerance",))
    registry = Registry()
    zero = WrenchProven("A1", "port", "zero", "display", "not proven", "proving.zero-off", ("0.4",))
    known: tuple[Body, ...] = (WrenchQuarantined("A1", why), zero)
    for seq, body in enumerate(known, start=1):
        registry = registry.fold(Stored(seq, "", "2031-05-06T07:08:09Z", "0", "", Event(body, "Orla Venn"), ""))
    (found,) = of_bench([seen(up(1))], registry)
    assert (found.set_aside, found.zero, found.zero_utc) == (why, zero, "2031-05-06T07:08:09Z")
    assert codes(found) == ["health.need-check", "health.need-zero"]
    assert codes(of_bench([seen(up(1))], Registry())[0]) == []
