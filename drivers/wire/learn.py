"""Finds out how an unknown wrench speaks, from a few pulls whose display values a person typed. Pure.

Every framing that leaves no byte over is tried, every checksum under it, every layout under that; what is found is
proved by reading the capture again. Two findings that take the value from different bytes are two readings of the
same data: then nothing is proposed. A profile refuses what the capture did not show, so that what was not learnt is
seen and not guessed.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import accumulate

from drivers.errors import ProfileError
from drivers.reading import Message
from drivers.wire import learn_binary, learn_columns, learn_text, learn_touching
from drivers.wire.learn_check import Checked, checked
from drivers.wire.learn_cut import cuts
from drivers.wire.learn_roles import FEWEST, refuse_few
from drivers.wire.learn_shown import Asked, Layout, NotLearnt, Sure, Told
from drivers.wire.parse import parse_profile
from drivers.wire.profile import LONGEST, Check, Counted, FieldName, Framing, Kind, Place, Profile, Wrapped
from drivers.wire.receive import Receiver
from drivers.wire.write import write

MOST_BYTES = 256 * 1024  # of a capture that is learnt from
_Reader = Callable[[Sequence[bytes], Asked], Iterator[Layout]]
_VALUE_FOUND = 6  # depth of a reason from which on the value had been found
_ROOMY = 64  # bytes that a text message may have at least, however short those seen are


@dataclass(frozen=True, slots=True)
class Learnt:
    """A profile that reads the capture as it was typed, and what is known of each part of it."""

    profile: Profile
    told: tuple[Told, ...]
    messages: int


@dataclass(frozen=True, slots=True)
class _Found:
    learnt: Learnt
    spots: tuple[int, ...]  # where the value stands in each message


def learn(runs: Sequence[bytes], asked: Asked, *, name: str, title: str) -> Learnt:
    """The profile of what came over a link; a run is what came between two losses. Raises `NotLearnt`."""
    refuse_few(asked)
    runs = [run for run in runs if run]
    if not runs:
        raise NotLearnt(9, "profile.nothing-heard")
    if sum(map(len, runs)) > MOST_BYTES:
        raise NotLearnt(9, "profile.capture-long", str(MOST_BYTES))
    every = [checked(cut) for cut in cuts(runs, FEWEST)]
    every = [way for way in every if way.check is not None or not way.cut.guessed]
    ways = [way for way in every if len(way.bodies) >= len(asked.shown)]
    if not ways and every:
        most = max(every, key=lambda way: len(way.bodies))
        raise NotLearnt(1, "profile.more-typed", str(len(asked.shown)), str(len(most.bodies)))
    if not ways:
        raise NotLearnt(1, "profile.no-framing", str(FEWEST))
    best = max((way.check.checksum.bits for way in ways if way.check is not None), default=0)
    ways = [way for way in ways if (way.check.checksum.bits if way.check is not None else 0) == best]
    why = [NotLearnt(5, "profile.check-disagrees", str(way.spoilt)) for way in ways if way.spoilt]
    ways = [way for way in ways if not way.spoilt]
    for certain in (True, False):
        found: list[_Found] = []
        # Bytes that look like a frame by chance look like one with escapes that never come or never change.
        for way in ways:
            if way.cut.certain is certain:
                for layout in _layouts(way, asked, why):
                    each = _profile(way, layout, runs, asked, name, title, why)
                    found += [] if each is None else [each]
        if any(reason.deep >= _VALUE_FOUND for reason in why):
            break
        if len({each.spots for each in found}) > 1:
            raise NotLearnt(8, "profile.ways-ambiguous")
        if found:
            return found[0].learnt
    raise max(why, key=lambda reason: reason.deep, default=_no_value(ways, asked))


def _no_value(ways: Sequence[Checked], asked: Asked) -> NotLearnt:
    """Why the value was found nowhere: where no framing gives as many messages as were typed, both numbers."""
    heard = {len(way.bodies) for way in ways}
    if not heard or len(asked.shown) in heard:
        return NotLearnt(2, "profile.no-value")
    return NotLearnt(2, "profile.fewer-typed", str(len(asked.shown)), str(min(heard)))


def _layouts(way: Checked, asked: Asked, why: list[NotLearnt]) -> list[Layout]:
    """The layouts that fit: of text parted by signs before columns, of numbers where it is no text."""
    text = all(all(0x20 <= byte < 0x7F or byte == 9 for byte in body) for body in way.bodies)
    if not text:
        return _read(learn_binary.layouts, way, asked, why)
    before = len(why)
    found = _read(learn_text.layouts, way, asked, why)
    if len(why) == before and not found:
        found = _read(learn_touching.layouts, way, asked, why)
    known = any(layout.unit or _says(layout, FieldName.UNIT) for layout in found)
    beside = any(learn_text.unit_within(body.decode("ascii"), asked) for body in way.bodies)
    if len(why) == before and not known and (beside or not found):
        found += _read(learn_columns.layouts, way, asked, why)
    most = max((_named(layout) for layout in found), default=0)
    return [layout for layout in found if _named(layout) == most]


def _read(reader: _Reader, way: Checked, asked: Asked, why: list[NotLearnt]) -> list[Layout]:
    try:
        return list(reader(way.bodies, asked))
    except NotLearnt as reason:
        why.append(reason)
        return []


def _says(layout: Layout, name: FieldName) -> bool:
    return any(field.name is name for field in layout.fields)


def _named(layout: Layout) -> int:
    """Fields whose meaning is known."""
    return sum(field.name is not FieldName.SKIP for field in layout.fields)


def _profile(
    way: Checked, layout: Layout, runs: Sequence[bytes], asked: Asked, name: str, title: str, why: list[NotLearnt]
) -> _Found | None:
    profile = Profile(
        name=name,
        title=title,
        kind=layout.kind,
        framing=_framing(way, layout),
        separator=layout.separator,
        fields=layout.fields,
        check=way.check,
        unit=layout.unit,
        number=layout.number,
        order=layout.order,
        pattern=layout.pattern,
        write=layout.write,
    )
    try:
        profile = parse_profile(write(profile))
    except ProfileError as error:
        why.append(NotLearnt(4, "profile.cannot-say", *_reason(error)))
        return None
    if not agrees(profile, runs, asked):
        why.append(NotLearnt(5, "profile.reads-otherwise"))
        return None
    told = (*_told_framing(profile, guessed=way.cut.guessed), *_told_check(way), *_placed(layout))
    heads = (len(piece.head) for piece in way.cut.pieces)
    spots = tuple(head + spot for head, spot in zip(heads, layout.spot, strict=True))
    return _Found(Learnt(profile, told, len(way.bodies)), spots)


def _reason(error: ProfileError) -> tuple[str, str]:
    return error.words[0], error.words[-1]


def _framing(way: Checked, layout: Layout) -> Framing | Wrapped | Counted:
    """The framing with room for what may come: binary messages have their size, texts may be twice as long."""
    seen = max(len(body) for body in way.bodies)
    size = 0 if way.check is None or way.check.place is Place.AFTER_END else way.check.size + len(way.check.mark)
    match way.cut.framing:
        case Framing(ends):
            return Framing(ends, min(LONGEST, max(_ROOMY, 2 * (seen + size))))
        case Wrapped(start, end, escape, flip):
            return Wrapped(start, end, escape, flip, min(LONGEST, max(_ROOMY, 2 * (seen + size))))
        case Counted(sync, length_bytes, order, counts_check):
            most = min(LONGEST, (1 << 8 * length_bytes) - 1) - size
            longest = seen if layout.kind in (Kind.BINARY, Kind.COLUMNS) else min(most, max(_ROOMY, 2 * seen))
            return Counted(sync, length_bytes, order, counts_check, longest)


def agrees(profile: Profile, runs: Sequence[bytes], asked: Asked) -> bool:
    """Whether the profile reads the bytes as the person typed them, and leaves none of them unread."""
    items = []
    for run in runs:
        receiver = Receiver(profile, synced=True)
        items += receiver.feed(run)
        items += receiver.reset()
    messages = [item for item in items if isinstance(item, Message)]
    pulls = [item for item in messages if not item.live]
    if len(messages) < len(items) or len(pulls) != len(asked.shown):
        return False
    for pull, each in zip(pulls, asked.shown, strict=True):
        if each.value is None:
            continue
        unit = None if pull.unit is None else asked.resolve(pull.unit)
        wanted = each.unit or asked.only_unit
        if Decimal(pull.value) != each.value or (pull.unit is not None and wanted is not None and unit != wanted):
            return False
        if pull.direction is not None and pull.direction != each.direction:
            return False
        if each.counter is not None and pull.counter is not None and pull.counter != each.counter:
            return False
    return True


def _told_framing(profile: Profile, *, guessed: bool) -> Iterator[Told]:
    match profile.framing:
        case Framing(ends):
            said = ", ".join(end.hex(" ") for end in ends)
            yield Told(Sure.PROVEN, "profile.framed-ends", (said,), "framing")
        case Wrapped(start, end, escape):
            yield Told(Sure.PROVEN, "profile.framed-wrapped", (f"{start:02x}", f"{end:02x}"), "framing")
            if escape is not None:
                sure, code = (
                    (Sure.OPEN, "profile.escape-guessed") if guessed else (Sure.PROVEN, "profile.framed-escape")
                )
                yield Told(sure, code, (f"{escape:02x}",), "framing")
        case Counted(sync):
            yield Told(Sure.PROVEN, "profile.framed-length", (sync.hex(" "),), "framing")


def _told_check(way: Checked) -> Iterator[Told]:
    if way.check is None:
        yield Told(Sure.OPEN, "profile.check-none", (), "checksum")
        return
    said = (way.check.kind, way.check.place.value, str(len(way.bodies)), f"{way.chance:.0e}")
    yield Told(Sure.PROVEN, "profile.check", said, "checksum")
    if way.others:
        yield Told(Sure.LIKELY, "profile.check-others", (", ".join(map(_way_of, way.others)),), "checksum")


def _way_of(check: Check) -> str:
    return f"{check.kind} ({check.begin}{', through the end' if check.through_end else ''})"


def _placed(layout: Layout) -> Iterator[Told]:
    """Sentences about one field name it by its number in the profile, and are notes above it."""
    for told in layout.told:
        if not told.args or not told.args[0].isdigit():
            yield told
            continue
        place = int(told.args[0])
        if layout.kind is Kind.BINARY:
            stops = accumulate(field.width for field in layout.fields)
            place = 1 + sum(stop < place for stop in stops)
        yield Told(told.sure, told.code, (str(place), *told.args[1:]), f"fields.{place}")
