"""How far a joint gives way: bolt and clamped parts as springs, and what follows for turns, settling and neighbours.

Compliance in mm/N, lengths in mm, force in N, angles in degrees. Steel on steel with a hexagon head and a nut, straight
and concentric: the plain case of VDI 2230, part 1 (formulae from memory). Gaskets and soft parts give far more.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import log, pi

from specs.mechanics.thread import Thread

STEEL_MPA = 205_000.0  # modulus of elasticity
SETTLING_MM = 0.008  # embedding of a joint of few rough faces in all (VDI 2230 tables 3 to 13 µm and more, from memory)
REACTION_S = 0.2  # from the signal of a wrench to the end of the pull (common practice, no source)
_CONE = 0.5  # tangent of the half angle of the cone in which parts are pressed together
_FACE = 1.4  # outer diameter of a bearing face to that of the thread
_HOLE = 1.1  # clearance hole to thread


@dataclass(frozen=True, slots=True)
class Springs:
    """Compliance of the bolt and of what it clamps, mm/N."""

    bolt: float
    parts: float

    @property
    def both(self) -> float:
        """δ_S + δ_P."""
        return self.bolt + self.parts


def springs(of: Thread, grip_mm: float, threaded: float = 0.5) -> Springs:
    """Compliance in mm/N of a bolt with head and nut and of its press cone in steel; grip in mm, in part threaded.

    For parts at least as wide as the cone, d + l/2 or so, and grips of about 1 to 10 diameters; VDI 2230,
    part 1, from memory, with tan φ = 0.5 for its formula of φ.
    δ_S = [(0.5·d + (1 − s)·l + 0.4·d)/A_N + (s·l + 0.5·d)/A_3]/E, s the threaded share;
    δ_P = 2·ln[(d_W + d_h)(d_W + l·tan φ − d_h)/((d_W − d_h)(d_W + l·tan φ + d_h))]/(E·π·d_h·tan φ).
    Raises `ValueError` unless the grip is above zero and the share from 0 to 1.
    """
    if not grip_mm > 0 or not 0 <= threaded <= 1:
        raise ValueError("a grip is above zero, and its threaded share from 0 to 1")
    d = of.diameter_mm
    thick = (0.9 * d + (1 - threaded) * grip_mm) / of.nominal_area_mm2
    thin = (threaded * grip_mm + 0.5 * d) / of.root_area_mm2
    bolt = (thick + thin) / STEEL_MPA
    face, hole = _FACE * d, _HOLE * d
    wide = face + grip_mm * _CONE
    parts = 2 * log((face + hole) * (wide - hole) / ((face - hole) * (wide + hole))) / (STEEL_MPA * pi * hole * _CONE)
    return Springs(bolt, parts)


def turn_deg(of: Thread, joint: Springs, clamp_n: float) -> float:
    """Turn of the nut in degrees from first true contact to that clamp load in N: 360·F·(δ_S + δ_P)/P.

    Elastic geometry, so up to the yield, and without the turn that closes gaps or that a soft part takes.
    """
    return 360 * clamp_n * joint.both / of.pitch_mm


def clamp_after_turn_n(of: Thread, joint: Springs, snug_n: float, turn: float) -> float:
    """Clamp load in N after a further turn in degrees from a snug load in N, as long as nothing yields.

    The inverse of `turn_deg`: F + turn/360·P/(δ_S + δ_P). Valid from a snug that has closed all gaps.
    """
    return snug_n + turn / 360 * of.pitch_mm / joint.both


def settled_n(joint: Springs, settling_mm: float = SETTLING_MM) -> float:
    """Clamp load in N that is lost when the faces embed by that many mm: f_Z/(δ_S + δ_P) (VDI 2230, from memory).

    For metal faces without a gasket, and loads above the loss: no joint loses more than it holds.
    """
    return settling_mm / joint.both


def overshoot_share(pace_deg_s: float, to_target_deg: float, reaction_s: float = REACTION_S) -> float:
    """By how much a pull goes past its target, as a share of it: ω·t_r/A, torque rising evenly over the angle A.

    Pace in degrees a second, angle in degrees, reaction in s. Arithmetic of our own, for shares well below 1: nothing
    yields, and arm and wrench have no inertia.
    Raises `ValueError` unless the angle is above zero.
    """
    if not to_target_deg > 0:
        raise ValueError("an angle to the target is above zero")
    return pace_deg_s * reaction_s / to_target_deg


def after_one_round(order: Sequence[int], coupling: Mapping[int, float]) -> tuple[float, ...]:
    """What each fastener of a ring still holds when all were tightened once, as a share of what it was given.

    `order` holds each index 0 … n−1 once; `coupling` says what share of the load given to a fastener its neighbours at
    that distance round the ring lose (below zero: gain). Elastic interaction, linear: F_j −= c(|i − j|)·ΔF_i. A model
    of the trade for one round of equal torques, shares from −1 to 1; published losses are at most about 0.35.
    Raises `ValueError` where `order` is no permutation.
    """
    count = len(order)
    if sorted(order) != list(range(count)):
        raise ValueError("the order names each fastener once")
    held = [0.0] * count
    for tightened in order:
        gained = 1.0 - held[tightened]
        held[tightened] = 1.0
        for other in range(count):
            apart = min((other - tightened) % count, (tightened - other) % count)
            if apart and held[other] > 0:
                held[other] -= coupling.get(apart, 0.0) * gained
    return tuple(held)
