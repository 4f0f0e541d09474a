"""Faults of a transport, done to transmissions before they are sent: odd pieces, noise, cut lines, repeats, losses."""

import random
from dataclasses import dataclass

NOISE_LONGEST = 12  # bytes in one burst
PIECE_LONGEST = 7  # bytes in one odd piece


@dataclass(frozen=True, slots=True)
class Faults:
    """Chances 0 … 1 a transmission; all zero leaves every byte as it is. Raises `ValueError` outside 0 … 1."""

    split: float = 0.0  # comes in odd pieces
    noise: float = 0.0  # a burst of noise bytes goes before it
    cut: float = 0.0  # its end is missing
    repeat: float = 0.0  # is sent twice, byte for byte
    lose: float = 0.0  # never arrives

    def __post_init__(self) -> None:
        for name in ("split", "noise", "cut", "repeat", "lose"):
            if not 0 <= getattr(self, name) <= 1:
                raise ValueError(f"{name} is a chance from 0 to 1, found {getattr(self, name)}")

    def pieces(self, transmission: bytes, rng: random.Random) -> tuple[bytes, ...]:
        """The pieces that arrive instead of one transmission, none empty."""
        # All five are drawn each time, so that one fault more does not move where the others strike.
        lose, cut, repeat, noise, split = (
            rng.random() < chance for chance in (self.lose, self.cut, self.repeat, self.noise, self.split)
        )
        if lose or not transmission:
            return ()
        arriving = cut_short(transmission, rng) if cut else transmission
        if repeat:
            arriving += transmission
        if noise:
            arriving = noise_bytes(rng) + arriving
        if split:
            return odd_pieces(arriving, rng)
        return (arriving,) if arriving else ()


NO_FAULTS = Faults()
ROUGH_LINE = Faults(split=0.5, noise=0.05, cut=0.02, repeat=0.05, lose=0.01)


def odd_pieces(data: bytes, rng: random.Random, longest: int = PIECE_LONGEST) -> tuple[bytes, ...]:
    """The same bytes in pieces of 1 … `longest`."""
    pieces = []
    at = 0
    while at < len(data):
        size = rng.randint(1, longest)
        pieces.append(data[at : at + size])
        at += size
    return tuple(pieces)


def noise_bytes(rng: random.Random, longest: int = NOISE_LONGEST) -> bytes:
    """One burst of 1 … `longest` bytes of any value."""
    return rng.randbytes(rng.randint(1, longest))


def cut_short(transmission: bytes, rng: random.Random) -> bytes:
    """The start of a transmission: at least its last byte is missing, at least its first is kept where it has two."""
    return transmission[: rng.randint(1, len(transmission) - 1)] if len(transmission) > 1 else b""
