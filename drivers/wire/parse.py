"""Reads a profile from TOML, strictly: whatever is not understood is an error that names its key."""

import re
import tomllib
from dataclasses import replace

from drivers.errors import ProfileError
from drivers.wire.checksums import CHECKSUMS
from drivers.wire.parse_fields import UNIT, read_fields
from drivers.wire.parse_memory import read_memory
from drivers.wire.parse_pattern import read_line
from drivers.wire.parse_radio import agree_radio, read_radio
from drivers.wire.profile import (
    LONGEST,
    Begin,
    Check,
    Counted,
    FieldName,
    Form,
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
from drivers.wire.table import Table, wrong

_VERSION = 1
_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")
_ENDS, _WRAPPED, _COUNTED, _PACKETS = "ends", "start and end", "length", "packets"


def parse_profile(text: str) -> Profile:
    """The profile that a TOML text describes. Raises `ProfileError` for the first thing that is wrong."""
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise ProfileError("link.profile-syntax", str(error)) from error
    top = Table("", data)
    version = top.number("profile", low=1, high=1_000)
    if version != _VERSION:
        raise wrong("profile", str(version), str(_VERSION))
    kind = top.choice("kind", Kind)
    framing = _framing(top.table("framing"))
    line = read_line(top.table("line")) if kind is Kind.PATTERN else None
    profile = Profile(
        name=top.text("name", _NAME, "small letters, digits and hyphens"),
        title=top.text("title"),
        kind=kind,
        framing=framing,
        separator=_separator(top.table("line")) if kind is Kind.DELIMITED_LINE else b"",
        fields=read_fields(top, kind) if line is None else line.fields(top),
        check=_check(top.table("checksum"), framing) if top.holds("checksum") else None,
        unit=top.text("unit", UNIT, "a unit of at most 16 ASCII signs") if top.holds("unit") else None,
        number=_number(top.table("number")) if kind is not Kind.BINARY and top.holds("number") else Number(),
        order=_order(top.table("binary")) if kind is Kind.BINARY else Order.BIG,
        pattern="" if line is None else line.pattern,
        write=None if line is None else line.write,
        radio=read_radio(top.table("radio")) if top.holds("radio") else None,
    )
    memory = top.table("memory") if top.holds("memory") else None
    top.finish()
    _agree_fields(profile)
    _agree_framing(profile)
    agree_radio(profile)
    return profile if memory is None else replace(profile, memory=read_memory(memory, profile))


def _framing(table: Table) -> Framing | Wrapped | Counted | Packets:
    kind = table.one_of("kind", (_ENDS, _WRAPPED, _COUNTED, _PACKETS)) if table.holds("kind") else _ENDS
    longest = table.number("longest", low=1, high=LONGEST) if table.holds("longest") else LONGEST
    found: Framing | Wrapped | Counted | Packets
    if kind == _WRAPPED:
        found = _wrapped(table, longest)
    elif kind == _COUNTED:
        sync = bytes(table.numbers("sync", low=0, high=255))
        if not 2 <= len(sync) <= 4:
            raise wrong("framing.sync", sync.hex(" "), "2 to 4 bytes")
        found = Counted(
            sync,
            table.number("length_bytes", low=1, high=2),
            table.choice("length_order", Order) if table.holds("length_order") else Order.BIG,
            table.flag("length_counts_checksum"),
            longest,
        )
    elif kind == _PACKETS:
        found = Packets(longest, _head(table))
    else:
        found = Framing(_ends(table), longest)
    table.finish()
    return found


def _ends(table: Table) -> tuple[bytes, ...]:
    ends = tuple(item.encode("utf-8", "surrogatepass") for item in table.texts("ends"))
    for place, end in enumerate(ends):
        others = ends[:place] + ends[place + 1 :]
        if not 1 <= len(end) <= 4:
            raise wrong("framing.ends", repr(end), "line ends of 1 to 4 bytes")
        # An end inside another would make the frames depend on how the bytes happen to be cut into pieces.
        if any(end in other and (end == other or not other.endswith(end)) for other in others):
            raise wrong("framing.ends", repr(end), "no line end inside another")
        if not all(byte < 0x20 for byte in end):
            raise wrong("framing.ends", repr(end), "control characters such as CR and LF")
    return ends


def _wrapped(table: Table, longest: int) -> Wrapped:
    start, end = (table.number(key, low=0, high=255) for key in ("start", "end"))
    if not table.holds("escape"):
        framing = Wrapped(start, end, longest=longest)
    else:
        framing = Wrapped(
            start,
            end,
            table.number("escape", low=0, high=255),
            table.number("flip", low=1, high=255),
            longest,
        )
    if len(framing.special) < (2 if framing.escape is None else 3):
        raise wrong("framing.end", str(end), "start, end and escape that differ")
    # A flipped byte that is itself a start would look like the beginning of a message.
    if framing.escape is not None and any(byte ^ framing.flip in framing.special for byte in framing.special):
        raise wrong("framing.flip", str(framing.flip), "a number that makes other bytes of start, end and escape")
    return framing


def _head(table: Table) -> Head | None:
    if not any(table.holds(key) for key in ("count_bits", "last_bit", "count_from")):
        return None
    count_bits = table.number("count_bits", low=1, high=7)
    last_bit = table.number("last_bit", low=count_bits, high=7)
    return Head(count_bits, last_bit, table.number("count_from", low=0, high=1) if table.holds("count_from") else 0)


def _separator(table: Table) -> bytes:
    sign = str(table.raw("separator")).encode() if table.raw("separator") in ("\t", " ") else _sign(table, "separator")
    table.finish()
    return sign


def _number(table: Table) -> Number:
    point = table.one_of("point", (".", ",")) if table.holds("point") else "."
    number = Number(point.encode(), table.flag("blanks"))
    table.finish()
    return number


def _order(table: Table) -> Order:
    order = table.choice("order", Order)
    table.finish()
    return order


def _check(table: Table, framing: Framing | Wrapped | Counted | Packets) -> Check:
    kind = table.text("kind")
    if kind not in CHECKSUMS:
        raise wrong("checksum.kind", kind, ", ".join(sorted(CHECKSUMS)))
    place = table.choice("place", Place) if table.holds("place") else Place.AFTER_MARK
    if place is Place.AFTER_MARK:
        check = Check(kind, _sign(table, "mark"), table.flag("optional"))
    else:
        written = table.choice("written", Written)
        wide = written is Written.BYTES and CHECKSUMS[kind].bits > 8
        check = Check(
            kind,
            place=place,
            written=written,
            order=table.choice("order", Order) if wide else Order.BIG,
            begin=table.choice("from", Begin) if table.holds("from") else Begin.BODY,
            through_end=table.flag("through_end"),
        )
    table.finish()
    if place is Place.AFTER_END and not isinstance(framing, Wrapped):
        raise wrong("checksum.place", place, "framing with an end byte")
    if check.through_end and place is not Place.AFTER_END:
        raise wrong("checksum.through_end", "true", "a checksum that stands after the end")
    starts = {Begin.BODY}
    starts |= {Begin.START} if isinstance(framing, Wrapped) else set()
    starts |= {Begin.START, Begin.LENGTH} if isinstance(framing, Counted) else set()
    if check.begin not in starts:
        raise wrong("checksum.from", check.begin, ", ".join(sorted(starts)))
    return check


def _sign(table: Table, key: str) -> bytes:
    sign = table.text(key)
    # Letters, digits and the decimal point belong to the fields; a sign among them would cut a number in two.
    if len(sign) != 1 or sign.isalnum() or sign == "." or not " " < sign < "\x7f":
        raise wrong(table.path(key), repr(sign), "one ASCII sign, not a letter or digit")
    return sign.encode()


def _agree_fields(profile: Profile) -> None:
    mark = profile.check.mark if profile.check is not None else b""
    if mark and mark == profile.separator:
        raise wrong("checksum.mark", repr(mark), "another sign than the separator")
    if mark and profile.kind is Kind.BINARY:
        raise wrong("checksum.place", Place.AFTER_MARK, "a place before or after the end in a binary message")
    value = profile.field(FieldName.VALUE)
    signs = profile.number.point + (b"+-" if value is not None and value.signed else b"")
    time = profile.field(FieldName.TIME)
    signs += b" " if profile.number.blanks else b""
    signs += b"" if time is None else b"-: ." if time.form is Form.DATE else b"."
    for key, sign in (("line.separator", profile.separator), ("checksum.mark", mark)):
        if sign and sign in signs:
            raise wrong(key, repr(sign.decode()), "a sign that stands in no number or time")
        for field in profile.fields:
            if sign and any(sign.decode() in sent for sent, _ in field.words):
                raise wrong(key, repr(sign.decode()), f"a sign that stands in no word of the field '{field.name}'")
    if profile.unit_fixed and profile.has(FieldName.UNIT):
        raise wrong("unit", str(profile.unit), "a fixed unit or a field 'unit', not both")
    signed = value is not None and value.sign is Sign.DIRECTION
    if signed and profile.field(FieldName.DIRECTION) is not None:
        raise wrong("fields", Sign.DIRECTION, "a direction in the sign or in a field, not both")


def _agree_framing(profile: Profile) -> None:
    framing, check = profile.framing, profile.check
    sizes = profile.sizes
    if sizes is not None:
        needed = max(sizes)
        if check is not None and check.place is not Place.AFTER_END and not isinstance(framing, Counted):
            needed += len(check.mark) + check.size
        if isinstance(framing, Wrapped) and framing.escape is not None:
            needed *= 2  # every byte may have to be escaped
        if needed > framing.longest:
            raise wrong("framing.longest", str(framing.longest), f"at least {needed}, the length of all fields")
    in_bytes = check is not None and check.written is Written.BYTES and check.place is Place.BEFORE_END
    match framing:
        case Framing():
            if profile.kind is Kind.BINARY or in_bytes:
                raise wrong("framing.kind", _ENDS, "a start and an end byte or a length round bytes of any value")
        case Wrapped(escape=None):
            if profile.kind is Kind.BINARY or in_bytes:
                raise ProfileError("link.profile-missing", "framing.escape", "an escape byte for bytes of any value")
            if not framing.special.isdisjoint(range(0x20, 0x7F)):
                raise ProfileError("link.profile-missing", "framing.escape", "an escape byte, or control characters")
        case Packets(head=head):
            # Every message has a second packet: only the checksum tells whose it is.
            if head is not None and (check is None or not check.trailing):
                raise ProfileError("link.profile-missing", "checksum", "a checksum before the end, for joined packets")
        case Counted():
            # Sync bytes may stand in a body: only the checksum tells a message from what looks like one.
            if check is None or not check.trailing:
                raise ProfileError("link.profile-missing", "checksum", "a checksum before the end, for a length")
            if framing.longest + check.size >= 1 << 8 * framing.length_bytes:
                raise wrong("framing.longest", str(framing.longest), "a length that fits its bytes")
