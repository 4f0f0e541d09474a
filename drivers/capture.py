"""The capture file: recorded or simulated traffic of wrenches and what people said, one JSON object a line.

Reading is strict: an unknown key, word or lane, a key twice, a number that is none or a time that runs backwards
is a `CaptureError` naming its line. Times are exact decimals.
"""

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal

from drivers.errors import CaptureError
from drivers.reading import LinkState

LONGEST_FILE = 64 * 1024 * 1024  # bytes
LONGEST_LINE = 1024 * 1024  # far over the 64 KiB without a line end that a framer must stand
_VERSION = 1
_LATEST = Decimal(10) ** 12  # seconds
_HEX = re.compile(r"(?:[0-9A-Fa-f]{2})*")
_PLAIN = re.compile(rb"[ -~]*\r?\n?")
# Words of a person that stand alone with a step, a place or a wrench; `stray` and `redo` may also stand as true.
WORDS = ("step", "stray", "redo", "loosened", "replaced", "moved", "still", "done", "value", "dropped", "display")
_MAY_BE_TRUE = frozenset({"stray", "redo"})


@dataclass(frozen=True, slots=True)
class CaptureWrench:
    """A lane of the capture; `role` where the lane is a further instrument in a role of that name."""

    profile: str
    serial: str
    role: str | None = None
    on: tuple[str, ...] = ()  # assemblies that it was said to work on


@dataclass(frozen=True, slots=True)
class Bytes:
    """Bytes that arrived on a lane."""

    t: Decimal
    lane: str
    data: bytes


@dataclass(frozen=True, slots=True)
class LinkEntry:
    """The link of a lane went up or was lost."""

    t: Decimal
    lane: str
    state: LinkState


@dataclass(frozen=True, slots=True)
class MemoryEntry:
    """Begin or end of a memory download on a lane."""

    t: Decimal
    lane: str
    state: str  # begin | end
    newest_first: bool = False


@dataclass(frozen=True, slots=True)
class PersonEntry:
    """What a person said: one of `WORDS`, about a step, a place, a wrench or (`display`) a unit token."""

    t: Decimal
    word: str
    about: str | None = None
    value: str | None = None  # of `value`, as written: "0.18 mm"
    lane: str | None = None
    person: str = "says"


Entry = Bytes | LinkEntry | MemoryEntry | PersonEntry


@dataclass(frozen=True, slots=True)
class Capture:
    """A capture: its lanes by name, and its entries, read as they are asked for (once)."""

    wrenches: Mapping[str, CaptureWrench]
    note: str
    entries: Iterator[Entry]


def parse_capture(lines: Iterable[str]) -> Capture:
    """The capture in these lines. Raises `CaptureError`, for the header at once, for an entry when it is reached."""
    numbered = _numbered(lines)
    number, text = next(numbered, (1, ""))
    if not text:
        raise CaptureError(number, "link.capture-empty")
    wrenches, note = _header(_Line(number, text))
    return Capture(wrenches, note, _entries(numbered, wrenches))


def encode_capture(capture: Capture) -> Iterator[str]:
    """The lines of a capture file without line ends; a recorder writes each as it comes."""
    yield encode_header(capture.wrenches, capture.note)
    for entry in capture.entries:
        yield encode_entry(entry)


def encode_header(wrenches: Mapping[str, CaptureWrench], note: str = "") -> str:
    """The first line of a capture file."""
    lanes: dict[str, dict[str, str | tuple[str, ...]]] = {}
    for lane, wrench in wrenches.items():
        lanes[lane] = {"profile": wrench.profile, "serial": wrench.serial}
        if wrench.role is not None:
            lanes[lane]["role"] = wrench.role
        if wrench.on:
            lanes[lane]["on"] = wrench.on
    return json.dumps({"capture": _VERSION, "wrenches": lanes, "note": note}, ensure_ascii=False)


