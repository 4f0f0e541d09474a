"""What a profile says of a wrench's memory: the request for it, and the frames that mark where a reply begins and ends.

A body here is what stands in a frame, without what the profile's framing puts round every frame. A number may stand in
it: in a request the last counter that was heard, in a mark how many readings the reply holds.
"""

import re
from dataclasses import dataclass
from typing import Literal

QUIET_S = 5  # a reply without a byte for so long has ended
_DIGITS = re.compile(rb"[0-9]{1,10}")


@dataclass(frozen=True, slots=True)
class Body:
    """`head`, a number where one `holds`, `tail`; the number in `width` bytes, or in digits where that is 0."""

    head: bytes
    tail: bytes = b""
    holds: bool = False
    width: int = 0  # bytes of a binary number, fewest digits of one in text
    binary: bool = False
    order: Literal["big", "little"] = "big"

    def write(self, number: int = 0) -> bytes:
        """The body with that number; one that its bytes cannot hold is sent as 0."""
        if not self.holds:
            return self.head
        if not self.binary:
            return self.head + str(number).zfill(self.width).encode() + self.tail
        fits = number < 1 << 8 * self.width
        return self.head + (number if fits else 0).to_bytes(self.width, self.order) + self.tail

    def read(self, body: bytes) -> "Told | None":
        """What a body tells, None where it is another one."""
        if not self.holds:
            return Told() if body == self.head else None
        inner = body[len(self.head) : len(body) - len(self.tail)]
        if body != self.head + inner + self.tail:
            return None
        if self.binary:
            return Told(int.from_bytes(inner, self.order)) if len(inner) == self.width else None
        return Told(int(inner)) if _DIGITS.fullmatch(inner) else None


@dataclass(frozen=True, slots=True)
class Told:
    """What a body told: its number, None where it holds none."""

    number: int | None = None


@dataclass(frozen=True, slots=True)
class Memory:
    """How a wrench is asked for its memory (`ask` None: it sends it unasked) and how the reply is marked."""

    ask: Body | None = None
    bare: bool = False  # what is sent to the wrench is not framed
    begin: Body | None = None
    end: Body | None = None
    acknowledge: Body | None = None  # sent once a reply has come whole and is recorded
    newest_first: bool = False
    quiet_s: int = QUIET_S
