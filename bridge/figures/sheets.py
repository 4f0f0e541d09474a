"""Random spec sheets, as jobs of the trade are: groups in turns, rising passes, repeats, loops, waits, turns."""

from dataclasses import dataclass, replace
from math import exp, log
from random import Random

from specs import units
from specs.expand import expand
from specs.model import Plan
from specs.parse import parse

MOST_STEPS = 400
MOST_POSITIONS = ((12, 0.7), (24, 0.25), (40, 0.05))  # most fasteners of a group, and how often on sheets
LARGE = (("ft·lb", 15, 150), ("ft·lb", 25, 250), ("N·m", 20, 200), ("N·m", 40, 400), ("N·m", 10, 100))
SMALL = (("in·lb", 15, 150), ("in·lb", 35, 350), ("N·m", 2, 25), ("kgf·cm", 20, 200), ("in·lb", 5, 50))
PASSES = ((1.0,), (0.5, 1.0), (0.3, 0.65, 1.0), (0.3, 0.6, 0.85, 1.0))
ASSEMBLIES = ("UF", "UR", "DF", "DR")
ORDERS = ("one after another", "stage by stage", "any", "any")


@dataclass(frozen=True, slots=True)
class Role:
    """A wrench of the sheet."""

    id: str
    unit: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Group:
    """A group to be: its targets pass by pass, in `unit`."""

    id: str
    role: Role
    positions: int
    pattern: str
    unit: str
    targets: tuple[str, ...]
    tolerance: int
    any_order: bool
    drag: bool = False
    loop: tuple[int, int] | None = None
    turn: bool = False
    single_use: bool = False


def draw_plan(rng: Random) -> Plan:
    """A random sheet, parsed and expanded; it reads without fault."""
    while True:
        plan = expand(parse(draw_sheet(rng)))
        if 2 <= len(plan.steps) <= MOST_STEPS:
            return plan


def draw_sheet(rng: Random) -> str:
    """The text of a random sheet."""
    roles = _roles(rng)
    assemblies = ASSEMBLIES[: rng.randint(2, 4)] if rng.random() < 0.2 else ()
    groups = _groups(rng, roles, max(2, round(exp(rng.uniform(log(2), log(MOST_STEPS))) / max(1, len(assemblies)))))
    lines = ["sheet = 1", 'id = "made-up"', 'revision = "1"', 'title = "Made up for figures"']
    lines += ['source = "Invented for figures. Not for real plant."', f'class = "{rng.choice("BC")}"']
    if assemblies:
        names = ", ".join(f'"{name}"' for name in assemblies)
        lines += [f"assemblies = [{names}]", f'assembly_order = "{rng.choice(ORDERS)}"']
    for role in roles:
        ends = f'range = ["{role.low} {role.unit}", "{role.high} {role.unit}"]'
        lines += [f"[wrenches.{role.id}]", f'title = "wrench {role.id}"', f'unit = "{role.unit}"', ends]
    for group in groups:
        lines += [f"[groups.{group.id}]", f'title = "{group.id}"', f'wrench = "{group.role.id}"']
        lines += [f"positions = {group.positions}", f'pattern = "{group.pattern}"']
        lines += ["single_use = true"] if group.single_use else []
    return "\n".join([*lines, *_stages(rng, groups), ""])


# --- wrenches and groups


def _roles(rng: Random) -> list[Role]:
    kinds: list[tuple[tuple[str, int, int], ...]] = [LARGE if rng.random() < 0.7 else SMALL]
    kinds += [SMALL] if rng.random() < 0.7 else []
    kinds += [LARGE + SMALL] if rng.random() < 0.3 else []
    return [Role(f"W{number}", *rng.choice(kind)) for number, kind in enumerate(kinds, 1)]


