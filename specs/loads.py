"""What each tightening of a sheet does to its fastener, as far as the sheet says thread, grade and friction."""

from dataclasses import dataclass

from specs import units
from specs.mechanics.grade import Grade, grade
from specs.mechanics.stiffness import (
    after_one_round,
    clamp_after_turn_n,
    overshoot_share,
    settled_n,
    springs,
    turn_deg,
)
from specs.mechanics.tension import (
    Band,
    assembly_clamp_n,
    band,
    bearing_mm,
    clamp_n,
    even_friction,
    nut_factor,
)
from specs.mechanics.tension import torque_nm as torque_for
from specs.mechanics.thread import Thread, thread
from specs.model import Do, Group, Sheet, Stage, Torque

USUAL_NUT_FACTOR = 0.20  # of dry steel; where a sheet names none the clamp load is then not overrated (common practice)
USUAL_PACE_DEG_S = 20.0  # of a pull near its end (common practice, no source)
NEIGHBOURS = (
    0.05,
    0.15,
    0.35,
)  # that each neighbour loses: hard joint, least and most; gasket, most (trade)
_RING = 4  # fasteners at least that pull on each other round a ring


@dataclass(frozen=True, slots=True)
class StageLoad:
    """A stage's pull at its target without drag, N·m; angles in degrees, clamp loads in N.

    `contact_deg` is the turn from first true contact to the target, elastic, where the grip is written. For a turn
    `torque_nm` is its snug, and `after_turn_n` what it adds up to as long as nothing yields. `most_nm` is the torque at
    0.9 of the yield by VDI 2230, whose twist is plastic; the shares of `band` are elastic, and a little stricter.
    """

    stage: Stage
    group: Group
    thread: Thread
    nut_factor: float
    assumed: bool  # neither nut factor nor friction is the sheet's
    torque_nm: float
    clamp_n: float
    tension_mpa: float
    grade: Grade | None = None
    band: Band | None = None  # None without a grade
    most_nm: float | None = None
    contact_deg: float | None = None
    after_turn_n: float | None = None
    settled: float | None = None  # share of the clamp load that a new joint loses when its faces embed
    overshoot: float | None = None  # share of the target that a pull at the usual pace goes past it

    @property
    def after_of_proof(self) -> float | None:
        """Share of the proof in tension that a turn adds up to, as long as nothing yields."""
        return self._after(None if self.band is None else self.band.usual.of_proof)

    @property
    def after_of_yield(self) -> float | None:
        """The same of the yield with twist, which is taken to grow as the clamp load does."""
        return self._after(None if self.band is None else self.band.usual.combined_of_yield)

    def _after(self, at_snug: float | None) -> float | None:
        if self.after_turn_n is None or at_snug is None:
            return None
        return self.after_turn_n / self.clamp_n * at_snug


def stage_loads(sheet: Sheet) -> tuple[StageLoad, ...]:
    """In the order of the stages; those whose thread is not written or not understood are left out."""
    found = (_load(stage, sheet.groups[stage.group]) for stage in sheet.stages if stage.group is not None)
    return tuple(each for each in found if each is not None)


def load_at(torque_nm: float, stage: Stage, group: Group) -> StageLoad | None:
    """The same for another torque than the stage's own; None without a thread that is understood."""
    of = None if group.thread is None else thread(group.thread)
    if of is None:
        return None
    factor, in_thread = _friction(group, of)
    strength = None if group.grade is None else grade(group.grade, of)
    clamp = clamp_n(torque_nm, factor, of)
    contact = after = settled = overshoot = None
    if group.grip_mm is not None:
        joint = springs(of, float(group.grip_mm))
        contact = turn_deg(of, joint, clamp)
        settled = min(settled_n(joint) / clamp, 1.0)
        overshoot = overshoot_share(USUAL_PACE_DEG_S, contact)
        if stage.turn_deg is not None:
            after = clamp_after_turn_n(of, joint, clamp, float(stage.turn_deg))
    return StageLoad(
        stage,
        group,
        of,
        factor,
        group.nut_factor is None and group.friction is None,
        torque_nm,
        clamp,
        clamp / of.stress_area_mm2,
        strength,
        None if strength is None else band(torque_nm, factor, of, strength, thread_friction=in_thread),
        None if strength is None else _most_nm(of, strength, factor, in_thread),
        contact,
        after,
        settled,
        overshoot,
    )


def _friction(group: Group, of: Thread) -> tuple[float, float]:
    """Nut factor and friction in the thread; where only the nut factor is known, head and thread are taken as alike."""
    if group.friction is not None:
        in_thread, at_head = map(float, group.friction)
        return nut_factor(of, in_thread, at_head, bearing_mm(of)), in_thread
    factor = USUAL_NUT_FACTOR if group.nut_factor is None else float(group.nut_factor)
    return factor, even_friction(of, factor)


def _most_nm(of: Thread, strength: Grade, factor: float, in_thread: float) -> float:
    return torque_for(assembly_clamp_n(of, strength, in_thread), factor, of)


def left_by_neighbours(group: Group) -> tuple[float, float, float] | None:
    """What the worst placed fastener still holds after one round, as a share, for each of `NEIGHBOURS`.

    None for a group that is no ring; its order is the sheet's.
    """
    count = len(group.positions)
    if group.pattern not in ("star", "round") or count < _RING:
        return None
    order = [group.positions.index(name) for name in group.order]
    least, most, gasket = (min(after_one_round(order, {1: share})) for share in NEIGHBOURS)
    return least, most, gasket


def _load(stage: Stage, group: Group) -> StageLoad | None:
    asked: Torque | None = None
    if stage.do is Do.TORQUE:
        asked = stage.target
    elif stage.do is Do.ANGLE:
        asked = stage.snug
    if asked is not None:
        torque_nm = float(units.newton_metres(asked.value, asked.unit))
    elif stage.do is Do.TORQUE and stage.limits is not None and stage.limits.high is not None:
        torque_nm = float(stage.limits.high)  # nobody says where between the limits it ends: the worst of it
    else:
        return None
    return load_at(torque_nm, stage, group)
