"""Writes a profile as the TOML text that `parse_profile` reads: the same profile comes back, and a person can edit it.

What can be written is the tables of keys below, each with what it says in the file; a key that holds what it would
hold anyway is left out. A further key of a profile is one line here.
"""

import json
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Generic, TypeVar

from drivers.wire.memory import QUIET_S, Body, Memory
from drivers.wire.profile import (
    LONGEST,
    Begin,
    Check,
    Counted,
    Field,
    Format,
    Framing,
    Head,
    Kind,
    Number,
    Order,
    Packets,
    Place,
    Profile,
    Sign,
    Wrapped,
    Written,
)
from drivers.wire.radio import Adverts, Notified

_T = TypeVar("_T")
_BARE = re.compile(r"[A-Za-z0-9_-]+")


@dataclass(frozen=True, slots=True)
class _Key(Generic[_T]):
    """One key: where its value comes from, what it need not be written for, and what it says."""

    name: str
    of: Callable[[_T], object]
    says: str = ""
    unless: object = None


_TOP: tuple[_Key[Profile], ...] = (
    _Key("profile", lambda _: 1, "version of this format"),
    _Key("name", lambda p: p.name),
    _Key("title", lambda p: p.title),
    _Key("kind", lambda p: p.kind, "how the fields lie: delimited line, columns, binary or pattern"),
    _Key("unit", lambda p: p.unit, "every value is in this unit"),
)
_ENDS: tuple[_Key[Framing], ...] = (
    _Key("ends", lambda f: f.ends, "what ends a message; the first is the one that is written"),
    _Key("longest", lambda f: f.longest, "bytes of a message without its end", LONGEST),
)
_WRAPPED: tuple[_Key[Wrapped], ...] = (
    _Key("kind", lambda _: "start and end"),
    _Key("start", lambda f: f.start, "byte that begins a message"),
    _Key("end", lambda f: f.end, "byte that ends it"),
    _Key("escape", lambda f: f.escape, "byte that goes before one of these three within a message …"),
    _Key("flip", lambda f: f.flip or None, "… which is then sent XOR this"),
    _Key("longest", lambda f: f.longest, "bytes between start and end, as they are sent", LONGEST),
)
_COUNTED: tuple[_Key[Counted], ...] = (
    _Key("kind", lambda _: "length"),
    _Key("sync", lambda f: f.sync, "bytes that begin a message"),
    _Key("length_bytes", lambda f: f.length_bytes, "bytes of the length that follows"),
    _Key("length_order", lambda f: f.order, "which byte of the length goes first", Order.BIG),
    _Key("length_counts_checksum", lambda f: f.counts_check, "the length counts the checksum too", False),
    _Key("longest", lambda f: f.longest, "bytes of the body", LONGEST),
)
_PACKETS: tuple[_Key[Packets], ...] = (
    _Key("kind", lambda _: "packets"),
    _Key("longest", lambda f: f.longest, "bytes of a message, first bytes of its packets apart", LONGEST),
)
_HEAD: tuple[_Key[Head], ...] = (
    _Key("count_bits", lambda h: h.count_bits, "the lowest bits of each packet's first byte number it …"),
    _Key("last_bit", lambda h: h.last_bit, "… and this one is set in the last packet of a message"),
    _Key("count_from", lambda h: h.count_from, "number of the first packet", 0),
)
_LINE: tuple[_Key[Profile], ...] = (_Key("separator", lambda p: p.separator, "stands between two fields"),)
_PATTERN: tuple[_Key[Profile], ...] = (
    _Key("pattern", lambda p: p.pattern, "all of a message; its named groups are the fields"),
    _Key("write", lambda p: p.write, "what a message is written by"),
)
_NUMBER: tuple[_Key[Number], ...] = (
    _Key("point", lambda n: n.point, "decimal sign", b"."),
    _Key("blanks", lambda n: n.blanks, "may go before a number", False),
)
_BINARY: tuple[_Key[Profile], ...] = (_Key("order", lambda p: p.order, "which byte of a number goes first"),)
_FIELD: tuple[_Key[Field], ...] = (
    _Key("is", lambda f: f.name),
    _Key("empty", lambda f: f.empty, "may hold nothing", False),
    _Key("optional", lambda f: f.optional, "may be left off", False),
    _Key("format", lambda f: f.format, "how the number is written", Format.WHOLE),
    _Key("bits", lambda f: f.bits, "the number takes only the lowest of them", 0),
    _Key("form", lambda f: f.form or None, "seconds since power-up, or date and time"),
    _Key("digits", lambda f: f.digits, "it is written with at least so many", 0),
    _Key("sign", lambda f: f.sign, "plus: one may stand there; direction: plus is CW, minus CCW", Sign.NONE),
    _Key("places", lambda f: f.places, "decimal places of the number", 0),
    _Key("nothing", lambda f: f.nothing, "number that says nothing"),
    _Key("words", lambda f: f.meanings or None, "what is sent, and what it means"),
)
_CHECK: tuple[_Key[Check], ...] = (
    _Key("kind", lambda c: c.kind),
    _Key("mark", lambda c: c.mark, "sign before its hex digits; it is over all bytes before the sign", b""),
    _Key("optional", lambda c: c.optional, "a message may come without", False),
)
_TRAILING: tuple[_Key[Check], ...] = (
    _Key("kind", lambda c: c.kind),
    _Key("place", lambda c: c.place),
    _Key("written", lambda c: c.written, "hex digits or bytes"),
    _Key("order", lambda c: c.order if c.written is Written.BYTES and c.size > 1 else None, "which byte goes first"),
    _Key("from", lambda c: c.begin, "it is over all bytes from here on", Begin.BODY),
    _Key("through_end", lambda c: c.through_end, "the end byte is counted in", False),
)


