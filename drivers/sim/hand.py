"""A simulated hand: how fast it pulls, when it stops, and the slips it makes. Everything random comes from the seed."""

import random
from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, isfinite

from drivers.sim.joint import Joint

APPROACH_DEG_S = 60.0  # pace while the wrench is still light, at least
NEAR_DEG = 8.0  # the last degrees of a stroke, pulled at the hand's own pace
RESET_S = 0.5  # swinging a ratchet back
FLEX_DEG = 30.0  # wrench and arm wind up this far on a nut that stands still, like a hard joint
ROCKS = (3, 8)  # peaks of a rocking pull, trade experience
ROCK_GAP_S = (0.3, 1.0)
REHIT_GAP_S = (0.6, 1.6)
REHIT_REACH = (0.2, 0.6)  # share of the reaction's angle that one more click adds
SLIP_GAP_S = (1.0, 2.5)
SLIP_SHARE = (0.3, 0.7)
TIGHTEN = "CW"
LOOSEN = "CCW"


@dataclass(frozen=True, slots=True)
class PulledPeak:
    """One peak of torque: seconds since the pull began, newton-metres, degrees turned by this stroke."""

    t_s: float
    torque_nm: float
    turned_deg: float
    stands_deg: float  # where the nut stands afterwards, in the joint's own angle
    direction: str = TIGHTEN


@dataclass(frozen=True, slots=True)
class Hand:
    """How a person pulls. Chances are 0 … 1; `bias` and `spread` (1σ) are shares of the aim.

    The hand lets go when it sees its aim and goes on turning for its reaction time, so a linear joint is
    overshot by slope · pace · reaction. Raises `ValueError` for numbers that no hand can have.
    """

    name: str
    pace_deg_s: float
    reaction_s: float = 0.2
    spread: float = 0.0
    bias: float = 0.0
    pace_spread: float = 0.0  # 1σ of the logarithm of the pace, from pull to pull
    rehit: float = 0.0  # one more click within seconds
    rock: float = 0.0  # a train of rising peaks
    slip: float = 0.0  # the socket slips off first
    skip: float = 0.0  # a position left out
    swap: float = 0.0  # the neighbour is done first
    stroke_deg: float | None = None  # longest stroke of the ratchet; None: one sweep
    rest_s: float = 6.0  # from one position to the next

    def __post_init__(self) -> None:
        if not (isfinite(self.pace_deg_s) and self.pace_deg_s > 0):
            raise ValueError(f"pace_deg_s must be above zero, found {self.pace_deg_s}")
        if self.stroke_deg is not None and self.stroke_deg <= 0:
            raise ValueError(f"stroke_deg must be above zero, found {self.stroke_deg}")
        for name in ("reaction_s", "spread", "pace_spread", "rest_s"):
            if not getattr(self, name) >= 0:
                raise ValueError(f"{name} must not be below zero, found {getattr(self, name)}")
        for name in ("rehit", "rock", "slip", "skip", "swap"):
            if not 0 <= getattr(self, name) <= 1:
                raise ValueError(f"{name} is a chance from 0 to 1, found {getattr(self, name)}")

    def walk(self, order: Sequence[str], rng: random.Random) -> tuple[str, ...]:
        """The positions as this hand visits them: one may be left out, two neighbours may change places."""
        kept = [position for position in order if rng.random() >= self.skip]
        at = 0
        while at + 1 < len(kept):
            if rng.random() < self.swap:
                kept[at], kept[at + 1] = kept[at + 1], kept[at]
                at += 1  # a position is swapped once, so nobody wanders along the whole row
            at += 1
        return tuple(kept)

    def rest(self, rng: random.Random) -> float:
        """Seconds from one position to the next, between half and one and a half of `rest_s`."""
        return self.rest_s * rng.uniform(0.5, 1.5)

    def pull(
        self, joint: Joint, target_nm: float, rng: random.Random, start_deg: float | None = None
    ) -> tuple[PulledPeak, ...]:
        """Pull to a torque from `start_deg` (None: first contact); one or more peaks in order of time."""
        stroke = _Stroke(joint, joint.contact_deg if start_deg is None else start_deg)
        aim_nm = self._aim(target_nm, rng)
        pace_deg_s = self._pace(rng)
        if rng.random() < self.slip:
            stroke.to_torque(aim_nm * rng.uniform(*SLIP_SHARE), pace_deg_s, 0.0)
            stroke.pause(rng.uniform(*SLIP_GAP_S))
        if rng.random() < self.rock:
            self._rock(stroke, aim_nm, pace_deg_s, rng)
        elif self.stroke_deg is not None:
            stroke.ratchet(joint.angle_at(aim_nm), self.stroke_deg)
        stroke.to_torque(aim_nm, pace_deg_s, self.reaction_s)
        self._maybe_rehit(stroke, pace_deg_s, rng)
        return tuple(stroke.peaks)

    def turn(self, joint: Joint, turn_deg: float, rng: random.Random, start_deg: float) -> tuple[PulledPeak, ...]:
        """Turn the nut on by an angle from where it stands; the strokes' turns sum to the whole turn."""
        stroke = _Stroke(joint, start_deg)
        goal_deg = start_deg + self._aim(turn_deg, rng)
        pace_deg_s = self._pace(rng)
        if self.stroke_deg is not None:
            stroke.ratchet(goal_deg, self.stroke_deg)
        stroke.to_angle(goal_deg + pace_deg_s * self.reaction_s, pace_deg_s, self.reaction_s)
        self._maybe_rehit(stroke, pace_deg_s, rng)
        return tuple(stroke.peaks)

    def loosen(self, joint: Joint, rng: random.Random, start_deg: float) -> tuple[PulledPeak, ...]:
        """Break the nut loose against the tightening sense: one peak, the nut free afterwards."""
        # Turning back, the thread's pitch helps: 0.7 … 0.9 of the tightening torque is common experience.
        torque_nm = joint.break_free_nm(start_deg) * rng.uniform(0.7, 0.9)
        free_deg = joint.contact_deg
        return (PulledPeak(self.reaction_s, torque_nm, max(0.0, start_deg - free_deg), free_deg, LOOSEN),)

    def _aim(self, target: float, rng: random.Random) -> float:
        # Held away from zero: a wild spread may not turn a pull into its opposite.
        return target * max(0.05, 1 + self.bias + rng.gauss(0, self.spread))

    def _pace(self, rng: random.Random) -> float:
        return self.pace_deg_s * exp(rng.gauss(0, self.pace_spread))

    def _rock(self, stroke: "_Stroke", aim_nm: float, pace_deg_s: float, rng: random.Random) -> None:
        before_last = rng.randint(*ROCKS) - 1
        for peak in range(before_last):
            stroke.to_torque(aim_nm * (0.5 + 0.45 * (peak + 1) / before_last), pace_deg_s, 0.0)
            stroke.pause(rng.uniform(*ROCK_GAP_S))

    def _maybe_rehit(self, stroke: "_Stroke", pace_deg_s: float, rng: random.Random) -> None:
        if rng.random() < self.rehit:
            stroke.pause(rng.uniform(*REHIT_GAP_S))
            reach_deg = pace_deg_s * self.reaction_s * rng.uniform(*REHIT_REACH)
            stroke.to_angle(stroke.at_deg + reach_deg, pace_deg_s, self.reaction_s)


