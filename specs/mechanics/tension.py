"""From the torque at a fastener to its clamp load, and from both to the stress in its thread.

Torque in N·m, force in N, lengths in mm, stress in MPa. A nut factor K stands for all friction together; where the
friction of thread and of head is known apart, the formula of Kellermann and Klein says more.
"""

from dataclasses import dataclass
from math import pi, sqrt

from specs.mechanics.grade import Grade
from specs.mechanics.thread import Thread

SCATTER = 0.25  # of the clamp load that a torque wrench gives, ± (Machinery's Handbook figures)
_BEARING = 1.3  # mean diameter of an unknown bearing face to that of the thread (as an example of JIS B 1083)
_NU = 0.9  # share of the yield that assembly may use (VDI 2230)

# Bearing face of a hexagon head and clearance hole (ISO 4014 and ISO 273 medium, from memory), mm
HEXAGON: dict[float, tuple[float, float]] = {
    8: (11.63, 9), 10: (14.63, 11), 12: (16.63, 13.5), 14: (19.64, 15.5), 16: (22.49, 17.5), 18: (25.34, 20),
    20: (28.19, 22), 22: (31.71, 24), 24: (33.61, 26),
}  # fmt: skip


def clamp_n(torque_nm: float, nut_factor: float, of: Thread) -> float:
    """F = T/(K·D), N. Raises `ValueError` for a nut factor that is not above zero."""
    if not nut_factor > 0:
        raise ValueError("a nut factor is above zero")
    return torque_nm * 1000 / (nut_factor * of.diameter_mm)


def torque_nm(clamp: float, nut_factor: float, of: Thread) -> float:
    """T = K·D·F, N·m."""
    return nut_factor * of.diameter_mm * clamp / 1000


def bearing_mm(of: Thread) -> float:
    """Mean diameter of the bearing face, D_Km = (d_w + d_h)/2: of a hexagon head where it is known."""
    known = None if of.inch else HEXAGON.get(of.diameter_mm)
    return _BEARING * of.diameter_mm if known is None else (known[0] + known[1]) / 2


def friction_torque_nm(clamp: float, of: Thread, thread_friction: float, head_friction: float, face_mm: float) -> float:
    """M_A = F·(0.16·P + 0.58·d2·μ_G + μ_K·D_Km/2), N·m (Kellermann and Klein; VDI 2230)."""
    head = head_friction * face_mm / 2
    return clamp * (_thread_arm_mm(of, thread_friction) + head) / 1000


def nut_factor(of: Thread, thread_friction: float, head_friction: float, face_mm: float) -> float:
    """The K that stands for that friction: M_A/(F·d)."""
    return friction_torque_nm(1000, of, thread_friction, head_friction, face_mm) / of.diameter_mm


def even_friction(of: Thread, factor: float) -> float:
    """The one friction, in thread and under the head alike, that a nut factor stands for; 0 where it leaves none."""
    arm = factor * of.diameter_mm - 0.16 * of.pitch_mm
    return max(arm / (0.58 * of.pitch_diameter_mm + bearing_mm(of) / 2), 0.0)


def assembly_clamp_n(of: Thread, strength: Grade, thread_friction: float, share: float = _NU) -> float:
    """Clamp load at which tension and twist together use that share of the yield, N (VDI 2230, F_M Tab).

    F = ν·R_p0.2·A_0/√(1 + 3·[1.5·(d2/d0)·(P/(π·d2) + 1.155·μ_G)]²) with d0 = (d2 + d3)/2.
    """
    d2 = of.pitch_diameter_mm
    d0 = (d2 + of.root_diameter_mm) / 2
    twist = 1.5 * d2 / d0 * (of.pitch_mm / (pi * d2) + 1.155 * thread_friction)
    return share * strength.yield_mpa * pi / 4 * d0**2 / sqrt(1 + 3 * twist**2)


@dataclass(frozen=True, slots=True)
class Load:
    """A fastener while it is tightened: clamp load in N, stresses in MPa, shares of proof and yield, 1 for all."""

    clamp_n: float
    tension_mpa: float
    combined_mpa: float  # von Mises of tension and of the twist that the thread's friction gives
    of_proof: float
    combined_of_proof: float
    combined_of_yield: float


def load(torque: float, factor: float, of: Thread, strength: Grade) -> Load:
    """What a torque in N·m does to a fastener at that nut factor, its friction taken as even."""
    clamp = clamp_n(torque, factor, of)
    tension = clamp / of.stress_area_mm2
    twisting = clamp * _thread_arm_mm(of, even_friction(of, factor))  # N·mm
    shear = twisting / (pi / 16 * of.stress_diameter_mm**3)
    combined = sqrt(tension**2 + 3 * shear**2)
    return Load(
        clamp,
        tension,
        combined,
        tension / strength.proof_mpa,
        combined / strength.proof_mpa,
        combined / strength.yield_mpa,
    )


@dataclass(frozen=True, slots=True)
class Band:
    """The same torque with little, usual and much friction."""

    slippery: Load  # the highest clamp load
    usual: Load
    dry: Load  # the lowest


def band(torque: float, factor: float, of: Thread, strength: Grade, scatter: float = SCATTER) -> Band:
    """Loads at K·(1 − scatter), K and K·(1 + scatter). Raises `ValueError` unless 0 ≤ scatter < 1."""
    if not 0 <= scatter < 1:
        raise ValueError("a scatter is at least 0 and below 1")
    low, high = factor * (1 - scatter), factor * (1 + scatter)
    return Band(load(torque, low, of, strength), load(torque, factor, of, strength), load(torque, high, of, strength))


def _thread_arm_mm(of: Thread, friction: float) -> float:
    return 0.16 * of.pitch_mm + 0.58 * of.pitch_diameter_mm * friction
