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
    """Clamp load in N of a torque in N·m: F = T/(K·D), the usual short form, elastic, without prevailing torque.

    Holds as far as K was found for that size, finish and lubricant; ± 25 % is usual. Raises `ValueError` for a nut
    factor that is not above zero.
    """
    if not nut_factor > 0:
        raise ValueError("a nut factor is above zero")
    return torque_nm * 1000 / (nut_factor * of.diameter_mm)


def torque_nm(clamp: float, nut_factor: float, of: Thread) -> float:
    """Torque in N·m of a clamp load in N: T = K·D·F, the inverse of `clamp_n` with the same validity."""
    return nut_factor * of.diameter_mm * clamp / 1000


def bearing_mm(of: Thread) -> float:
    """Mean diameter of the bearing face in mm, D_Km = (d_w + d_h)/2.

    Of hexagon heads on medium holes for metric M8 to M24 (ISO 4014 and ISO 273, from memory), else 1.3·d as an example
    of JIS B 1083 has it; flange heads and large washers have more.
    """
    known = None if of.inch else HEXAGON.get(of.diameter_mm)
    return _BEARING * of.diameter_mm if known is None else (known[0] + known[1]) / 2


def friction_torque_nm(clamp: float, of: Thread, thread_friction: float, head_friction: float, face_mm: float) -> float:
    """Torque in N·m of a clamp load in N, face in mm: M_A = F·(0.16·P + 0.58·d2·μ_G + μ_K·D_Km/2).

    Kellermann and Klein, as in VDI 2230: flanks of 60°, elastic, frictions from about 0.04 to 0.4.
    """
    head = head_friction * face_mm / 2
    return clamp * (_thread_arm_mm(of, thread_friction) + head) / 1000


def nut_factor(of: Thread, thread_friction: float, head_friction: float, face_mm: float) -> float:
    """The K without unit that stands for those frictions, face in mm: M_A/(F·d), as valid as `friction_torque_nm`."""
    return friction_torque_nm(1000, of, thread_friction, head_friction, face_mm) / of.diameter_mm


def even_friction(of: Thread, factor: float) -> float:
    """The one friction, in thread and under the head alike, that a nut factor stands for; without unit.

    `nut_factor` solved for it with `bearing_mm`; 0 where the pitch alone takes all of K, below about 0.03.
    """
    arm = factor * of.diameter_mm - 0.16 * of.pitch_mm
    return max(arm / (0.58 * of.pitch_diameter_mm + bearing_mm(of) / 2), 0.0)


def assembly_clamp_n(of: Thread, strength: Grade, thread_friction: float, share: float = _NU) -> float:
    """Clamp load at which tension and twist together use that share of the yield, N (VDI 2230, F_M Tab, from memory).

    For bolts as thick in the shank as in the thread, twist plastic over the whole section. Its table of fine threads M8
    to M24, friction 0.10 to 0.14, is met within 0.4 %.
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


def load(torque: float, factor: float, of: Thread, strength: Grade, thread_friction: float | None = None) -> Load:
    """What a torque in N·m does to a fastener at that nut factor, elastic: σ = F/A_s, τ = 16·M_G/(π·d_s³), √(σ² + 3τ²).

    M_G is the thread's share of the torque (Kellermann and Klein), at its own friction where it is known apart, else at
    `even_friction`. VDI 2230 takes the twist as plastic, which gives up to a tenth less. Shares above 1 say by how much
    the elastic reckoning is exceeded, not what the bolt then carries. Raises `ValueError` as `clamp_n` does.
    """
    clamp = clamp_n(torque, factor, of)
    tension = clamp / of.stress_area_mm2
    friction = even_friction(of, factor) if thread_friction is None else thread_friction
    twisting = clamp * _thread_arm_mm(of, friction)  # N·mm
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


def band(
    torque: float,
    factor: float,
    of: Thread,
    strength: Grade,
    scatter: float = SCATTER,
    thread_friction: float | None = None,
) -> Band:
    """Loads of a torque in N·m at K·(1 − scatter), K and K·(1 + scatter), a friction known apart changing alike.

    Raises `ValueError` unless 0 ≤ scatter < 1, and as `clamp_n` does.
    """
    if not 0 <= scatter < 1:
        raise ValueError("a scatter is at least 0 and below 1")

    def at(part: float) -> Load:
        apart = None if thread_friction is None else thread_friction * part
        return load(torque, factor * part, of, strength, apart)

    return Band(at(1 - scatter), at(1), at(1 + scatter))


def _thread_arm_mm(of: Thread, friction: float) -> float:
    return 0.16 * of.pitch_mm + 0.58 * of.pitch_diameter_mm * friction