def encode_entry(entry: Entry) -> str:
    """One line of a capture file; `parse_capture` gives the same entry back."""
    keys: dict[str, object] = {}
    match entry:
        case Bytes(_, lane, data):
            keys["wrench"] = lane
            plain = _PLAIN.fullmatch(data) is not None
            keys["text" if plain else "hex"] = data.decode("ascii") if plain else data.hex()
        case LinkEntry(_, lane, state):
            keys |= {"wrench": lane, "link": state.value}
        case MemoryEntry(_, lane, state, newest_first):
            keys |= {"wrench": lane, "memory": state, "newest_first": newest_first}
        case PersonEntry(_, word, about, value, lane, person):
            keys["person"] = person
            if word == "value":
                keys |= {"value": value, "step": about}
            else:
                keys[word] = True if about is None else about
            if lane is not None:
                keys["wrench"] = lane
    # A time is written digit by digit: as a float it would not come back the same.
    return f'{{"t": {entry.t:f}, {json.dumps(keys, ensure_ascii=False)[1:]}'


def _numbered(lines: Iterable[str]) -> Iterator[tuple[int, str]]:
    total = 0
    for number, line in enumerate(lines, 1):
        text = line.strip(" \t\r\n")
        total += len(line)
        if len(line) > LONGEST_LINE:
            raise CaptureError(number, "link.capture-line-long", str(LONGEST_LINE))
        if total > LONGEST_FILE:
            raise CaptureError(number, "link.capture-long", str(LONGEST_FILE))
        if text:
            yield number, text


def _entries(numbered: Iterator[tuple[int, str]], wrenches: Mapping[str, CaptureWrench]) -> Iterator[Entry]:
    latest = Decimal(0)
    for number, text in numbered:
        line = _Line(number, text)
        t = line.time("t")
        if t < latest:
            raise CaptureError(number, "link.capture-backwards", str(t), str(latest))
        latest = t
        entry = _person(line, t, wrenches) if "person" in line else _traffic(line, t, wrenches)
        line.finish()
        yield entry


def _traffic(line: "_Line", t: Decimal, wrenches: Mapping[str, CaptureWrench]) -> Entry:
    lane = line.lane("wrench", wrenches)
    found = [key for key in ("text", "hex", "link", "memory") if key in line]
    if len(found) != 1:
        raise CaptureError(line.number, "link.capture-one-of", "text, hex, link, memory", ", ".join(found) or "none")
    match found[0]:
        case "text":
            return Bytes(t, lane, line.text("text", empty=True).encode())
        case "hex":
            text = line.text("hex", empty=True)
            if _HEX.fullmatch(text) is None:
                raise CaptureError(line.number, "link.capture-value", "hex", repr(text), "pairs of hex digits")
            return Bytes(t, lane, bytes.fromhex(text))
        case "link":
            return LinkEntry(t, lane, LinkState(line.one_of("link", [state.value for state in LinkState])))
    return MemoryEntry(t, lane, line.one_of("memory", ["begin", "end"]), line.flag("newest_first"))


def _person(line: "_Line", t: Decimal, wrenches: Mapping[str, CaptureWrench]) -> PersonEntry:
    person = line.text("person")
    found = [word for word in WORDS if word in line]
    if found == ["step", "value"]:
        return PersonEntry(t, "value", line.text("step"), line.text("value"), None, person)
    if len(found) != 1 or found == ["value"]:
        names = ", ".join(found) or "none"
        raise CaptureError(line.number, "link.capture-one-of", ", ".join((*WORDS[:8], *WORDS[9:], "value+step")), names)
    word = found[0]
    if word == "dropped":
        return PersonEntry(t, word, line.lane(word, wrenches), None, None, person)
    lane = line.lane("wrench", wrenches) if word == "display" or "wrench" in line else None
    about = None if word in _MAY_BE_TRUE and line.is_true(word) else line.text(word)
    return PersonEntry(t, word, about, None, lane, person)


def _header(line: "_Line") -> tuple[dict[str, CaptureWrench], str]:
    if "capture" not in line:
        raise CaptureError(line.number, "link.capture-no-header")
    version = line.get("capture")
    if version != _VERSION or isinstance(version, bool):
        raise CaptureError(line.number, "link.capture-value", "capture", repr(version), str(_VERSION))
    lanes = line.part("wrenches")
    wrenches = {}
    for lane in lanes:
        if not lane.strip() or not lane.isprintable():
            raise CaptureError(line.number, "link.capture-value", "wrenches", repr(lane), "the name of a lane")
        part = lanes.part(lane)
        role = part.text("role") if "role" in part else None
        on = part.texts("on") if "on" in part else ()
        wrenches[lane] = CaptureWrench(part.text("profile"), part.text("serial"), role, on)
        part.finish()
    if not wrenches:
        raise CaptureError(line.number, "link.capture-value", "wrenches", "{}", "at least one wrench")
    note = line.text("note", empty=True) if "note" in line else ""
    line.finish()
    return wrenches, note


