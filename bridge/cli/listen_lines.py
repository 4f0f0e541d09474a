"""What is heard of a port as lines: for people with text and hex side by side, for programs as JSON."""

import json
from collections.abc import Iterator
from decimal import Decimal

from bridge import words
from bridge.cli.listen_hearing import Hearing, LinkTold, Read, Silence, Told
from drivers.reading import LinkState, MemoryEdge, Message, Rejected
from drivers.stretches import Stretch

ROW = 16  # bytes side by side
ROUND_S = 10  # a silence so long is told in whole seconds
_BLANK = " " * 12


def shown_text(data: bytes) -> str:
    """One sign a byte: ASCII as it is, a control byte as its picture (␍), others as a dot; none moves a cursor."""
    return "".join(_sign(byte) for byte in data)


def people_lines(told: Told) -> Iterator[str]:
    """The lines for people of one thing told."""
    match told:
        case Stretch(t, data):
            for place in range(0, len(data), ROW):
                row = data[place : place + ROW]
                time = _time(t) if place == 0 else _BLANK
                yield f"{time}{shown_text(row):<{ROW}}  {row.hex(' ')}"
        case Read(_, Message() as message):
            yield _BLANK + words.say("listen.reading", _reading(message))
        case Read(_, Rejected() as rejected):
            yield _BLANK + words.say("listen.rejected", words.say(rejected.why, *rejected.args))
        case Read(_, MemoryEdge(state, _, _, why, args)):
            if why:
                yield _BLANK + words.say("listen.memory-end-not", words.say(why, *args))
            else:
                yield _BLANK + words.say(f"listen.memory-{state}")
        case LinkTold(t, change):
            if change.state is LinkState.UP:
                yield _time(t) + words.say("listen.link-up")
            else:
                yield _time(t) + words.say("listen.link-lost", words.say(change.why, *change.args))
        case Silence(t, seconds, link):
            yield _time(t) + words.say(
                f"listen.silence-{_state(link)}", f"{seconds:.{0 if seconds >= ROUND_S else 1}f}"
            )


def json_line(told: Told) -> str:
    """The line for programs of one thing told."""
    keys: dict[str, object] = {"t": float(told.t)}
    match told:
        case Stretch(_, data, ended):
            keys |= {"text": shown_text(data), "hex": data.hex(), "ended": ended.value}
        case Read(_, Message() as message):
            keys["reading"] = {
                "value": message.value,
                "unit": message.unit,
                "serial": message.serial,
                "counter": message.counter,
                "direction": message.direction,
                "angle": message.angle,
                "live": message.live,
                "memory": message.memory,
                "time": message.time,
                "flags": list(message.flags),
                "raw": message.raw.hex(),
            }
        case Read(_, Rejected() as rejected):
            why = words.say(rejected.why, *rejected.args)
            keys |= {"rejected": why, "code": rejected.why, "raw": rejected.raw.hex()}
        case Read(_, MemoryEdge(state, _, _, why, args)):
            keys |= {"memory": state, "why": words.say(why, *args) if why else None}
        case LinkTold(_, change):
            lost = change.state is LinkState.LOST
            keys |= {"link": change.state.value, "why": words.say(change.why, *change.args) if lost else None}
        case Silence(_, seconds, link):
            keys |= {"silent_s": float(seconds), "link": _state(link)}
    return json.dumps(keys, ensure_ascii=False)


def end_line(hearing: Hearing, record: str | None, t: Decimal) -> str:
    """The last line for programs."""
    counts = {"bytes": hearing.bytes, "lines": hearing.lines}
    read = {"readings": hearing.readings, "rejected": hearing.rejected}
    return json.dumps({"t": float(t), "end": {**counts, **read, "record": record}}, ensure_ascii=False)


def _sign(byte: int) -> str:
    if byte < 0x20:
        return chr(0x2400 + byte)
    if byte == 0x7F:
        return "␡"
    return chr(byte) if byte < 0x7F else "·"


def _time(t: Decimal) -> str:
    return f"{t:10.3f}  "


def _state(link: LinkState | None) -> str:
    return "opening" if link is None else link.value


def _reading(message: Message) -> str:
    parts = [words.say("listen.value", message.value, message.unit or words.say("listen.no-unit"))]
    if message.direction is not None:
        parts.append(message.direction)
    if message.angle is not None:
        parts.append(words.say("listen.angle", message.angle))
    if message.counter is not None:
        parts.append(words.say("listen.counter", str(message.counter)))
    if message.serial is not None:
        parts.append(words.say("listen.serial", message.serial))
    if message.time is not None:
        parts.append(words.say("listen.time", message.time))
    if message.memory:
        parts.append(words.say("listen.memory"))
    if message.live:
        parts.append(words.say("listen.live"))
    return ", ".join([*parts, *message.flags])
