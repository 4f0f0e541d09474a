"""Advice from mechanics: torques that a thread cannot bear, or that hardly stretch it, and what is not understood."""

from collections.abc import Iterator
from decimal import Decimal

from specs import units
from specs.advice import DECIDE, NOTE, Advice
from specs.loads import StageLoad, load_at, stage_loads
from specs.mechanics.grade import grade
from specs.mechanics.thread import thread
from specs.model import Do, Group, Sheet, Torque

MOST_OF_YIELD = 0.95  # of tension and twist together at the usual friction; tables of torques go to 0.9
LEAST_OF_PROOF = 0.10  # below it a final torque hardly stretches the bolt
LIKELY = (0.25, 0.90)  # combined share of proof that most final torques are chosen for
FRICTION = (
    Decimal("0.08"),
    Decimal("0.40"),
)  # nut factors from paste to rust (common practice, no source)
_SCALES = ("ft·lb", "in·lb", "N·m")  # those that are taken for each other most often go first


def strength_advice(sheet: Sheet) -> Iterator[Advice]:
    """All of it, group by group, then stage by stage."""
    for group in sheet.groups.values():
        yield from _understood(group)
    loads = stage_loads(sheet)
    final = {each.group.id: each for each in loads if each.stage.do is Do.TORQUE}
    turned = {stage.group for stage in sheet.stages if stage.do is Do.ANGLE}
    for each in loads:
        if each.stage.do is Do.ANGLE:
            yield from _past_yield(each)
        else:
            yield from _too_much(each)
            if final[each.group.id] is each and each.group.id not in turned:
                yield from _too_little(each)


def _understood(group: Group) -> Iterator[Advice]:
    path = f"groups.{group.id}"
    if group.nut_factor is not None and not FRICTION[0] <= group.nut_factor <= FRICTION[1]:
        yield Advice(DECIDE, f"{path}.nut_factor", "sheet.nut-factor-odd", (str(group.nut_factor), *map(str, FRICTION)))
    if group.thread is None:
        return
    of = thread(group.thread)
    if of is None:
        yield Advice(NOTE, f"{path}.thread", "sheet.thread-unknown", (group.thread,))
    elif group.grade is not None and grade(group.grade, of) is None:
        yield Advice(NOTE, f"{path}.grade", "sheet.grade-unknown", (group.grade, group.thread))


def _too_much(load: StageLoad) -> Iterator[Advice]:
    if load.band is None or load.grade is None or load.band.usual.combined_of_yield <= MOST_OF_YIELD:
        return
    path = f"stages.{load.stage.id}.{'target' if load.stage.target is not None else 'max'}"
    share = f"{100 * load.band.usual.combined_of_yield:.0f}"
    told = (load.stage.id, share, load.thread.name, load.grade.name)
    other = _on_another_scale(load)
    if other is None:
        yield Advice(DECIDE, path, "sheet.thread-overloaded", told)
    else:
        yield Advice(DECIDE, path, "sheet.thread-overloaded-scale", (*told, *other))


def _too_little(load: StageLoad) -> Iterator[Advice]:
    if load.band is None or load.band.usual.combined_of_proof >= LEAST_OF_PROOF:
        return
    other = _on_another_scale(load)
    if other is not None:
        share = f"{100 * load.band.usual.combined_of_proof:.1f}"
        path = f"stages.{load.stage.id}.target"
        yield Advice(DECIDE, path, "sheet.thread-slack-scale", (load.stage.id, share, load.thread.name, *other))


def _on_another_scale(load: StageLoad) -> tuple[str, str] | None:
    """The target's number on a scale on which it would be a likely torque, and its share of the proof in percent."""
    target = load.stage.target
    if target is None:
        return None
    for scale in _SCALES:
        if scale == target.unit:
            continue
        other = load_at(float(units.newton_metres(target.value, scale)), load.stage, load.group)
        if other is not None and other.band is not None:
            share = other.band.usual.combined_of_proof
            if LIKELY[0] <= share <= LIKELY[1]:
                return str(Torque(target.value, scale)), f"{100 * share:.0f}"
    return None


def _past_yield(load: StageLoad) -> Iterator[Advice]:
    """A turn into the yield is meant for bolts that are used once."""
    if load.after_turn_n is None or load.band is None or load.grade is None or load.group.single_use:
        return
    share = load.after_turn_n / load.clamp_n * load.band.usual.combined_of_yield
    if share > 1:
        told = (load.stage.id, f"{100 * share:.0f}", load.thread.name, load.grade.name, load.group.id)
        yield Advice(DECIDE, f"stages.{load.stage.id}.turn", "sheet.turn-past-yield", told)
