"""What a hand does, before anything of it is on the wire. Times are whole milliseconds."""

from dataclasses import dataclass


@dataclass(slots=True)
class Pulled:
    """One peak as the wrench showed it; `lost` on the air, so that nobody hears of it."""

    t: int
    lane: str
    value: str
    unit: str | None
    step: int | None  # index in the plan; None: it serves no step
    slips: tuple[str, ...]
    angle: str | None = None
    against: bool = False
    lost: bool = False
    repeats: bool = False
    traceless: bool = False
    late: bool = False
    counter: int | None = None


@dataclass(frozen=True, slots=True)
class Spoke:
    """Something a person said; `lane` where it is about a wrench."""

    t: int
    word: str
    about: str
    value: str | None = None
    lane: str | None = None
    person: str | None = None


@dataclass(frozen=True, slots=True)
class Marked:
    """The link or the memory of a lane: `what` is lost, up, begin or end."""

    t: int
    lane: str
    what: str
    newest_first: bool = False


Draft = Pulled | Spoke | Marked


@dataclass(frozen=True, slots=True)
class Instrument:
    """One wrench in the job: `silent` never sends its unit, `bits` is the width of its counter, 0 for none."""

    lane: str
    role: str
    unit: str
    digits: int
    low_nm: float
    high_nm: float
    bits: int = 16
    silent: bool = False
