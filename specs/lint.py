"""Advice on a sheet that reads well but asks for trouble: before it is used, not after.

A fault makes a sheet unusable (`specs.parse`); advice does not. What only an eye can settle (is this the right torque?)
is not asked here.
"""

from collections.abc import Iterator
from fractions import Fraction

from specs import units
from specs.advice import DECIDE, NOTE, STOPS, Advice
from specs.conformance import low_in_range, reading_factor, usable
from specs.lint_limits import accept_each_other, limits_advice
from specs.lint_order import order_advice
from specs.lint_strength import strength_advice
from specs.model import TIGHTENING, Do, Group, Plan, Sheet, Stage, Torque, WrenchRole

_SCALES = ("N·m", "ft·lb", "in·lb")


def lint(sheet: Sheet, plan: Plan) -> tuple[Advice, ...]:
    """All advice on that sheet: people, groups, each stage, then stages side by side. `plan` is its expansion."""
    return (
        *_people(sheet),
        *_unused(sheet),
        *_single_use(sheet),
        *_stages(sheet),
        *limits_advice(sheet),
        *strength_advice(sheet),
        *order_advice(sheet),
        *_neighbours(sheet, plan),
    )


def _people(sheet: Sheet) -> Iterator[Advice]:
    if sheet.checked_by is None:
        if "A" in (sheet.class_, *(stage.class_ for stage in sheet.stages)):
            yield Advice(STOPS, "checked_by", "sheet.unchecked")
    elif sheet.copied_by is not None and _same_person(sheet.copied_by, sheet.checked_by):
        yield Advice(STOPS, "checked_by", "sheet.checked-by-copier", (sheet.checked_by,))


def _same_person(one: str, other: str) -> bool:
    return " ".join(one.casefold().split()) == " ".join(other.casefold().split())


def _unused(sheet: Sheet) -> Iterator[Advice]:
    asked = {stage.group for stage in sheet.stages}
    for group in sheet.groups.values():
        if group.id not in asked:
            yield Advice(NOTE, f"groups.{group.id}", "sheet.group-unused", (group.id,))
    roles = {group.wrench for group in sheet.groups.values()}
    for role in sheet.wrenches:
        if role not in roles:
            yield Advice(NOTE, f"wrenches.{role}", "sheet.wrench-unused", (role,))


def _single_use(sheet: Sheet) -> Iterator[Advice]:
    """A part that is used once is brought to its final torque once; a second time needs a reason."""
    for group in sheet.groups.values():
        tightening = _tightening(sheet, group.id)
        finals = [stage for stage in tightening if stage.final is not None]
        if not finals and tightening and tightening[-1].do is Do.TORQUE:
            finals = [stage for stage in tightening if stage.limits == tightening[-1].limits]
        if group.single_use and len(finals) > 1:
            names = ", ".join(stage.id for stage in finals)
            yield Advice(DECIDE, f"groups.{group.id}", "sheet.single-use-twice", (group.id, names))
        elif group.single_use:
            yield from _loosened(sheet, group)


def _loosened(sheet: Sheet, group: Group) -> Iterator[Advice]:
    tightened, loosening = False, None
    for stage in (stage for stage in sheet.stages if stage.group == group.id):
        if stage.do is Do.LOOSEN and tightened:
            loosening = stage
        elif stage.do in TIGHTENING:
            tightened = True
            if loosening is not None:
                told = (group.id, loosening.id, stage.id)
                yield Advice(DECIDE, f"stages.{stage.id}", "sheet.single-use-loosened", told)
                return


def _stages(sheet: Sheet) -> Iterator[Advice]:
    reached: dict[str, Stage] = {}  # group -> its torque stage before
    for stage in sheet.stages:
        path = f"stages.{stage.id}"
        if stage.group is None:
            continue
        if stage.do is Do.LOOSEN:
            reached.pop(stage.group, None)
        if stage.do not in TIGHTENING:
            continue
        if stage.on_over == "pull on":
            yield Advice(DECIDE, f"{path}.on_over", "sheet.over-pulled-on", (stage.id,))
        group = sheet.groups[stage.group]
        yield from _range(stage, group, sheet.wrenches[group.wrench])
        if stage.do is not Do.TORQUE:
            continue
        before = reached.get(group.id)
        reached[group.id] = stage
        if before is None:
            continue
        if _aim(stage) < _aim(before):
            yield Advice(DECIDE, f"{path}.target", "sheet.target-falls", (stage.id, before.id))
        elif accept_each_other(stage, before):
            yield Advice(NOTE, path, "sheet.limits-equal", (stage.id, before.id))


