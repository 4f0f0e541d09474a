"""Every way in which the bytes of a capture fall into messages without a rest."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from drivers.wire.profile import LONGEST, Counted, Framing, Order, Wrapped
from drivers.wire.wrapped import unescaped

_CONTROL = re.compile(rb"[\x00-\x08\x0a-\x1f]+")  # a tab may stand between fields
_MOST_TAIL = 8  # bytes after an end byte: a CRC-32 in hex
_MOST_EXTRA = 8  # bytes that a length does not count
# Escape bytes and their flips as standards have them by the byte that begins a frame (RFC 1662, RFC 1055); else these.
_STANDARD = {0x7E: ((0x7D, 0x20),), 0xC0: ((0xDB, 0x1C),)}
_USUAL = ((0x10, 0x40), (0x1B, 0x80), (0x7D, 0x20))


@dataclass(frozen=True, slots=True)
class Piece:
    """One message: what stands before its body, the body without escapes, what stands behind."""

    head: bytes
    body: bytes
    tail: bytes = b""


@dataclass(frozen=True, slots=True)
class Cut:
    """One framing and the messages that it gives. Bodies of a `Counted` one still end with the checksum."""

    framing: Framing | Wrapped | Counted
    pieces: tuple[Piece, ...]
    guessed: bool = False  # the escape byte was never seen
    escapes_vary: bool = False  # some messages have more escapes than others, so that they are none by chance

    @property
    def certain(self) -> bool:
        """Whether it is no frame with escapes, or one with escapes that were seen to come and go."""
        return self.escapes_vary or not (isinstance(self.framing, Wrapped) and self.framing.escape is not None)


def cuts(runs: Sequence[bytes], least: int) -> Iterator[Cut]:
    """All framings that leave no byte over and give `least` messages or more. A run is what came over one link."""
    # Text between line ends is nothing else: a start byte among its letters would be far-fetched.
    for found in tuple(_by_ends(runs)) or (*_wrapped(runs), *_counted(runs)):
        longest = max((len(piece.body) for piece in found.pieces), default=0)
        if len(found.pieces) >= max(least, 1) and 0 < longest <= LONGEST:
            yield found


def _by_ends(runs: Sequence[bytes]) -> Iterator[Cut]:
    marks = {mark for run in runs for mark in _CONTROL.findall(run)}
    choices: list[tuple[bytes, ...]] = []
    if len(marks) == 1 and len(min(marks)) <= 4:
        choices.append((min(marks),))
    if marks and all(set(mark) <= set(b"\r\n") for mark in marks):
        choices += [(b"\r\n", b"\n"), (b"\r", b"\n")] if len(marks) > 1 else []
    for ends in choices:
        if all(run.endswith(ends) for run in runs):
            pattern = re.compile(b"|".join(map(re.escape, ends)))
            bodies = [part for run in runs for part in pattern.split(run) if part]
            if not any(_CONTROL.search(body) for body in bodies):
                yield Cut(Framing(ends), tuple(Piece(b"", body) for body in bodies))
                return


def _wrapped(runs: Sequence[bytes]) -> Iterator[Cut]:
    start = runs[0][0]
    if start in b"\r\n\t" or any(run[0] != start for run in runs):
        return
    ends = {byte for byte in runs[0][-1 - _MOST_TAIL :] if byte != start and (byte < 0x20 or byte >= 0x7E)}
    ends |= {run[-1] for run in runs[:1]} - {start}
    for end in sorted(ends):
        for tail in range(_MOST_TAIL + 1):
            parts = [part for run in runs for part in _between(run, start, end, tail)]
            if None in parts:
                continue
            pieces = [part for part in parts if part is not None]
            if all(start not in piece.body for piece in pieces):
                yield from _escapes(start, end, pieces)


def _between(run: bytes, start: int, end: int, tail: int) -> Iterator[Piece | None]:
    """The messages of a run; a None where the bytes do not fall so."""
    at = 0
    while at < len(run):
        stop = run.find(end, at)
        if run[at] != start or stop < 0 or stop + tail >= len(run):
            yield None
            return
        yield Piece(run[at : at + 1], run[at + 1 : stop], run[stop : stop + 1 + tail])
        at = stop + 1 + tail


def _escapes(start: int, end: int, pieces: list[Piece]) -> Iterator[Cut]:
    printable = all(0x20 <= byte < 0x7F or byte == 9 for piece in pieces for byte in piece.body)
    if printable and start < 0x20 and end < 0x20:
        yield Cut(Wrapped(start, end), tuple(pieces))
    used = {byte for piece in pieces for byte in piece.body}
    for escape, flip in _STANDARD.get(start, _USUAL):
        framing = Wrapped(start, end, escape, flip)
        if escape not in used | {start, end} and not any(byte ^ flip in framing.special for byte in framing.special):
            # None was needed so far. Under a checksum a wrong guess can refuse a message, never read one wrongly.
            yield Cut(framing, tuple(pieces), guessed=True)
            break
    for escape in sorted(used - {start, end}):
        after = {
            piece.body[at + 1]
            for piece in pieces
            for at, byte in enumerate(piece.body[:-1])
            if byte == escape and piece.body[at - 1 : at] != bytes([escape])
        }
        for flip in sorted({byte ^ special for byte in after for special in (start, end, escape)} - {0}):
            framing = Wrapped(start, end, escape, flip)
            if any(byte ^ flip in framing.special for byte in framing.special):
                continue
            bodies = [unescaped(framing, piece.body) for piece in pieces]
            if None not in bodies:
                whole = [body for body in bodies if body is not None]
                pairs = list(zip(pieces, whole, strict=True))
                varies = len({len(piece.body) - len(body) for piece, body in pairs}) > 1
                parts = tuple(Piece(piece.head, body, piece.tail) for piece, body in pairs)
                yield Cut(framing, parts, escapes_vary=varies)


def _counted(runs: Sequence[bytes]) -> Iterator[Cut]:
    for sync in (2, 3, 4):
        for size in (1, 2):
            for order in (Order.BIG, Order.LITTLE)[:size]:
                for extra in range(_MOST_EXTRA + 1):
                    pieces = [piece for run in runs for piece in _by_length(run, runs[0][:sync], size, order, extra)]
                    if pieces and None not in pieces:
                        yield Cut(
                            Counted(runs[0][:sync], size, order, counts_check=not extra),
                            tuple(piece for piece in pieces if piece is not None),
                        )


def _by_length(run: bytes, sync: bytes, size: int, order: Order, extra: int) -> Iterator[Piece | None]:
    at = 0
    while at < len(run):
        begin = at + len(sync) + size
        said = int.from_bytes(run[at + len(sync) : begin], order.ends)
        stop = begin + said + extra
        if not run.startswith(sync, at) or said == 0 or stop > len(run):
            yield None
            return
        yield Piece(run[at:begin], run[begin:stop])
        at = stop