_NOTIFIED: tuple[_Key[Notified], ...] = (
    _Key("values", lambda r: r.values, "characteristic that notifies the messages"),
    _Key("orders", lambda r: r.orders, "characteristic that takes orders"),
    _Key("pair", lambda r: r.pair, "pair with it first", False),
    _Key("declares", lambda r: None if r.declares is None else r.declares.hex(), "its format (0x2904), held to it"),
    _Key("service", lambda r: r.service, "service that it advertises"),
)
_ADVERTS: tuple[_Key[Adverts], ...] = (
    _Key("company", lambda r: r.company, "messages stand in its data of this company"),
    _Key("service", lambda r: r.service, "messages stand in its data of this service"),
)
_MEMORY: tuple[_Key[Memory], ...] = (
    _Key("ask", lambda m: _sent(m.ask, "after"), "asks the wrench for its memory; {after} is the last counter heard"),
    _Key("begin", lambda m: _sent(m.begin, "count"), "begins the reply; {count} is how many readings it holds"),
    _Key("end", lambda m: _sent(m.end, "count"), "ends it"),
    _Key("count_bytes", lambda m: _count_bytes(m), "bytes of {count}"),
    _Key("acknowledge", lambda m: _sent(m.acknowledge, "after"), "is sent once all of it is recorded"),
    _Key("bare", lambda m: m.bare, "what is sent to the wrench is not framed", False),
    _Key("newest_first", lambda m: m.newest_first, "the newest reading comes first", False),
    _Key("quiet_s", lambda m: m.quiet_s, "seconds without a byte that end a reply", QUIET_S),
)


def write(profile: Profile, notes: Mapping[str, str] | None = None) -> str:
    """The TOML text; `parse_profile` gives the same profile back.

    `notes` are comments of one line, by the table that they stand above: `top`, `framing`, `fields.2`, `checksum`.
    """
    return "\n".join(_lines(profile, notes or {})) + "\n"


