"""How the bytes of a wrench read, as data: how a message is cut out, which fields it has, how it is checked."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from drivers.wire.checksums import CHECKSUMS, Checksum
from drivers.wire.memory import QUIET_S, Memory
from drivers.wire.radio import Radio

LONGEST = 512  # bytes of one message that are ever kept
FLAGS = ("overload", "low battery")  # what a message may say of its wrench


class Kind(StrEnum):
    """How the fields of a message lie."""

    DELIMITED_LINE = "delimited line"  # text, a sign between the fields
    COLUMNS = "columns"  # text, every field of a fixed width
    BINARY = "binary"  # numbers of a fixed size
    PATTERN = "pattern"  # text, cut by the named groups of a pattern


class FieldName(StrEnum):
    """What a field of a message can be."""

    SERIAL = "serial"
    COUNTER = "counter"
    VALUE = "value"
    UNIT = "unit"
    DIRECTION = "direction"
    ANGLE = "angle"
    MESSAGE = "message"  # a peak, a live sample, or a peak from memory
    FLAGS = "flags"
    TIME = "time"  # by the wrench's own clock
    PLACES = "places"  # decimal places of the value, binary only
    SKIP = "skip"  # says nothing to us


class Form(StrEnum):
    """How a wrench writes its time."""

    NONE = ""
    SECONDS = "seconds"  # since it was switched on
    DATE = "date and time"  # YYYY-MM-DD HH:MM:SS


class Sign(StrEnum):
    """What may stand before a value; a binary value with a sign is in two's complement."""

    NONE = "none"
    PLUS = "plus"  # a plus may stand there; nothing below zero is taken
    DIRECTION = "direction"  # a sign stands there: plus is CW, minus CCW


class Format(StrEnum):
    """How a number is written in a binary field."""

    WHOLE = "whole"  # bits of a whole number, the lowest ones of its bytes
    FLOAT32 = "float32"  # IEEE 754
    FLOAT64 = "float64"
    SFLOAT = "sfloat"  # IEEE 11073-20601: exponent and mantissa of ten, in 16 bits
    FLOAT = "float"  # the same in 32 bits
    UTF8 = "utf-8"  # decimal text, as long as the message leaves room
    UTF16 = "utf-16"

    @property
    def size(self) -> int:
        """Bytes that it always takes; 0 where the field says it."""
        return {Format.FLOAT32: 4, Format.FLOAT64: 8, Format.SFLOAT: 2, Format.FLOAT: 4}.get(self, 0)

    @property
    def step(self) -> int:
        """Bytes of one sign of text; 0 where it is no text."""
        return {Format.UTF8: 1, Format.UTF16: 2}.get(self, 0)


class Order(StrEnum):
    """Which byte of a number goes first."""

    BIG = "big"
    LITTLE = "little"

    @property
    def ends(self) -> Literal["big", "little"]:
        """The word that Python's own conversions ask for."""
        return "big" if self is Order.BIG else "little"


class Place(StrEnum):
    """Where a checksum stands."""

    AFTER_MARK = "after mark"  # as upper-case hex, behind a sign
    BEFORE_END = "before end"  # last of what the framing encloses
    AFTER_END = "after end"  # behind the end byte, never escaped


class Written(StrEnum):
    """How a checksum is written."""

    HEX = "hex"  # upper-case digits
    BYTES = "bytes"


class Begin(StrEnum):
    """Where the bytes begin that a checksum is over."""

    START = "start"  # start byte or first sync byte
    LENGTH = "length"  # the length after the sync bytes
    BODY = "body"


@dataclass(frozen=True, slots=True)
class Framing:
    """A message ends at any of `ends`, of which the first is written; `longest` bytes go before it at most."""

    ends: tuple[bytes, ...]
    longest: int = LONGEST


@dataclass(frozen=True, slots=True)
class Wrapped:
    """A message stands between a start and an end byte, `longest` bytes at most.

    With `escape`, a start, end or escape byte within is sent as the escape byte and that byte XOR `flip`, so that
    a start byte on the wire always begins a message.
    """

    start: int
    end: int
    escape: int | None = None
    flip: int = 0
    longest: int = LONGEST

    @property
    def special(self) -> frozenset[int]:
        """Bytes that never stand in a message as they are."""
        return frozenset({self.start, self.end} | (set() if self.escape is None else {self.escape}))


@dataclass(frozen=True, slots=True)
class Counted:
    """Sync bytes, the length in one or two bytes, then so many bytes of body and the checksum."""

    sync: bytes
    length_bytes: int = 1
    order: Order = Order.BIG
    counts_check: bool = False  # the length counts the checksum too
    longest: int = LONGEST  # bytes of body


@dataclass(frozen=True, slots=True)
class Head:
    """The first byte of a packet: its lowest `count_bits` number it in its message, bit `last_bit` is set in the last.

    The first packet of a message has the number `count_from`; all other bits are zero.
    """

    count_bits: int
    last_bit: int
    count_from: int = 0


@dataclass(frozen=True, slots=True)
class Packets:
    """A message is what one packet holds, or with `head` what several do, behind their first bytes.

    `longest` bytes at most, heads apart.
    """

    longest: int = LONGEST
    head: Head | None = None


