"""A simulated wrench: a peak in newton-metres becomes the value text that a display would show, and bytes."""

import random
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import ROUND_HALF_EVEN, Decimal

from drivers.sim.hand import PulledPeak
from drivers.wire.encode import encode
from drivers.wire.packets import PACKET, packets
from drivers.wire.profile import FieldName, Form, Profile

LOW_BATTERY_MISSES = 0.2  # chance that a transmission never leaves a wrench whose battery is low
CLOCK_ZERO = datetime(2024, 1, 1)  # noqa: DTZ001  # a wrench's clock has no zone; 0 s of one that shows a date
ANGLE_RESOLUTION = Decimal("0.1")


@dataclass(frozen=True, slots=True)
class Scale:
    """A unit that the wrench can show: its token on the wire, newton-metres per unit, smallest step shown."""

    unit_token: str
    newton_metres_per_unit: Decimal
    resolution: Decimal

    def __post_init__(self) -> None:
        if not self.newton_metres_per_unit > 0:
            raise ValueError(f"newton_metres_per_unit must be above zero, found {self.newton_metres_per_unit}")
        if not self.resolution > 0:
            raise ValueError(f"resolution must be above zero, found {self.resolution}")

    def text(self, torque_nm: float) -> str:
        """Torque as shown: unsigned, without exponent, to the nearest step; nothing below zero is shown."""
        return stepped(Decimal(torque_nm) / self.newton_metres_per_unit, self.resolution)


@dataclass(frozen=True, slots=True)
class Instrument:
    """What kind of wrench it is. Torques in newton-metres; `bias` is a share; `counter_bits` 0 means no counter."""

    serial: str
    scales: tuple[Scale, ...]  # the unit key steps through them
    low_nm: float  # nothing below is sent
    high_nm: float  # the top of its scale
    bias: float = 0.0
    zero_nm: float = 0.0  # zero was set under load
    noise_nm: float = 0.0  # 1σ
    counter_bits: int = 32
    sends_unit: bool = True
    sends_angle: bool = False
    checksum: bool = True
    memory_size: int = 500  # the oldest transmission is overwritten
    keeps_all: bool = False  # what it could send too
    live_samples: int = 0  # sent on the way to each peak, by a profile that has a live stream
    packet: int = PACKET  # bytes of one packet, where its profile speaks in packets

    def __post_init__(self) -> None:
        if not self.scales:
            raise ValueError("a wrench needs at least one scale")
        if not 0 <= self.low_nm < self.high_nm:
            raise ValueError(f"low_nm must lie between 0 and high_nm, found {self.low_nm} and {self.high_nm}")
        if self.counter_bits < 0 or self.memory_size < 0 or self.live_samples < 0:
            raise ValueError("counter_bits, memory_size and live_samples must not be below zero")


