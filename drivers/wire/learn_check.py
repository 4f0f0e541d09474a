"""Finds the checksum of messages by trying every one, everywhere that it can stand and over all that it can cover."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from drivers.wire.checksums import CHECKSUMS
from drivers.wire.learn_cut import Cut, Piece
from drivers.wire.profile import Begin, Check, Counted, Framing, Order, Place, Wrapped, Written

MOST_CHANCE = 1e-6  # that a checksum taken for one is none
_HEX = re.compile(rb"[0-9A-F]+")
_FEW = 5  # of so many messages one may be spoilt


@dataclass(frozen=True, slots=True)
class Checked:
    """A cut with its checksum taken off the bodies, or without one; `chance` that all agree by chance."""

    cut: Cut
    bodies: tuple[bytes, ...]
    check: Check | None = None
    chance: float = 0.0
    others: tuple[Check, ...] = ()  # that agree as well
    spoilt: int = 0  # messages that alone disagree with a checksum which all others carry


@dataclass(frozen=True, slots=True)
class _Part:
    """A message parted: body, the bytes before and behind it that may be covered, and the checksum as sent."""

    body: bytes
    start: bytes
    length: bytes
    end: bytes
    sent: bytes


def checked(cut: Cut) -> Checked:
    """The cut with the checksum that all its messages carry, if one does."""
    tried = 0
    found: list[tuple[Check, tuple[bytes, ...]]] = []
    spoilt = 0
    for check, parts in _candidates(cut):
        tried += 1
        bad = _disagreeing(check, parts)
        bodies = tuple(part.body for part in parts)
        if bad == 0:
            found.append((check, bodies))
        elif bad is not None and _chance(1000, check, bodies[bad:]) <= MOST_CHANCE:
            spoilt = bad
    found = [(check, bodies) for check, bodies in found if _chance(tried, check, bodies) <= MOST_CHANCE]
    if not found:
        return Checked(cut, tuple(piece.body for piece in cut.pieces), spoilt=spoilt)
    # Of checksums that agree as well, the longest, then the one over the most; the order of trial is from plain to odd.
    found.sort(key=lambda pair: -pair[0].checksum.bits)
    check, bodies = found[0]
    others = tuple(other for other, same in found[1:] if same == bodies)
    return Checked(cut, bodies, check, _chance(tried, check, bodies), others)


def _disagreeing(check: Check, parts: Sequence[_Part]) -> int | None:
    """How many messages disagree; None for more than a few."""
    most = max(1, len(parts) // _FEW)
    bad = 0
    for part in parts:
        bad += not _agrees(check, part)
        if bad > most:
            return None
    return bad


def _chance(tried: int, check: Check, bodies: Sequence[bytes]) -> float:
    distinct = len(set(bodies))
    # Messages that differ in nothing but an inversion could still agree at once, so one of them counts for nothing.
    return float(tried) * 2.0 ** (-check.checksum.bits * max(0, distinct - 1))


def _agrees(check: Check, part: _Part) -> bool:
    first = {Begin.START: part.start + part.length, Begin.LENGTH: part.length, Begin.BODY: b""}[check.begin]
    return check.of(first + part.body + (part.end if check.through_end else b"")) == part.sent


def _candidates(cut: Cut) -> Iterator[tuple[Check, list[_Part]]]:
    for place, written, size in _places(cut):
        parts = [_part(cut, piece, place, size) for piece in cut.pieces]
        whole = [part for part in parts if part is not None]
        if len(whole) < len(parts) or (written is Written.HEX and not all(_HEX.fullmatch(p.sent) for p in whole)):
            continue
        mark = {p.body[-1:] for p in whole} if place is Place.AFTER_MARK else {b""}
        if len(mark) != 1 or (place is Place.AFTER_MARK and not _may_mark(min(mark))):
            continue
        if place is Place.AFTER_MARK:
            whole = [_Part(p.body[:-1], b"", b"", b"", p.sent) for p in whole]
        bits = size * (8 if written is Written.BYTES else 4)
        for kind, checksum in CHECKSUMS.items():
            if checksum.bits == bits:
                for check in _ways(cut, Check(kind, min(mark), place=place, written=written)):
                    yield check, whole


def _may_mark(sign: bytes) -> bool:
    return b" " < sign < b"\x7f" and not sign.isalnum() and sign != b"."


def _ways(cut: Cut, check: Check) -> Iterator[Check]:
    if check.place is Place.AFTER_MARK:
        yield check
        return
    begins = {Wrapped: (Begin.BODY, Begin.START), Counted: (Begin.LENGTH, Begin.BODY, Begin.START)}
    wide = check.written is Written.BYTES and check.checksum.bits > 8
    for begin in begins.get(type(cut.framing), (Begin.BODY,)):
        for through in (False, True)[: 2 if check.place is Place.AFTER_END else 1]:
            for order in (Order.BIG, Order.LITTLE)[: 2 if wide else 1]:
                yield Check(check.kind, b"", False, check.place, check.written, order, begin, through)


def _places(cut: Cut) -> Iterator[tuple[Place, Written, int]]:
    framing = cut.framing
    tail = len(cut.pieces[0].tail) - 1
    if isinstance(framing, Wrapped) and tail:
        yield from ((Place.AFTER_END, Written.HEX, tail), (Place.AFTER_END, Written.BYTES, tail))
        return
    if isinstance(framing, Framing | Wrapped):
        yield from ((Place.AFTER_MARK, Written.HEX, size) for size in (2, 4, 8))
    yield from ((Place.BEFORE_END, Written.HEX, size) for size in (2, 4, 8))
    if isinstance(framing, Counted) or (isinstance(framing, Wrapped) and framing.escape is not None):
        yield from ((Place.BEFORE_END, Written.BYTES, size) for size in (1, 2, 4))


def _part(cut: Cut, piece: Piece, place: Place, size: int) -> _Part | None:
    """The message with that place cut off; None if nothing would be left."""
    counted = isinstance(cut.framing, Counted)
    sync = len(cut.framing.sync) if isinstance(cut.framing, Counted) else 0
    start, length = (piece.head[:sync], piece.head[sync:]) if counted else (piece.head, b"")
    if place is Place.AFTER_END:
        return _Part(piece.body, start, length, piece.tail[:1], piece.tail[1:])
    if isinstance(cut.framing, Counted) and not cut.framing.counts_check:
        said = int.from_bytes(length, cut.framing.order.ends)
        if len(piece.body) - said != size:
            return None
    if len(piece.body) <= size:
        return None
    return _Part(piece.body[:-size], start, length, piece.tail[:1], piece.body[-size:])