@dataclass(frozen=True, slots=True)
class Field:
    """One field in its place; `empty` lets it hold nothing, `optional` (last fields only) lets it be left off."""

    name: FieldName
    empty: bool = False
    optional: bool = False
    digits: int = 0  # a counter is written with at least so many
    width: int = 0  # signs of a column, bytes of a binary field (of a text, at most)
    sign: Sign = Sign.NONE  # of a value
    places: int = 0  # a whole binary number is in units of ten to minus so many
    format: Format = Format.WHOLE  # of a binary field
    bits: int = 0  # a whole binary number takes only so many, the lowest; 0 means all
    nothing: int | None = None  # binary number that stands for no value
    form: Form = Form.NONE  # of a time
    words: tuple[tuple[str, str], ...] = ()  # what is sent (a number or bit in binary), and what it means

    @property
    def signed(self) -> bool:
        """Whether it may be sent with a sign."""
        return self.sign is not Sign.NONE

    @property
    def span(self) -> int:
        """Bits that a binary number takes."""
        return self.bits or 8 * self.width

    @property
    def meanings(self) -> dict[str, str]:
        """What is sent to what it means."""
        return dict(self.words)


@dataclass(frozen=True, slots=True)
class Number:
    """How numbers are written in text: the decimal sign, and whether blanks may go before one."""

    point: bytes = b"."
    blanks: bool = False


@dataclass(frozen=True, slots=True)
class Check:
    """A checksum: which, where it stands, how it is written and what it is over (the unescaped bytes)."""

    kind: str  # name in CHECKSUMS
    mark: bytes = b""  # of AFTER_MARK; it is over all bytes of the body before it
    optional: bool = False
    place: Place = Place.AFTER_MARK
    written: Written = Written.HEX
    order: Order = Order.BIG  # of BYTES
    begin: Begin = Begin.BODY
    through_end: bool = False  # the end byte is counted in

    @property
    def checksum(self) -> Checksum:
        """The function of that name."""
        return CHECKSUMS[self.kind]

    @property
    def size(self) -> int:
        """Bytes that the checksum itself takes, its mark apart."""
        return self.checksum.bits // (8 if self.written is Written.BYTES else 4)

    @property
    def trailing(self) -> bool:
        """Whether it is cut off with the frame, not found by its mark."""
        return self.place is not Place.AFTER_MARK

    def of(self, data: bytes) -> bytes:
        """The checksum of `data` as it is written."""
        return self.reckoner()(data)

    def reckoner(self) -> Callable[[bytes], bytes]:
        """`of`, made ready for many calls."""
        number, size, ends = self.checksum.of, self.size, self.order.ends
        if self.written is Written.BYTES:
            return lambda data: number(data).to_bytes(size, ends)
        shape = b"%%0%dX" % size
        return lambda data: shape % number(data)

    def shown(self, written: bytes) -> str:
        """A written checksum for a sentence; whatever the bytes are, it is printable ASCII."""
        if self.written is Written.BYTES:
            return written.hex().upper()
        return ascii(written.decode("latin-1"))[1:-1]


@dataclass(frozen=True, slots=True)
class Profile:
    """One way of speaking; equal profiles read equal bytes equally."""

    name: str
    title: str
    kind: Kind
    framing: Framing | Wrapped | Counted | Packets
    separator: bytes  # of a delimited line
    fields: tuple[Field, ...]
    check: Check | None = None
    unit: str | None = None  # unit token that the profile fixes; no message then carries one
    number: Number = Number()
    order: Order = Order.BIG  # of binary fields
    pattern: str = ""  # of that layout, in the syntax of google-re2; a message is all of it
    write: str | None = None  # what a message of a pattern is written by, fields in braces
    radio: Radio | None = None  # where on a radio wrench its messages are
    memory: Memory | None = None

    @property
    def unit_fixed(self) -> bool:
        """Whether every value of this profile is in one unit."""
        return self.unit is not None

    @property
    def trailing(self) -> Check | None:
        """The checksum, if it is cut off with the frame."""
        return self.check if self.check is not None and self.check.trailing else None

    @property
    def sizes(self) -> frozenset[int] | None:
        """Lengths that a body can have; None where its fields have no fixed width."""
        if self.kind in (Kind.DELIMITED_LINE, Kind.PATTERN):
            return None
        text = next((field for field in self.fields if field.format.step), None)
        if text is not None:
            others = sum(field.width for field in self.fields) - text.width
            return frozenset(range(others + text.format.step, others + text.width + 1, text.format.step))
        fewest = sum(not field.optional for field in self.fields)
        counts = range(fewest, len(self.fields) + 1)
        return frozenset(sum(field.width for field in self.fields[:count]) for count in counts)

    @property
    def lengths(self) -> frozenset[int] | None:
        """Lengths that what is framed can have: a message, or one of the bodies about a memory download."""
        if self.sizes is None or self.memory is None:
            return self.sizes
        marks = (self.memory.ask, self.memory.begin, self.memory.end, self.memory.acknowledge)
        return self.sizes | {len(mark.write()) for mark in marks if mark is not None}

    @property
    def marks_memory(self) -> bool:
        """Whether each message says by itself that it comes from memory."""
        message = self.field(FieldName.MESSAGE)
        return message is not None and "memory" in message.meanings.values()

    @property
    def quiet_s(self) -> int:
        """Seconds without a byte after which a reply from memory has ended."""
        return QUIET_S if self.memory is None else self.memory.quiet_s

    def field(self, name: FieldName) -> Field | None:
        """The field of that name, if messages have it."""
        return next((field for field in self.fields if field.name is name), None)

    def has(self, name: FieldName) -> bool:
        """Whether messages say that, in a field of its own or by the sign of the value."""
        value = self.field(FieldName.VALUE)
        signed = name is FieldName.DIRECTION and value is not None and value.sign is Sign.DIRECTION
        return signed or self.field(name) is not None
