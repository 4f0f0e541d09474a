"""Advice from mechanics: torques that a thread cannot bear, or that hardly stretch it, and what is not understood."""

from collections.abc import Iterator
from decimal import Decimal

from specs import units
from specs.advice import DECIDE, NOTE, Advice
from specs.loads import StageLoad, load_at, stage_loads
from specs.mechanics.grade import grade, strongest
from specs.mechanics.tension import load as load_of
from specs.mechanics.thread import thread
from specs.model import Do, Group, Sheet, Torque

# Tension and twist together at the usual friction, the twist elastic, as the trade's figures are reckoned. VDI 2230
# takes it as plastic over the whole section, which is milder: the 0.9 of yield of its tables is 0.94 to 1.01 here.
MOST_OF_YIELD = 1.02  # room for tables in whole N·m; about 0.94 by VDI's twist
LEAST_OF_PROOF = 0.10  # below it a final torque hardly stretches the bolt
LEAST_LIKELY = 0.25  # combined share of proof that final torques are chosen for; the most is what is borne
LIKELIEST = 0.70
FRICTION = (
    Decimal("0.08"),
    Decimal("0.40"),
)  # nut factors from paste to rust (common practice, no source)
_SCALES = ("ft·lb", "in·lb", "N·m", "kgf·m", "kgf·cm")


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
    path = f"stages.{load.stage.id}.{'target' if load.stage.target is not None else 'max'}"
    if load.band is None or load.grade is None:
        yield from _too_much_for_any(load, path)
        return
    if load.band.usual.combined_of_yield <= MOST_OF_YIELD:
        return
    share = f"{100 * load.band.usual.combined_of_yield:.0f}"
    told = (load.stage.id, share, load.thread.name, load.grade.name)
    other = _on_another_scale(load)
    if other is None:
        yield Advice(DECIDE, path, "sheet.thread-overloaded", told)
    else:
        yield Advice(DECIDE, path, "sheet.thread-overloaded-scale", (*told, *other))


def _too_much_for_any(load: StageLoad, path: str) -> Iterator[Advice]:
    """Where no strength is understood: more than the strongest that is made would bear."""
    most = strongest(load.thread)
    share = load_of(load.torque_nm, load.nut_factor, load.thread, most).combined_of_yield
    if share > MOST_OF_YIELD:
        told = (load.stage.id, f"{100 * share:.0f}", load.thread.name, most.name)
        yield Advice(DECIDE, path, "sheet.thread-overloaded-any", told)


def _too_little(load: StageLoad) -> Iterator[Advice]:
    if load.band is None or load.band.usual.combined_of_proof >= LEAST_OF_PROOF:
        return
    other = _on_another_scale(load)
    if other is not None:
        share = f"{100 * load.band.usual.combined_of_proof:.1f}"
        path = f"stages.{load.stage.id}.target"
        yield Advice(DECIDE, path, "sheet.thread-slack-scale", (load.stage.id, share, load.thread.name, *other))


def _on_another_scale(load: StageLoad) -> tuple[str, str] | None:
    """The target's number on the scale that makes the likeliest torque of it, and its share of the proof in percent."""
    target = load.stage.target
    if target is None:
        return None
    likely: dict[str, float] = {}
    for scale in _SCALES:
        if scale == target.unit:
            continue
        other = load_at(float(units.newton_metres(target.value, scale)), load.stage, load.group)
        if other is not None and other.band is not None:
            usual = other.band.usual
            if usual.combined_of_proof >= LEAST_LIKELY and usual.combined_of_yield <= MOST_OF_YIELD:
                likely[scale] = usual.combined_of_proof
    if not likely:
        return None
    scale = min(likely, key=lambda each: abs(likely[each] - LIKELIEST))
    return str(Torque(target.value, scale)), f"{100 * likely[scale]:.0f}"


def _past_yield(load: StageLoad) -> Iterator[Advice]:
    """A turn into the yield is meant for bolts that are used once."""
    share = load.after_of_yield
    if share is not None and load.grade is not None and not load.group.single_use and share > 1:
        told = (load.stage.id, f"{100 * share:.0f}", load.thread.name, load.grade.name, load.group.id)
        yield Advice(DECIDE, f"stages.{load.stage.id}.turn", "sheet.turn-past-yield", told)
