"""Recorded events as one line each, for a terminal that only prints, and as JSON lines for another program."""

import json
from collections.abc import Iterable

from bridge import words
from bridge.core.codec import to_plain
from bridge.core.events import (
    Assigned,
    BytesRejected,
    Disposed,
    JobResumed,
    JobSigned,
    JobStarted,
    LinkSeen,
    MemoryMarked,
    ReadingTaken,
    Said,
    StorageFaulted,
    Stored,
    WrenchQuarantined,
)
from bridge.core.events_links import LinkHealth
from bridge.core.events_sheet import SheetRevised
from bridge.core.health import LOW_PERCENT, stretches_of
from bridge.core.looking import not_received
from bridge.core.view import LaneView

MANY_REJECTS = 2  # in a row, which come ten seconds apart: the profile is not this wrench's, or the port's speed is not


class EventLines:
    """Turns events into lines as they come; remembers the value of each reading until it is assigned."""

    def __init__(self, prefix: str = "") -> None:
        self._prefix = prefix
        self._values: dict[int, tuple[str, str]] = {}
        self._rejected = 0
        self._downloads: dict[str, int] = {}  # lanes that send their memory, and how many readings came
        self._late: set[int] = set()
        self._missing: dict[str, int] = {}
        self._stretches = 0
        self._batteries: dict[str, int | None] = {}

    def lines(self, stored: Stored) -> list[str]:
        """The lines for one event, none where it says nothing to a person at the bench."""
        return [self._prefix + line for line in self._worded(stored)]

    def _worded(self, stored: Stored) -> list[str]:
        person = stored.event.person or ""
        match stored.event.body:
            case ReadingTaken() as body:
                self._rejected = self._stretches = 0
                if body.lane in self._downloads:
                    self._downloads[body.lane] += 1
                    self._late.add(body.n)
                self._values[body.n] = (body.value, body.unit or words.say("capture.no-unit"))
            case Assigned() as body:
                return [self._assigned(body)]
            case BytesRejected() as body:
                return self._reject(body)
            case LinkHealth() as body:
                self._stretches += body.unread
                return self._health(body)
            case JobStarted() as body:
                return [words.say("capture.event-started", body.asset, ", ".join(body.people))]
            case JobResumed() as body:
                return [words.say("capture.event-resumed", person, str(body.gap_s))]
            case SheetRevised() as body:
                return [words.say("capture.event-revised", person, body.reason)]
            case LinkSeen() as body:
                code = "capture.link-up" if body.state == "up" else "capture.link-lost"
                said = words.say(body.reason.code, *body.reason.args) if body.state != "up" and body.reason.code else ""
                more = words.say("capture.link-wobbled", str(body.losses)) if body.losses else ""
                return [" ".join(filter(None, (f"{body.lane}: {words.say(code)}.", more, said)))]
            case MemoryMarked() as body:
                return [self._memory(body)]
            case Said() as body:
                about = body.about or (f"reading {body.reading}" if body.reading is not None else "")
                return [words.say("capture.event-said", person, body.word, f"{about} {body.value or ''}".strip())]
            case Disposed() as body:
                return [words.say("capture.event-disposed", person, body.choice, body.step, body.reason)]
            case JobSigned() as body:
                return [words.say("capture.event-signed", person, body.meaning)]
            case WrenchQuarantined() as body:
                return [words.say("capture.event-quarantined", body.serial)]
            case StorageFaulted() as body:
                return [words.say("capture.event-storage", words.say(body.reason.code, *body.reason.args))]
        return []

    def _assigned(self, body: Assigned) -> str:
        number, token = self._values.get(body.n, ("", ""))
        value = f"{number} {body.unit or token}"
        where = body.step or words.say("capture.no-step")
        line = words.say("capture.last", str(body.n), value, body.assignment, where, body.verdict)
        if body.n in self._late:
            line += f"  {words.say('capture.from-memory')}"
        if body.replaces is not None:
            line += f"  {words.say('capture.replaces')}"
        if body.assignment == "asked":
            line += (
                f"  {words.say('capture.asks', body.step or '–', body.runner_up or words.say('capture.answer-stray'))}"
            )
        return line

    def missing(self, lanes: Iterable[LaneView]) -> list[str]:
        """What is not received on a lane, where that is news."""
        found = []
        for lane in lanes:
            before, self._missing[lane.lane] = self._missing.get(lane.lane, 0), lane.missing
            reason = not_received(lane.lane, lane.missing, lane.perhaps, lane.heard_to)
            if reason is not None and lane.missing != before:
                found.append(self._prefix + words.say(reason.code, *reason.args))
        return found

    def _memory(self, body: MemoryMarked) -> str:
        reason = "" if body.reason is None else words.say(body.reason.code, *body.reason.args)
        if body.state == "begin":
            self._downloads[body.lane] = 0
            return words.say("capture.event-memory", body.lane)
        count = self._downloads.pop(body.lane, None)
        if count is None or reason:
            return words.say("capture.event-memory-not", body.lane, reason).rstrip()
        return words.say("capture.event-memory-whole", body.lane, str(count))

    def _reject(self, body: BytesRejected) -> list[str]:
        self._rejected += 1
        self._stretches += stretches_of(body)
        reason = words.say(body.reason.code, *body.reason.args)
        found = [words.say("capture.event-rejected", str(body.n), body.lane, reason)]
        if self._rejected == MANY_REJECTS:
            found.append(words.say("capture.wrong-profile", body.lane, str(self._stretches)))
        return found

    def _health(self, body: LinkHealth) -> list[str]:
        found = []
        if body.unread_bytes:
            found.append(words.say("health.event-unread", body.lane, str(body.unread), str(body.unread_bytes)))
        low = body.battery is not None and body.battery < LOW_PERCENT
        if low and self._batteries.get(body.lane) != body.battery:
            found.append(words.say("health.event-battery", body.lane, str(body.battery)))
        self._batteries[body.lane] = body.battery
        return found


def json_line(stored: Stored) -> str:
    """One event as a line of JSON: seq, time, kind, who, and its body."""
    event = stored.event
    plain = {
        "seq": stored.seq,
        "utc": stored.utc,
        "kind": event.kind,
        "person": event.person,
        "wrench": event.wrench,
        "job": event.job,
        "body": to_plain(event.body),
    }
    return json.dumps(plain, ensure_ascii=False)
