"""What a driver reports: bytes as they came and the fields cut from them. Nothing is converted or judged here."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum


class LinkState(StrEnum):
    """State of a link as its driver sees it."""

    UP = "up"
    LOST = "lost"


@dataclass(frozen=True, slots=True)
class Message:
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


@dataclass(frozen=True, slots=True)
class Rejected:
    """One stretch of bytes up to the next terminator that was not understood, and a reason code with arguments."""

    raw: bytes
    why: str
    args: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LinkChange:
    """The link went up or was lost; `why` is a reason code with arguments."""

    state: LinkState
    why: str = ""
    args: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Chunk:
    """Raw bytes read from a link in one go, before framing."""

    data: bytes


@dataclass(frozen=True, slots=True)
class Told:
    """What a wrench told of itself beside its messages; None where it does not. `battery` in percent."""

    battery: int | None = None
    serial: str | None = None


Item = Message | Rejected | LinkChange


@dataclass(frozen=True, slots=True)
class Arrival:
    """An item with its lane (the wrench's name in the job) and monotonic time in seconds."""

    t: Decimal
    lane: str
    item: Item
