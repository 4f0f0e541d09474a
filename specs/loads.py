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
from specs.mechanics.tension import Band, band, clamp_n
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
    `torque_nm` is its snug, and `after_turn_n` what it adds up to as long as nothing yields.
    """

    stage: Stage
    group: Group
    thread: Thread
    nut_factor: float
    assumed: bool  # the nut factor is not the sheet's
    torque_nm: float
    clamp_n: float
    grade: Grade | None = None
    band: Band | None = None  # None without a grade
    contact_deg: float | None = None
    after_turn_n: float | None = None
    settled: float | None = None  # share of the clamp load that a new joint loses when its faces embed
    overshoot: float | None = None  # share of the target that a pull at the usual pace goes past it


def stage_loads(sheet: Sheet) -> tuple[StageLoad, ...]:
    """In the order of the stages; those whose thread is not written or not understood are left out."""
    found = (_load(stage, sheet.groups[stage.group]) for stage in sheet.stages if stage.group is not None)
    return tuple(each for each in found if each is not None)


def load_at(torque_nm: float, stage: Stage, group: Group) -> StageLoad | None:
    """The same for another torque than the stage's own; None without a thread that is understood."""
    of = None if group.thread is None else thread(group.thread)
    if of is None:
        return None
    factor = USUAL_NUT_FACTOR if group.nut_factor is None else float(group.nut_factor)
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
        group.nut_factor is None,
        torque_nm,
        clamp,
        strength,
        None if strength is None else band(torque_nm, factor, of, strength),
        contact,
        after,
        settled,
        overshoot,
    )


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
