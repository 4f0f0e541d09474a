"""How the links of a job do: a fold over its events, the same live, after a restart and from a trail.

States of a link:

| state         | how it is reached                                                     |
|---------------|-----------------------------------------------------------------------|
| not yet heard | nothing was told of it in this job                                    |
| up            | it went up                                                            |
| waiting       | it was lost and is tried again                                        |
| lost          | it was lost, and nobody listens any more                              |
| ended         | it was up when the listening ended                                    |
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from decimal import Decimal

from bridge.core.events import (
    Binding,
    Body,
    BytesRejected,
    JobResumed,
    LinkSeen,
    MemoryMarked,
    ReadingTaken,
    Reason,
    Said,
    WrenchChecked,
    WrenchQuarantined,
)
from bridge.core.events_links import LinkHealth, WrenchProven
from bridge.core.missing import Missing
from bridge.core.registry import Registry

LOW_PERCENT = 20  # below, a battery is to be changed before work
OVERLOAD, LOW_BATTERY = "overload", "low battery"  # flags of a message


@dataclass(frozen=True, slots=True)
class LinkHealthView:
    """One lane's link as it stands. Times in seconds of the job."""

    lane: str
    serial: str
    state: str
    since: Decimal | None
    why: Reason | None  # of the last loss while it is lost
    heard: Decimal | None  # when anything last came
    losses: int
    battery: int | None  # percent, as last told
    low_battery: bool
    missing: int  # messages that never came, by the wrench's counter
    unread: int  # stretches that were not understood
    unread_bytes: int
    set_aside: Reason | None  # why the wrench is not to be used before a check
    zero: WrenchProven | None = None  # the last proof of its zero
    zero_utc: str | None = None
    perhaps: int = 0  # of the missing, so many are only possible

    @property
    def needs(self) -> tuple[Reason, ...]:
        """What somebody has to decide or do about it, the most urgent first."""
        found = []
        if self.set_aside is not None:
            found.append(Reason("health.need-check", (self.serial,)))
        if self.state == "waiting":
            found.append(Reason("health.need-link", (self.lane,)))
        if self.missing:
            code = "health.need-perhaps" if self.perhaps == self.missing else "health.need-missing"
            found.append(Reason(code, (str(self.missing),)))
        if self.zero is not None and self.zero.result == "not proven":
            found.append(Reason("health.need-zero", (self.serial,)))
        return tuple(found)


@dataclass(slots=True)
class _Lane:
    serial: str
    link: LinkSeen | None = None
    since: Decimal | None = None  # when it came to stand as it does
    ended: Decimal | None = None
    heard: Decimal | None = None
    losses: int = 0
    battery: int | None = None
    low_battery: bool = False
    unread: int = 0
    unread_bytes: int = 0
    set_aside: Reason | None = None
    block: list[ReadingTaken] | None = None  # readings of a memory download that goes on


class Health:
    """The fold. Give it every event of a job in order; `missing` is kept by the job's intake."""

    def __init__(self, bindings: Iterable[Binding], missing: Missing) -> None:
        self._missing = missing
        self._lanes = {binding.lane: _Lane(binding.serial) for binding in bindings}

    def take(self, body: Body, repeats: Collection[int]) -> None:
        """One event; `repeats` are the readings known by now to be repeats of a transmission."""
        match body:
            case WrenchQuarantined(serial, reason):
                self._set_aside(serial, reason)
            case WrenchChecked(serial):
                self._set_aside(serial, None)
            case Said(word="dropped", about=about):
                self._set_aside(about or "", Reason("bench.dropped"))
            case Said(word="checked", about=about):
                self._set_aside(about or "", None)
            case JobResumed():
                for lane in self._lanes.values():
                    _end_block(lane, repeats)
            case LinkSeen() | LinkHealth() | ReadingTaken() | BytesRejected() | MemoryMarked():
                named = self._lanes.get(body.lane)
                if named is not None:
                    _take(named, body, repeats)

    def views(self) -> tuple[LinkHealthView, ...]:
        """Every lane as it stands, in the order they were bound."""
        return tuple(_view(name, lane, self._missing) for name, lane in self._lanes.items())

    def _set_aside(self, about: str, reason: Reason | None) -> None:
        for name, lane in self._lanes.items():
            if about in (name, lane.serial):
                lane.set_aside = reason


