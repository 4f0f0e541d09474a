"""What is proven of a wrench by what, before it is used for the first time or whenever somebody wants to know.

Identity, unit, zero and battery are proven at its link, certificate and range by its papers. What could not be looked
at is not proven, except a battery: a wrench may tell nothing of it.
"""

import re
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from bridge.core.events import WrenchAdded
from bridge.core.events_links import WrenchProven
from bridge.core.health import LOW_BATTERY, LOW_PERCENT
from drivers.reading import Message, Told
from specs import units

NO_UNIT_SENT = frozenset({"display", "check"})  # how the unit is proven where its messages name none
# A number this near to a known torque is in the unit it is read in: ISO 6789-1 lets a wrench be off by 4 % or 6 % by
# its class (from memory), and no two units on one wrench lie as near as that, but kgf·cm and dN·m (2 %).
CHECK_SHARE = Fraction(6, 100)
_NUMBER = re.compile(r"\s*-?(\d+(?:[.,]\d+)?)\s*(.*)", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Shown:
    """What a person reads off a display: the number as it stands there, and its canonical unit, if one was named."""

    number: Decimal
    unit: str | None
    check: bool = False  # not shown, but a known torque that the wrench was pulled to


@dataclass(frozen=True, slots=True)
class Prover:
    """One wrench, as it is registered, at one link."""

    wrench: WrenchAdded
    link: str

    def certificate(self, today: date) -> WrenchProven:
        """Whether it has one in date."""
        due = self.wrench.due_on
        if self.wrench.certificate is None or due is None:
            return self._not("certificate", "papers", "proving.certificate-missing", self.wrench.serial)
        if date.fromisoformat(due) < today:
            return self._not("certificate", "papers", "proving.certificate-out", due)
        return self._is("certificate", "papers", "proving.certificate", self.wrench.certificate, due)

    def range(self) -> WrenchProven:
        """Whether it is known from where to where it may be used."""
        points = sorted((_nm(point.at), point.at) for point in self.wrench.points)
        if len(points) > 1:
            return self._is("range", "papers", "proving.range-verified", points[0][1], points[-1][1])
        if self.wrench.low is not None and self.wrench.high is not None:
            return self._is("range", "papers", "proving.range-stated", self.wrench.low, self.wrench.high)
        return self._not("range", "papers", "proving.range-missing", self.wrench.serial)

    def identity(self, message: Message | None, told: Told, typed: str) -> WrenchProven:
        """Whether it is the wrench that is registered: by what it sends, else by what stands on it."""
        wanted = self.wrench.serial
        for how, found in (
            ("message", message.serial if message is not None else None),
            ("device", told.serial),
            ("typed", typed.strip()),
        ):
            if found:
                if found == wanted:
                    return self._is("identity", how, f"proving.identity-{how}", found)
                return self._not("identity", how, "proving.identity-other", found, wanted)
        return self._not("identity", "nothing", "proving.identity-none")

    def unit(self, message: Message | None, shown: Shown | None) -> WrenchProven:
        """Whether number and unit of a message are those on the display, or those of a known torque."""
        if message is None:
            return self._not("unit", "nothing", "proving.unit-no-pull")
        if shown is None or shown.unit is None:
            return self._not("unit", "nothing", "proving.unit-not-read")
        sent = None if not message.unit else _canonical(message.unit)
        how = "profile" if message.unit_fixed else "message" if message.unit else "check" if shown.check else "display"
        if message.unit and sent is None:
            return self._not("unit", how, "proving.unit-strange", message.unit[:40])
        if not Decimal(message.value):
            return self._not("unit", how, "proving.unit-nought", message.value)
        if shown.check:
            return self._checked(message, shown, sent or self.wrench.unit, how)
        display, told = f"{shown.number} {shown.unit}", f"{message.value} {sent or ''}".strip()
        if shown.number != Decimal(message.value) or sent not in (None, shown.unit):
            return self._not("unit", how, "proving.unit-differs", display, told)
        return self._is("unit", how, f"proving.unit-{how}", shown.unit)

    def zero(self, message: Message | None, stream: str | None, shown: Shown | None) -> WrenchProven:
        """Whether it shows nought at rest, on its live stream, its display, or both.

        One in the last digit is let pass, as finely as the message of a pull shows that it reads.
        """
        found = [Decimal(stream)] if stream is not None else []
        found += [shown.number] if shown is not None else []
        how = "stream" if stream is not None else "display"
        if not found:
            return self._not("zero", "nothing", "proving.zero-not-read")
        least = Decimal(0) if message is None else Decimal(1).scaleb(int(Decimal(message.value).as_tuple().exponent))
        for number in found:
            if abs(number) > least:
                return self._not("zero", how, "proving.zero-off", str(number))
        return self._is("zero", how, f"proving.zero-{how}", str(found[0]))

    def battery(self, message: Message | None, told: Told) -> WrenchProven:
        """Whether its battery will last, as far as it tells."""
        if told.battery is not None:
            args = ("battery", "device", "proving.battery", str(told.battery))
            return self._is(*args) if told.battery >= LOW_PERCENT else self._not(*args)
        if message is not None and LOW_BATTERY in message.flags:
            return self._not("battery", "message", "proving.battery-low")
        return WrenchProven(self.wrench.serial, self.link, "battery", "nothing", "not told", "proving.battery-not-told")

    def _checked(self, message: Message, shown: Shown, unit: str, how: str) -> WrenchProven:
        known = units.newton_metres(shown.number, shown.unit or "")
        sent = units.newton_metres(Decimal(message.value), unit)
        torque = f"{shown.number} {shown.unit}"
        if known and abs(sent - known) <= known * CHECK_SHARE:
            return self._is("unit", how, "proving.unit-check", f"{message.value} {unit}", torque)
        return self._not("unit", how, "proving.unit-check-off", f"{message.value} {unit}", torque)

    def _is(self, what: str, how: str, code: str, *args: str) -> WrenchProven:
        return WrenchProven(self.wrench.serial, self.link, what, how, "proven", code, args)

    def _not(self, what: str, how: str, code: str, *args: str) -> WrenchProven:
        return WrenchProven(self.wrench.serial, self.link, what, how, "not proven", code, args)


def shown(typed: str) -> Shown:
    """What a person typed: `45.3 ft·lb`, `45,3 ft.lb`, `0.0`, `check 20 N·m`. Raises `UnitError`, `ValueError`."""
    text = typed.strip()
    check = text.lower().startswith("check ")
    found = _NUMBER.fullmatch(text[len("check ") :] if check else text)
    if found is None:
        raise ValueError(typed)
    unit = units.canonical(found[2]) if found[2].strip() else None
    return Shown(Decimal(found[1].replace(",", ".")), unit, check)


def _nm(torque: str) -> Fraction:
    number, _, unit = torque.partition(" ")
    return units.newton_metres(Decimal(number), units.canonical(unit))


def _canonical(token: str) -> str | None:
    try:
        return units.canonical(token)
    except units.UnitError:
        return None