def _groups(rng: Random, roles: list[Role], wanted: int) -> list[Group]:
    """Groups whose pulls come near the number wanted; the last is of terminals."""
    count = min(rng.randint(1, 5), max(1, wanted // 2))
    most = rng.choices([size for size, _ in MOST_POSITIONS], [share for _, share in MOST_POSITIONS])[0]
    shares = [rng.uniform(0.5, 1.5) for _ in range(count)]
    found: list[Group] = []
    for at, name in enumerate("ABCDT"[: count - 1] + "T" if count > 1 else "A"):
        role = roles[1] if name == "T" and len(roles) > 1 else rng.choice(roles)
        passes = (1.0,) if name == "T" else rng.choice(PASSES)
        positions = max(1, min(most, round(wanted * shares[at] / sum(shares) / len(passes))))
        made = _group(rng, name, role, passes, positions)
        if found and name != "T" and rng.random() < 0.2:  # as much as the neighbour, with the same wrench
            last = found[-1]
            made = replace(made, role=last.role, unit=last.unit, targets=last.targets, tolerance=last.tolerance)
        found.append(made)
    return found


def _group(rng: Random, name: str, role: Role, passes: tuple[float, ...], positions: int) -> Group:
    turn = name != "T" and rng.random() < 0.1
    final = role.high * (rng.uniform(0.2, 0.35) if turn else rng.uniform(0.25, 0.8))
    unit = "N·m" if role.unit == "ft·lb" and rng.random() < 0.2 else role.unit
    into = float(units.factor(role.unit) / units.factor(unit))
    targets = tuple(_round(max(share * final, role.low * 1.2) * into) for share in passes)
    drag = not turn and rng.random() < 0.05
    if rng.random() < 0.25 and name != "T":
        targets = (*targets, targets[-1])
    loop = rng.choice(((1, 3), (2, 4), (1, 2))) if name != "T" and not turn and rng.random() < 0.12 else None
    pattern = rng.choice(("row", "star", "star", "round"))
    any_order, single_use = rng.random() < 0.08, turn or rng.random() < 0.08
    tolerance = rng.randint(4, 15)
    return Group(name, role, positions, pattern, unit, targets, tolerance, any_order, drag, loop, turn, single_use)


def _round(value: float) -> str:
    """A number as sheets write it."""
    for least, grain in ((100, 5), (20, 1), (2, 0.5)):
        if value >= least:
            return f"{round(value / grain) * grain:g}"
    return f"{max(0.1, round(value, 1)):g}"


# --- stages


def _stages(rng: Random, groups: list[Group]) -> list[str]:
    lines: list[str] = []
    if rng.random() < 0.2:
        lines += ["[[stages]]", 'id = "K"', 'do = "condition"', 'text = "Clean, dry and started by hand."']
    queues = {group.id: _of_group(rng, group) for group in groups}
    for block in _blocks(rng, groups):
        while any(queues[group.id] for group in block):
            for group in block:
                if queues[group.id]:
                    lines += queues[group.id].pop(0)
    if rng.random() < 0.1:
        lines += ["[[stages]]", 'id = "R"', 'do = "measure"', 'max = "0.20 mm"', 'text = "Run-out."']
    if rng.random() < 0.08:
        first = groups[0]
        lines += ["[[stages]]", 'id = "W"', 'do = "wait"', f'for = "{rng.randint(1, 6)} h"']
        lines += _torque(first, f"{first.id}9", first.targets[-1])
    if rng.random() < 0.1:
        last = rng.choice(groups)
        lines += ["[[stages]]", 'id = "L"', 'do = "look"', f'group = "{last.id}"']
        lines += ['hold = "inspector"'] if rng.random() < 0.4 else []
    return lines


def _blocks(rng: Random, groups: list[Group]) -> list[list[Group]]:
    """Neighbours that are brought up in turns, one to three at a time; terminals by themselves."""
    blocks: list[list[Group]] = []
    rest = [group for group in groups if group.id != "T"]
    while rest:
        size = rng.randint(1, 3)
        blocks.append(rest[:size])
        rest = rest[size:]
    return blocks + [[group] for group in groups if group.id == "T"]


def _of_group(rng: Random, group: Group) -> list[list[str]]:
    """The stages of one group, in order."""
    name = group.id
    found = []
    if group.drag:
        low, high = _drag(group)
        found.append(["[[stages]]", f'id = "{name}0"', f'group = "{name}"', 'do = "measure"', low, high])
    for number, target in enumerate(group.targets, 1):
        found.append(_torque(group, f"{name}{number}", target, add=group.drag))
    if group.loop is not None:
        extra = [f"rounds = [{group.loop[0]}, {group.loop[1]}]", 'until = "still"']
        found.append([*_torque(group, f"{name}8", group.targets[-1], add=group.drag), *extra])
    if group.turn:
        turn = rng.choice((45, 60, 90))
        lines = ["[[stages]]", f'id = "{name}7"', f'group = "{name}"', 'do = "angle"']
        lines += [f'snug = "{group.targets[-1]} {group.unit}"', f'turn = "{turn} deg"', 'tolerance = "5 deg"']
        if rng.random() < 0.5:
            snug = float(group.targets[-1])
            lines.append(f'final = ["{snug * 1.4:.0f} {group.unit}", "{snug * 2.6:.0f} {group.unit}"]')
        found.append(lines)
    return found


def _torque(group: Group, stage: str, target: str, *, add: bool = False) -> list[str]:
    lines = ["[[stages]]", f'id = "{stage}"', f'group = "{group.id}"', 'do = "torque"']
    lines += [f'target = "{target} {group.unit}"', f'tolerance = "{group.tolerance} %"']
    lines += ['order = "any"'] if group.any_order else []
    return [*lines, f'add = "{group.id}0"'] if add else lines


def _drag(group: Group) -> tuple[str, str]:
    least = float(group.targets[-1]) / 10
    return f'min = "{least:.2f} {group.unit}"', f'max = "{least * 2.5:.2f} {group.unit}"'
