"""What a person typed of a display, what was made of a capture, and why nothing could be made of it."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from drivers.errors import ProfileError
from drivers.wire.profile import Field, Kind, Number, Order

Resolve = Callable[[str], str | None]  # the canonical unit of a token; None where it is none
SKIP = "skip"
_PLAIN = Number()
_SHOWN = re.compile(
    r"(?P<sign>[+-]?)(?P<value>[0-9]{1,9}(?:[.,][0-9]{1,6})?)"
    r"(?:[ ]+(?P<unit>(?!CC?W\b|#)\S+(?:[ ]+(?!CC?W\b|#)\S+)?))?"
    r"(?:[ ]+(?P<turn>CC?W))?(?:[ ]+#(?P<counter>[0-9]{1,10}))?",
    re.IGNORECASE,
)


class Sure(StrEnum):
    """How sure something learnt is."""

    PROVEN = "proven"  # many messages agree, or the person typed it
    LIKELY = "likely"  # fits all that was seen, and little else would
    OPEN = "open"  # could not be told


@dataclass(frozen=True, slots=True)
class Shown:
    """One pull as its display showed it; a skipped one has no value. `unit` is canonical."""

    value: Decimal | None
    places: int = 0
    unit: str | None = None
    direction: str | None = None  # CCW where the person says so, else CW
    counter: int | None = None


@dataclass(frozen=True, slots=True)
class Told:
    """One thing that was learnt or could not be: how sure, and the code of its sentence with arguments."""

    sure: Sure
    code: str
    args: tuple[str, ...] = ()
    table: str = ""  # table of the profile that it is about, as `write` names it


@dataclass(frozen=True, slots=True)
class Asked:
    """All that is known besides the bytes."""

    shown: tuple[Shown, ...]
    resolve: Resolve
    serial: str | None = None
    only_unit: str | None = None  # canonical; the person says that the wrench knows no other
    most: Decimal | None = None  # largest number that the display can show, in whatever unit

    @property
    def typed(self) -> tuple[Shown, ...]:
        """The pulls that were not skipped."""
        return tuple(each for each in self.shown if each.value is not None)


@dataclass(frozen=True, slots=True)
class Layout:
    """One way in which the bodies of all messages read; `spot` tells where the value stands in each."""

    kind: Kind
    fields: tuple[Field, ...]
    spot: tuple[int, ...]
    told: tuple[Told, ...]
    separator: bytes = b""
    number: Number = _PLAIN
    order: Order = Order.BIG
    unit: str | None = None
    pattern: str = ""
    write: str | None = None


class NotLearnt(ProfileError):
    """The capture and what was typed leave it open how the messages read; the code says what would settle it.

    `deep` grows with how far the search came; the deepest reason is the one to tell.
    """

    def __init__(self, deep: int, code: str, *args: str) -> None:
        super().__init__(code, *args)
        self.deep = deep


def parse_shown(text: str, resolve: Resolve) -> Shown:
    """`VALUE[ UNIT][ CCW][ #COUNTER]` or `skip`; a unit may be two words. Raises `ProfileError`."""
    if text.strip().lower() == SKIP:
        return Shown(None)
    found = _SHOWN.fullmatch(text.strip())
    if found is None:
        raise ProfileError("profile.shown-form", text)
    number = found["value"].replace(",", ".")
    said = " ".join((found["unit"] or "").split())
    unit = resolve(said) if said else None
    if said and unit is None:
        raise ProfileError("profile.shown-unit", text, said)
    turn = (found["turn"] or "").upper()
    if found["sign"] == "-" and turn == "CW":
        raise ProfileError("profile.shown-form", text)
    direction = "CCW" if found["sign"] == "-" or turn == "CCW" else "CW"
    counter = None if found["counter"] is None else int(found["counter"])
    return Shown(Decimal(number), len(number.partition(".")[2]), unit, direction, counter)