def _lines(profile: Profile, notes: Mapping[str, str]) -> Iterator[str]:
    yield from _note(notes, "top")
    yield from _keys(_TOP, profile)
    yield ""
    yield from _note(notes, "framing")
    yield "[framing]"
    match profile.framing:
        case Framing() as ends:
            yield from _keys(_ENDS, ends)
        case Wrapped() as wrapped:
            yield from _keys(_WRAPPED, wrapped)
        case Counted() as counted:
            yield from _keys(_COUNTED, counted)
        case Packets() as packets:
            yield from _keys(_PACKETS, packets)
            if packets.head is not None:
                yield from _keys(_HEAD, packets.head)
    if profile.kind is Kind.DELIMITED_LINE:
        yield from _table("[line]", _LINE, profile)
    if profile.kind is Kind.PATTERN:
        yield from _table("[line]", _PATTERN, profile)
    if profile.kind is Kind.BINARY:
        yield from _table("[binary]", _BINARY, profile)
    elif profile.number != Number():
        yield from _table("[number]", _NUMBER, profile.number)
    wide = {Kind.COLUMNS: "width", Kind.BINARY: "bytes"}.get(profile.kind)
    width: tuple[_Key[Field], ...] = () if wide is None else (_Key(wide, lambda f: None if f.format.size else f.width),)
    for number, field in enumerate(profile.fields, 1):
        if profile.kind is Kind.PATTERN and field == Field(field.name, empty=field.empty):
            continue  # the pattern has said all of it
        yield ""
        yield from _note(notes, f"fields.{number}")
        yield "[[fields]]"
        yield from _keys((_FIELD[0], *width, *_FIELD[1:]), field)
    match profile.radio:
        case Notified() as notified:
            yield from _table("[radio]", _NOTIFIED, notified)
        case Adverts() as adverts:
            yield from _table("[radio.adverts]", _ADVERTS, adverts)
    if profile.memory is not None:
        yield from _table("[memory]", _MEMORY, profile.memory)
    if profile.check is not None:
        yield ""
        yield from _note(notes, "checksum")
        yield "[checksum]"
        yield from _keys(_CHECK if profile.check.place is Place.AFTER_MARK else _TRAILING, profile.check)


def _sent(body: Body | None, number: str) -> str | None:
    """A body as the table has it: text, or pairs of hex digits; its number by name."""
    if body is None:
        return None
    head, tail = (part.hex(" ") if body.binary else part.decode("ascii") for part in (body.head, body.tail))
    space = " " if body.binary else ""
    return f"{head}{space}{{{number}}}{space}{tail}".strip(space or None) if body.holds else head


def _count_bytes(memory: Memory) -> int | None:
    widths = [body.width for body in (memory.begin, memory.end) if body is not None and body.binary and body.holds]
    return widths[0] if widths else None


def _note(notes: Mapping[str, str], table: str) -> Iterator[str]:
    if table in notes:
        yield f"# {' '.join(notes[table].split())}"


def _table(head: str, keys: tuple[_Key[_T], ...], of: _T) -> Iterator[str]:
    yield ""
    yield head
    yield from _keys(keys, of)


def _keys(keys: tuple[_Key[_T], ...], of: _T) -> Iterator[str]:
    for key in keys:
        value = key.of(of)
        if value is not None and value != key.unless:
            says = f" # {key.says}" if key.says else ""
            yield f"{key.name} = {_value(key.name, value)}{says}"


def _value(name: str, value: object) -> str:
    match value:
        case bool():
            return "true" if value else "false"
        case int():
            return f"0x{value:02X}" if name in _IN_HEX else str(value)
        case bytes() if name == "sync":
            return "[" + ", ".join(f"0x{byte:02X}" for byte in value) + "]"
        case bytes():
            return _text(value.decode("ascii"))
        case tuple():
            return "[" + ", ".join(_value(name, item) for item in value) + "]"
        case dict():
            return "{ " + ", ".join(f"{_word(sent)} = {_text(meaning)}" for sent, meaning in value.items()) + " }"
    return _text(str(value))


_IN_HEX = frozenset({"start", "end", "escape", "flip"})


def _word(sent: str) -> str:
    return sent if _BARE.fullmatch(sent) else _text(sent)


def _text(text: str) -> str:
    # A JSON text is a TOML one, as long as nothing is sent as two halves.
    return json.dumps(text, ensure_ascii=False)