class _Stroke:
    """The nut as strokes move it, and the peaks so far."""

    def __init__(self, joint: Joint, start_deg: float) -> None:
        self.joint = joint
        self.at_deg = start_deg
        self.t_s = 0.0
        self.peaks: list[PulledPeak] = []

    def pause(self, seconds: float) -> None:
        self.t_s += seconds

    def to_torque(self, aim_nm: float, pace_deg_s: float, reaction_s: float) -> None:
        """Pull until `aim_nm` is seen, then for the reaction time; a nut at rest may stand still."""
        break_nm = self.joint.break_free_nm(self.at_deg)
        if aim_nm > break_nm:
            stop_deg = self.joint.angle_at(aim_nm) + pace_deg_s * reaction_s
            self._peak(stop_deg, self.joint.torque_at(stop_deg), pace_deg_s, reaction_s)
            return
        wound_nm = aim_nm * (1 + pace_deg_s * reaction_s / FLEX_DEG)
        if wound_nm <= break_nm:
            self._peak(self.at_deg, wound_nm, pace_deg_s, reaction_s)
        else:
            # It breaks free and jumps to where friction in motion balances what the arm still holds.
            self._peak(self.joint.angle_at(break_nm), break_nm, pace_deg_s, reaction_s)

    def to_angle(self, stop_deg: float, pace_deg_s: float, reaction_s: float) -> None:
        """Turn until the nut stands at `stop_deg`; the peak is at least what sets it free."""
        torque_nm = max(self.joint.break_free_nm(self.at_deg), self.joint.torque_at(stop_deg))
        self._peak(stop_deg, torque_nm, pace_deg_s, reaction_s)

    def ratchet(self, goal_deg: float, stroke_deg: float) -> None:
        """All strokes but the last of the way to `goal_deg`."""
        while goal_deg - self.at_deg > stroke_deg:
            self.to_angle(self.at_deg + stroke_deg, APPROACH_DEG_S, 0.0)
            self.pause(RESET_S)

    def _peak(self, stop_deg: float, torque_nm: float, pace_deg_s: float, reaction_s: float) -> None:
        turned_deg = max(0.0, stop_deg - self.at_deg)
        near_deg = min(turned_deg, NEAR_DEG)
        self.t_s += (turned_deg - near_deg) / max(pace_deg_s, APPROACH_DEG_S) + near_deg / pace_deg_s + reaction_s
        self.at_deg = max(self.at_deg, stop_deg)
        self.peaks.append(PulledPeak(self.t_s, torque_nm, turned_deg, self.at_deg))


# Defaults to be tuned, not truth: practised people spread 2 … 4 % (1σ) on soft joints, beginners twice that.
CAREFUL = Hand("careful", pace_deg_s=6.0, spread=0.02, bias=-0.02, rest_s=8.0)
HURRIED = Hand(
    "hurried",
    pace_deg_s=25.0,
    pace_spread=0.35,
    spread=0.04,
    rehit=0.12,
    rock=0.06,
    slip=0.02,
    skip=0.03,
    swap=0.04,
    rest_s=4.0,
)
HANDS: dict[str, Hand] = {hand.name: hand for hand in (CAREFUL, HURRIED)}