class _Line:
    """The JSON object of one line, which must hold nothing but what is asked of it."""

    def __init__(self, number: int, source: str | dict[str, object]) -> None:
        self.number = number
        self._data = source if isinstance(source, dict) else self._load(source)
        self._asked: set[str] = set()

    def __contains__(self, key: str) -> bool:
        return key in self._data

    def __iter__(self) -> Iterator[str]:
        self._asked.update(self._data)
        return iter(self._data)

    def finish(self) -> None:
        for key in self._data:
            if key not in self._asked:
                raise CaptureError(self.number, "link.capture-key", key)

    def get(self, key: str) -> object:
        self._asked.add(key)
        if key not in self._data:
            raise CaptureError(self.number, "link.capture-missing", key)
        return self._data[key]

    def text(self, key: str, *, empty: bool = False) -> str:
        text = self.get(key)
        if not isinstance(text, str) or not (text or empty):
            raise self._wrong(key, "a text")
        try:
            text.encode()
        except UnicodeEncodeError as error:
            raise self._wrong(key, "a text without half characters") from error
        return text

    def texts(self, key: str) -> tuple[str, ...]:
        found = self.get(key)
        if not isinstance(found, list) or not found or not all(isinstance(text, str) and text for text in found):
            raise self._wrong(key, "a list with at least one text")
        return tuple(found)

    def one_of(self, key: str, options: list[str]) -> str:
        text = self.get(key)
        if not isinstance(text, str) or text not in options:
            raise self._wrong(key, " or ".join(options))
        return text

    def lane(self, key: str, wrenches: Mapping[str, CaptureWrench]) -> str:
        return self.one_of(key, list(wrenches))

    def flag(self, key: str) -> bool:
        if key not in self._data:
            return False
        flag = self.get(key)
        if not isinstance(flag, bool):
            raise self._wrong(key, "true or false")
        return flag

    def is_true(self, key: str) -> bool:
        return self.get(key) is True

    def time(self, key: str) -> Decimal:
        number = self.get(key)
        if isinstance(number, int) and not isinstance(number, bool):
            number = Decimal(number)
        if not isinstance(number, Decimal) or not (number.is_finite() and 0 <= number < _LATEST):
            raise self._wrong(key, "seconds, not negative")
        _, digits, exponent = number.as_tuple()
        if not isinstance(exponent, int) or exponent < -9 or len(digits) > 21:
            raise self._wrong(key, "seconds with at most 9 decimals")
        return Decimal(f"{abs(number):f}")

    def part(self, key: str) -> "_Line":
        part = self.get(key)
        if not isinstance(part, dict):
            raise self._wrong(key, "an object")
        return _Line(self.number, part)

    def _wrong(self, key: str, expected: str) -> CaptureError:
        return CaptureError(self.number, "link.capture-value", key, repr(self._data[key])[:200], expected)

    def _load(self, text: str) -> dict[str, object]:
        try:
            data = json.loads(
                text, object_pairs_hook=self._object, parse_float=Decimal, parse_constant=self._refuse_constant
            )
        except (ValueError, ArithmeticError, RecursionError) as error:
            raise CaptureError(self.number, "link.capture-json", str(error)) from error
        if not isinstance(data, dict):
            raise CaptureError(self.number, "link.capture-json", "not an object")
        return data

    def _object(self, pairs: list[tuple[str, object]]) -> dict[str, object]:
        data = dict(pairs)
        if len(data) < len(pairs):
            keys = [key for key, _ in pairs]
            twice = next(key for key in keys if keys.count(key) > 1)
            raise CaptureError(self.number, "link.capture-twice", twice)
        return data

    def _refuse_constant(self, name: str) -> object:
        raise CaptureError(self.number, "link.capture-constant", name)
