"""What people do with wrenches, as data that a player plays."""

from dataclasses import dataclass

from drivers.sim.hand import PulledPeak


@dataclass(frozen=True, slots=True)
class Pull:
    """A pull with the wrench of that lane."""

    lane: str
    peaks: tuple[PulledPeak, ...]


@dataclass(frozen=True, slots=True)
class Wait:
    """Nothing happens for so many seconds."""

    seconds: float


@dataclass(frozen=True, slots=True)
class LoseLink:
    """The wrench goes out of reach: its port is gone, and what it measures stays in its memory."""

    lane: str


@dataclass(frozen=True, slots=True)
class LinkUp:
    """The wrench is back in reach."""

    lane: str


@dataclass(frozen=True, slots=True)
class UnitKey:
    """Somebody presses the unit key until that token shows (None: once)."""

    lane: str
    unit_token: str | None = None


@dataclass(frozen=True, slots=True)
class Download:
    """The wrench sends its memory; it is cleared only where `clear` says so."""

    lane: str
    newest_first: bool = False
    clear: bool = False


@dataclass(frozen=True, slots=True)
class Answer:
    """The wrench answers what the program has asked it meanwhile."""

    lane: str


@dataclass(frozen=True, slots=True)
class Say:
    """What a person says at this moment; the player hands it to its listener as it is."""

    word: str
    about: str | None = None
    value: str | None = None


Act = Pull | Wait | LoseLink | LinkUp | UnitKey | Download | Answer | Say
