"""Writes a reading as its wrench would send it: the other direction of `decode`, for wrenches that are played."""

from decimal import Decimal

from drivers.reading import MemoryEdge, Message
from drivers.wire.content import cannot, text_of
from drivers.wire.decode import fields_of
from drivers.wire.packets import PACKET, numbered, packets
from drivers.wire.profile import Begin, Counted, FieldName, Framing, Packets, Place, Profile, Wrapped
from drivers.wire.receive import Receiver
from drivers.wire.wrapped import escaped

_NUMBERS = frozenset({FieldName.VALUE, FieldName.ANGLE})


def encode(
    profile: Profile,
    *,
    serial: str,
    counter: int | None,
    value: str,
    unit: str | None,
    direction: str | None,
    angle: str | None = None,
    checksum: bool = True,
    live: bool = False,
    flags: tuple[str, ...] = (),
    packet: int = PACKET,
    memory: bool = False,
    time: str | None = None,
) -> bytes:
    """The message with all that frames it. Raises `ProfileError` where the profile has no way to say it.

    `checksum` is left off only where the profile lets it be. A field that the profile lacks is left out, but a
    unit other than the fixed one is refused, and so is a live sample that could be taken for a peak. Where a message
    goes out in packets, they have `packet` bytes each but the last, and `packets.packets` parts them.
    """
    if profile.unit_fixed and unit is not None and unit != profile.unit:
        raise cannot(profile, FieldName.UNIT.value, unit)
    if live and not profile.has(FieldName.MESSAGE):
        raise cannot(profile, FieldName.MESSAGE.value, "live")
    said = Message(b"", value, unit, profile.unit_fixed, serial, counter, direction, angle, live, flags, memory, time)
    raw = framed(profile, fields_of(profile).write(said), packet, checksum=checksum)
    _prove(profile, packets(profile, raw, packet), said)
    return raw


def framed(profile: Profile, body: bytes, packet: int = PACKET, *, checksum: bool = True) -> bytes:
    """A body with all that frames it: its checksum (which may be left off where it is optional), escapes and ends."""
    check, framing = profile.trailing, profile.framing
    marked = profile.check
    if marked is not None and not marked.trailing and (checksum or not marked.optional):
        body += marked.mark + marked.of(body)
    match framing:
        case Framing(ends):
            return body + (check.of(body) if check is not None else b"") + ends[0]
        case Packets(head=head):
            whole = body + (check.of(body) if check is not None else b"")
            joined = numbered(head, whole, packet) if head is not None and packet > 1 else whole
            if joined is None or (head is None and len(whole) > packet) or packet < 1:
                raise cannot(profile, "packet", str(len(whole)))
            return joined
        case Wrapped(start, end):
            first, last = bytes([start]), bytes([end])
            if check is None:
                return first + escaped(framing, body) + last
            covered = (first if check.begin is Begin.START else b"") + body + (last if check.through_end else b"")
            if check.place is Place.AFTER_END:
                return first + escaped(framing, body) + last + check.of(covered)
            return first + escaped(framing, body + check.of(covered)) + last
        case Counted(sync, length_bytes, order, counts_check):
            size = check.size if check is not None else 0
            try:
                length = (len(body) + (size if counts_check else 0)).to_bytes(length_bytes, order.ends)
            except OverflowError as error:
                raise cannot(profile, "length", str(len(body))) from error
            if check is None:
                return sync + length + body
            heads = {Begin.START: sync + length, Begin.LENGTH: length, Begin.BODY: b""}
            return sync + length + body + check.of(heads[check.begin] + body)


def _prove(profile: Profile, sent: tuple[bytes, ...], said: Message) -> None:
    """What is written must be read back as what was said: a comma inside a unit, say, would be one field more."""
    receiver = Receiver(profile, synced=True)
    items = [item for part in sent for item in receiver.feed(part) if not isinstance(item, MemoryEdge)]
    raw = b"".join(sent)
    if len(items) != 1:
        raise cannot(profile, "message", repr(raw))
    read = items[0]
    if not isinstance(read, Message):
        what, text = read.args if read.why == "link.field" else ("message", repr(raw))
        raise cannot(profile, what, text)
    for name in FieldName:
        if profile.has(name) and name is not FieldName.PLACES:
            wanted, got = text_of(said, name), text_of(read, name)
            if wanted != got and not (name in _NUMBERS and wanted and got and Decimal(wanted) == Decimal(got)):
                raise cannot(profile, name.value, wanted)