def _range(stage: Stage, group: Group, role: WrenchRole) -> Iterator[Advice]:
    """Whether what the wrench will read lies where the wrench is good, adapter reckoned in."""
    low, high = (None if end is None else _nm(end) for end in (role.low, role.high))
    factor = Fraction(1) if group.adapter is None else reading_factor(group.adapter)
    for key, torque in _aims(stage):
        read = torque * factor
        side = usable(read, low, high)
        reads = f"{_short(units.in_unit(read, role.unit))} {role.unit}"
        path = f"stages.{stage.id}.{key}"
        if side in ("under", "over"):
            end = role.low if side == "under" else role.high
            yield Advice(DECIDE, path, f"sheet.target-{side}-range", (reads, role.id, str(end)))
        elif high is not None and low_in_range(read, high):
            percent = _short(100 * read / high)
            yield Advice(NOTE, path, "sheet.target-low-in-range", (reads, percent, role.id))


def _aims(stage: Stage) -> Iterator[tuple[str, Fraction]]:
    """What a stage is pulled to, N·m: its target, else the ends of its limits or of its final window."""
    if stage.target is not None:
        yield "target", _nm(stage.target)
        return
    limits, keys = (stage.final, ("final", "final")) if stage.do is Do.ANGLE else (stage.limits, ("min", "max"))
    if limits is not None:
        for key, end in zip(keys, (limits.low, limits.high), strict=True):
            if end is not None:
                yield key, end


def _neighbours(sheet: Sheet, plan: Plan) -> Iterator[Advice]:
    """Stages next to each other on one wrench or in one group that a slip of the unit would change for each other."""
    on_wrench: dict[str, Stage] = {}  # wrench role -> its torque stage before
    in_group: dict[str, Stage] = {}
    told: set[tuple[str, str]] = set()
    for visit in plan.visits:
        stage = visit.stage
        if stage.do is not Do.TORQUE or stage.group is None:
            continue
        role = sheet.wrenches[sheet.groups[stage.group].wrench]
        for last in (on_wrench.get(role.id), in_group.get(stage.group)):
            if last is None or last is stage or (last.id, stage.id) in told:
                continue
            told.add((last.id, stage.id))
            for aimed, met in ((stage, last), (last, stage)):
                slip = _slip(aimed, met, role.unit)
                if slip is not None:
                    yield Advice(NOTE, f"stages.{stage.id}", "sheet.unit-collision", (aimed.id, *slip, met.id, role.id))
                    break
        on_wrench[role.id] = in_group[stage.group] = stage


def _slip(aimed: Stage, met: Stage, wrench_unit: str) -> tuple[str, str, str] | None:
    """The number of one target, the wrong scale it may be pulled on, and what that is: within the other's limits.

    The number is that of the sheet or that of the wrench's own unit. Equal targets are no slip of the unit.
    """
    if aimed.target is None or met.limits is None or met.limits.side(_nm(aimed.target)) == 0:
        return None
    for unit in dict.fromkeys((wrench_unit, aimed.target.unit)):
        number = units.in_unit(_nm(aimed.target), unit)
        for scale in _SCALES:
            torque = number * units.factor(scale)
            if scale != unit and met.limits.side(torque) == 0:
                return f"{_short(number)} {unit}", scale, f"{_short(units.in_unit(torque, unit))} {unit}"
    return None


def _short(x: Fraction) -> str:
    text = units.shown(x, 1)
    return text.removesuffix(".0")


def _tightening(sheet: Sheet, group_id: str) -> list[Stage]:
    return [stage for stage in sheet.stages if stage.group == group_id and stage.do in TIGHTENING]


def _aim(stage: Stage) -> Fraction:
    return max((torque for _, torque in _aims(stage)), default=Fraction(0))


def _nm(torque: Torque) -> Fraction:
    return units.newton_metres(torque.value, torque.unit)