def of_bench(views: Iterable[LinkHealthView], registry: Registry) -> tuple[LinkHealthView, ...]:
    """With what the bench knows of their wrenches: whether one is set aside by now, and the last proof of its zero."""
    found = []
    for view in views:
        zero = registry.proofs.get((view.serial, "zero"))
        found.append(
            replace(
                view,
                set_aside=registry.quarantined.get(view.serial) or view.set_aside,
                zero=None if zero is None else zero.body,
                zero_utc=None if zero is None else zero.utc,
            )
        )
    return tuple(found)


def stretches_of(body: BytesRejected) -> int:
    """How many stretches a reject stands for: in trails from before `health` one could stand for more."""
    return int(body.reason.args[0]) if body.reason.code == "bench.noise" else 1


def losses_of(before: LinkSeen | None, seen: LinkSeen) -> int:
    """How often a link was lost by what is told of it now; one that is lost already is not lost again."""
    return seen.losses or int(seen.state == "lost" and (before is None or before.state != "lost"))


def _take(
    lane: _Lane, body: LinkSeen | LinkHealth | ReadingTaken | BytesRejected | MemoryMarked, repeats: Collection[int]
) -> None:
    match body:
        case LinkSeen():
            losses = losses_of(lane.link, body)
            if losses or body.state == "up":
                lane.since = body.t
            lane.losses += losses
            lane.link, lane.ended = body, None
        case LinkHealth():
            lane.heard = max((t for t in (lane.heard, body.heard) if t is not None), default=None)
            lane.battery = body.battery if body.battery is not None else lane.battery
            lane.ended = None if body.listening else body.t
            _unread(lane, body.unread, body.unread_bytes)
        case BytesRejected():
            lane.heard = body.t
            _unread(lane, stretches_of(body), len(body.raw) // 2)
        case MemoryMarked():
            _end_block(lane, repeats)
            lane.block = [] if body.state == "begin" else None
        case ReadingTaken():
            lane.heard = body.t
            lane.low_battery = LOW_BATTERY in body.flags
            if lane.block is not None:
                lane.block.append(body)
            elif body.n not in repeats:
                _overloaded(lane, body)


def _end_block(lane: _Lane, repeats: Collection[int]) -> None:
    """Only now it is known which of its readings are repeats."""
    for reading in lane.block or ():
        if reading.n not in repeats:
            _overloaded(lane, reading)
    lane.block = None


def _overloaded(lane: _Lane, reading: ReadingTaken) -> None:
    if OVERLOAD in reading.flags:
        lane.set_aside = Reason("bench.overloaded", (reading.value,))


def _unread(lane: _Lane, stretches: int, count: int) -> None:
    lane.unread += stretches
    lane.unread_bytes += count


def _view(name: str, lane: _Lane, missing: Missing) -> LinkHealthView:
    link, ended = lane.link, lane.ended
    if link is None:
        state, since = "not yet heard", None
    elif link.state == "up":
        state, since = ("up", lane.since) if ended is None else ("ended", ended)
    else:
        state, since = ("waiting" if ended is None else "lost"), lane.since
    return LinkHealthView(
        name,
        lane.serial,
        state,
        since,
        link.reason if link is not None and link.state == "lost" else None,
        lane.heard,
        lane.losses,
        lane.battery,
        lane.low_battery or (lane.battery is not None and lane.battery < LOW_PERCENT),
        missing.count(name),
        lane.unread,
        lane.unread_bytes,
        lane.set_aside,
        perhaps=missing.perhaps(name),
    )