class SimWrench:
    """An instrument that speaks `profile`; it counts its pulls, and keeps what it cannot send.

    `power_up` starts the counter at `counter_start`. A raised `battery_low` makes it miss transmissions.
    """

    def __init__(self, profile: Profile, instrument: Instrument, *, counter_start: int = 1) -> None:
        self.profile = profile
        self.instrument = instrument
        self.scale = instrument.scales[0]
        self.link_up = True
        self.battery_low = False
        self.overloaded = False  # stays until a check
        self._counter = counter_start
        self.clock_s: int | None = None  # its own clock at this moment; None: it was never set
        self._memory: list[tuple[int | None, bytes]] = []  # counter and transmission

    def switch_unit(self, unit_token: str | None = None) -> str:
        """Press the unit key until that token shows (None: once); the token now shown. Raises `ValueError`."""
        scales = self.instrument.scales
        if unit_token is None:
            self.scale = scales[(scales.index(self.scale) + 1) % len(scales)]
            return self.scale.unit_token
        for scale in scales:
            if scale.unit_token == unit_token:
                self.scale = scale
                return unit_token
        raise ValueError(f"wrench {self.instrument.serial} has no scale {unit_token!r}")

    def power_up(self, counter_start: int = 1) -> None:
        """Batteries changed: first scale, counter as given, memory kept."""
        self.scale = self.instrument.scales[0]
        self.battery_low = False
        self._counter = counter_start

    def shown(self, torque_nm: float, rng: random.Random) -> str:
        """Value text of a true torque on the scale now set, with bias, zero and noise."""
        instrument = self.instrument
        return self.scale.text(
            torque_nm * (1 + instrument.bias) + instrument.zero_nm + rng.gauss(0, instrument.noise_nm)
        )

    def report(self, peak: PulledPeak, rng: random.Random) -> bytes:
        """Bytes that leave the wrench for a peak, joined; see `send`."""
        return b"".join(self.send(peak, rng))

    def send(self, peak: PulledPeak, rng: random.Random) -> tuple[bytes, ...]:
        """What leaves the wrench at a time for a peak: a message, or a packet of one where its profile has packets.

        Nothing does below its threshold, and while the link is lost it goes into memory.
        Samples of a live stream go before the peak and are never kept. Raises `ProfileError` for what the profile
        cannot say.
        """
        value = self.shown(peak.torque_nm, rng)
        missed = rng.random() < LOW_BATTERY_MISSES and self.battery_low
        if peak.torque_nm < self.instrument.low_nm:
            return ()
        if peak.torque_nm > self.instrument.high_nm * 1.25:
            # 125 % of the top of the scale is the overload that a hand torque tool must stand (ISO 6789, from memory).
            self.overloaded = True
        counter = self._count()
        transmission = self._transmission(value, peak, counter)
        if self.instrument.keeps_all or not (self.link_up or missed):
            marked = self.profile.marks_memory
            kept = self._transmission(value, peak, counter, memory=True) if marked else transmission
            self._memory.append((counter, kept))
            del self._memory[: max(0, len(self._memory) - self.instrument.memory_size)]
        if missed or not self.link_up:
            return ()
        return tuple(part for message in (*self._stream(peak, rng), transmission) for part in self.parts(message))

    def parts(self, transmission: bytes) -> tuple[bytes, ...]:
        """What is sent at a time of one of its transmissions."""
        return packets(self.profile, transmission, self.instrument.packet)

    @property
    def stored(self) -> tuple[bytes, ...]:
        """Transmissions in memory, oldest first."""
        return tuple(transmission for _, transmission in self._memory)

    def stored_after(self, counter: int | None) -> tuple[bytes, ...]:
        """Transmissions in memory behind the last one with that counter; all of them where there is none."""
        places = [at for at, (kept, _) in enumerate(self._memory, 1) if counter is not None and kept == counter]
        return self.stored[places[-1] if places else 0 :]

    def download(self, newest_first: bool = False) -> tuple[bytes, ...]:
        """The memory as it is sent on request; it stays in memory and comes again with the next request."""
        return self.stored[::-1] if newest_first else self.stored

    def clear_memory(self) -> None:
        """Forget all that is stored."""
        self._memory.clear()

    def _stream(self, peak: PulledPeak, rng: random.Random) -> list[bytes]:
        count = self.instrument.live_samples
        steps = [peak.torque_nm * step / (count + 1) for step in range(1, count + 1)]
        return [
            encode(
                self.profile,
                serial=self.instrument.serial,
                counter=None,
                value=self.shown(torque_nm, rng),
                unit=self.scale.unit_token if self.instrument.sends_unit else None,
                direction=peak.direction,
                live=True,
                packet=self.instrument.packet,
            )
            for torque_nm in steps
        ]

    def _count(self) -> int | None:
        if not self.instrument.counter_bits:
            return None
        span = 1 << self.instrument.counter_bits
        counter = self._counter % span
        self._counter = (counter + 1) % span
        return counter

    def _time(self) -> str | None:
        field = self.profile.field(FieldName.TIME)
        if field is None or self.clock_s is None:
            return None
        return str(self.clock_s) if field.form is Form.SECONDS else f"{CLOCK_ZERO + timedelta(seconds=self.clock_s)}"

    def _transmission(self, value: str, peak: PulledPeak, counter: int | None, *, memory: bool = False) -> bytes:
        return encode(
            self.profile,
            serial=self.instrument.serial,
            counter=counter,
            value=value,
            unit=self.scale.unit_token if self.instrument.sends_unit else None,
            direction=peak.direction,
            angle=stepped(Decimal(peak.turned_deg), ANGLE_RESOLUTION) if self.instrument.sends_angle else None,
            checksum=self.instrument.checksum,
            packet=self.instrument.packet,
            memory=memory,
            time=self._time(),
        )


def stepped(value: Decimal, step: Decimal) -> str:
    """Unsigned decimal text of `value` to the nearest `step`, ties to even, with the places of `step`."""
    # Through a whole number: a decimal zero may carry a sign or places of its own, and "0.0" would become "-0" or "0".
    steps = max(0, int((value / step).to_integral_value(ROUND_HALF_EVEN)))
    return f"{steps * step:f}"
