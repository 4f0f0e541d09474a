"""What a driver reports: bytes as they came and the fields cut from them. Nothing is converted or judged here."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import NamedTuple


class LinkState(StrEnum):
    """State of a link as its driver sees it."""

    UP = "up"
    LOST = "lost"


class Message(NamedTuple):
    """One decoded transmission. `value` and `unit` are text as sent; `raw` is every byte, terminator included."""

    raw: bytes
    value: str  # unsigned decimal with a point, as cut from the message
    unit: str | None = None  # unit token text as sent; None where the message names none
    unit_fixed: bool = False  # the profile fixes the unit (it is then in `unit`)
    serial: str | None = None  # wrench serial no. as sent
    counter: int | None = None
    direction: str | None = None  # "CW" tightening sense, "CCW" against it, None unknown
    angle: str | None = None  # degrees, unsigned decimal text
    live: bool = False  # a sample of a live stream, not a peak: shown, never judged
    flags: tuple[str, ...] = ()  # "overload", "low battery", …
    memory: bool = False  # it says of itself that it comes from memory
    time: str | None = None  # by the wrench's own clock, as sent


@dataclass(frozen=True, slots=True)
class Rejected:
    """One stretch of bytes up to the next terminator that was not understood, and a reason code with arguments."""

    raw: bytes
    why: str
    args: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class MemoryEdge:
    """A download from the wrench's memory begins or ends here. `raw` is empty where no frame of its own says so.

    `why` is the reason code, with arguments, of an end that leaves it open whether the download is whole.
    """

    state: str  # begin | end
    raw: bytes = b""
    newest_first: bool = False
    why: str = ""
    args: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LinkChange:
    """The link went up or was lost; `why` is a reason code with arguments."""

    state: LinkState
    why: str = ""
    args: tuple[str, ...] = ()


class Chunk(NamedTuple):
    """Raw bytes read from a link in one go, before framing.

    `standing`: the wrench was saying it already when it was first heard, and nobody knows since when.
    """

    data: bytes
    standing: bool = False


@dataclass(frozen=True, slots=True)
class Told:
    """What a wrench told of itself beside its messages; None where it does not. `battery` in percent."""

    battery: int | None = None
    serial: str | None = None


Received = Message | Rejected | MemoryEdge
Item = Received | LinkChange


@dataclass(frozen=True, slots=True)
class Arrival:
    """An item with its lane (the wrench's name in the job) and monotonic time in seconds."""

    t: Decimal
    lane: str
    item: Item
