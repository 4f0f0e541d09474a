"""Reads the table `[memory]` of a profile: bodies as text, or as pairs of hex digits where the profile is binary."""

import re
from typing import Literal

from drivers.errors import ProfileError
from drivers.wire.decode import fields_of
from drivers.wire.memory import QUIET_S, Body, Memory
from drivers.wire.profile import FieldName, Kind, Profile
from drivers.wire.table import Table, wrong

_LONGEST = 64
_QUIET_MOST_S = 60
_HEX = re.compile(r"(?:[0-9A-Fa-f]{2})*")


def read_memory(table: Table, profile: Profile) -> Memory:
    """The table of a profile that is read but for it. Raises `ProfileError`."""
    counter = profile.field(FieldName.COUNTER)
    binary = profile.kind is Kind.BINARY
    order = profile.order.ends if binary else "big"
    bare = table.flag("bare")
    after = 0 if counter is None else counter.width if binary else counter.digits
    counts = table.number("count_bytes", low=1, high=4) if binary and table.holds("count_bytes") else 0
    asks = _Bodies(table, binary, order, "after", after, bare=bare)
    marks = _Bodies(table, binary, order, "count", counts)
    memory = Memory(
        asks.body("ask"),
        bare,
        marks.body("begin"),
        marks.body("end"),
        asks.body("acknowledge"),
        table.flag("newest_first"),
        table.number("quiet_s", low=1, high=_QUIET_MOST_S) if table.holds("quiet_s") else QUIET_S,
    )
    table.finish()
    _agree(table, memory, profile)
    return memory


class _Bodies:
    """Reads the bodies of one direction, in which a number may stand as `{after}` or `{count}`."""

    def __init__(
        self,
        table: Table,
        binary: bool,
        order: Literal["big", "little"],
        number: str,
        width: int,
        *,
        bare: bool = False,
    ) -> None:
        self._table = table
        self._binary = binary
        self._order: Literal["big", "little"] = order
        self._number = f"{{{number}}}"
        self._width = width
        self._bare = bare

    def body(self, key: str) -> Body | None:
        """The body of that key, None where there is none."""
        if not self._table.holds(key):
            return None
        text = self._table.raw(key)
        if not isinstance(text, str) or not text:
            raise wrong(self._table.path(key), repr(text), "a text")
        head, number, tail = text.partition(self._number)
        if self._binary and number and not self._width:
            missing = "count_bytes" if self._number == "{count}" else "a field 'counter'"
            raise ProfileError("link.profile-missing", self._table.path(key), missing)
        return Body(
            self._bytes(key, head), self._bytes(key, tail), bool(number), self._width, self._binary, self._order
        )

    def _bytes(self, key: str, text: str) -> bytes:
        if self._binary:
            digits = text.replace(" ", "")
            if _HEX.fullmatch(digits) is None or len(digits) > 2 * _LONGEST:
                raise wrong(self._table.path(key), repr(text), "pairs of hex digits")
            return bytes.fromhex(digits)
        if not text.isascii() or not (self._bare or text == "" or text.isprintable()) or len(text) > _LONGEST:
            raise wrong(self._table.path(key), repr(text), f"at most {_LONGEST} ASCII signs")
        return text.encode()


def _agree(table: Table, memory: Memory, profile: Profile) -> None:
    if memory.begin is None and not profile.marks_memory:
        # What is pulled during a download must not be taken for a part of it, nor the other way round.
        raise ProfileError("link.profile-missing", table.path("begin"), "a begin, or messages with a word for 'memory'")
    if memory.ask is not None and memory.ask.holds and profile.field(FieldName.COUNTER) is None:
        raise wrong(table.path("ask"), "{after}", "a request without it, for messages have no counter")
    if memory.acknowledge is not None and (memory.acknowledge.holds or memory.end is None):
        raise wrong(table.path("acknowledge"), "an acknowledgement", "one without a number, of a reply that has an end")
    begin, end = memory.begin, memory.end
    if begin is not None and end is not None and (begin.read(end.write(7)) or end.read(begin.write(7))):
        raise wrong(table.path("end"), repr(end.head.decode("latin-1")), "another body than that of the begin")
    for key, body in (("begin", begin), ("end", end)):
        if body is not None:
            _agree_mark(table.path(key), body, profile)


def _agree_mark(path: str, body: Body, profile: Profile) -> None:
    found = repr(body.head.hex(" ") if body.binary else body.head.decode())
    if profile.kind is not Kind.BINARY:
        mark = profile.check.mark if profile.check is not None else b""
        taken = profile.separator + mark + profile.number.point + b"+-./_ "
        # Then no tail of a message that lost its head can be one.
        if not body.head or body.head[:1].isalnum() or body.head[:1] in taken:
            raise wrong(path, found, "a body that begins with a sign of its own, such as #")
        if mark and mark in body.write():
            raise wrong(path, found, "a body without the sign of the checksum")
    if not isinstance(fields_of(profile).read(body.write(7)), tuple):
        raise wrong(path, found, "a body that is no message")
    if not 0 < len(body.write(10**9 if not body.binary else 0)) <= profile.framing.longest:
        raise wrong(path, found, f"a body of at most {profile.framing.longest} bytes")
