"""From what a table says, and what a person adds, to the draft of a sheet.

Nothing is made up: what neither has said stands in the draft as a text that begins with TODO, which `sheet check`
reports. Only ids are given here: a group's are its initials, a stage's its group's with a number, wrenches are W1, W2 …
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from specs.draft import Draft, Keys, Named, Value
from specs.errors import Fault, SheetErrors, TableErrors
from specs.model import Sheet
from specs.patterns import PATTERNS
from specs.tables.cells import Cell
from specs.tables.positions import positions_of
from specs.tables.records import GroupRows, Records, StageRow
from specs.write import torque

_INITIALS = re.compile(r"[A-Za-z0-9]+")
_LIST = re.compile(r"[\s,;→>–-]+")


@dataclass(frozen=True, slots=True)
class WrenchAsked:
    """A wrench that the table asks for: by its name, or without one by the unit of its torques."""

    name: str | None
    unit: str


@dataclass(frozen=True, slots=True)
class Said:
    """What a person or the command line adds to a table."""

    head: Keys  # id, revision, title, source, class, … as a sheet has them
    todo_wrench: str  # words for what is not known
    todo_order: str
    positions: Mapping[str, str] = field(default_factory=dict)  # group -> as a cell would say it
    patterns: Mapping[str, str] = field(default_factory=dict)
    wrenches: Mapping[WrenchAsked, Keys] = field(default_factory=dict)
    comment: str = ""


_STAND_IN = Said(
    (("id", "checked"), ("revision", "1"), ("title", "T"), ("source", "S"), ("class", "C")), "TODO", "TODO"
)


def wrenches(records: Records) -> dict[WrenchAsked, tuple[str, ...]]:
    """Every wrench that is asked for, with the names of its groups."""
    found: dict[WrenchAsked, list[str]] = {}
    units: dict[str, str] = {}
    for stage in records.stages:
        units.setdefault(stage.group, _unit(stage))
    named: dict[str, WrenchAsked] = {}
    for group in records.groups:
        asked = WrenchAsked(group.text("wrench"), units.get(group.name, "N·m"))
        if asked.name is not None:
            asked = named.setdefault(asked.name, asked)
        found.setdefault(asked, []).append(group.name)
    return {asked: tuple(names) for asked, names in found.items()}


def checked(records: Records) -> Records:
    """The same without a fault, as far as cells alone can have one: those of the sheet that comes of them are looked
    for too, before anything is asked. Raises `TableErrors` with the cell of every fault."""
    unknown = {group.name for group in records.groups if "positions" not in group.said}
    groups = tuple(
        replace(group, said={role: cell for role, cell in group.said.items() if role != "pattern"})
        if group.name in unknown
        else group
        for group in records.groups
    )
    faults = list(records.faults)
    try:
        drafted(replace(records, groups=groups), replace(_STAND_IN, positions=dict.fromkeys(unknown, "1")))
    except TableErrors as errors:
        faults += [fault for fault in errors.faults if fault.line is not None]
    if faults:
        raise TableErrors(tuple(sorted(faults, key=lambda fault: fault.line or 0)))
    return records


def drafted(records: Records, said: Said) -> tuple[Draft, Sheet]:
    """The draft and the sheet that it is. Raises `TableErrors` with the cell of every fault."""
    group_ids = _ids(group.name for group in records.groups)
    asked_for = wrenches(records)
    roles = {asked: f"W{number}" for number, asked in enumerate(asked_for, start=1)}
    of_group = {name: roles[asked] for asked, names in asked_for.items() for name in names}
    cells: dict[str, Cell] = {}
    groups: list[tuple[str, Keys]] = []
    for group in records.groups:
        name = group_ids[group.name]
        groups.append((name, _group(group, of_group[group.name], said)))
        cells[f"groups.{name}"] = group.cell
        cells |= {f"groups.{name}.{_KEYS.get(role, role)}": cell for role, cell in group.said.items()}
        if "pattern" in group.said:
            cells[f"groups.{name}.order"] = group.said["pattern"]
    stages = []
    counts: dict[str, int] = {}
    for stage in records.stages:
        of = group_ids[stage.group]
        counts[of] = counts.get(of, 0) + 1
        stage_id = f"{of}-{counts[of]}" if of[-1].isdigit() else f"{of}{counts[of]}"
        cells[f"stages.{stage_id}"] = stage.cell
        stages.append(_stage(stage, stage_id, of))
    named: Named = tuple((role, _wrench(asked, said)) for asked, role in roles.items())
    draft = Draft(said.head, named, tuple(groups), tuple(stages), said.comment)
    try:
        return draft, draft.parsed()
    except SheetErrors as errors:
        raise TableErrors(tuple(_at_cell(fault, cells) for fault in errors.faults)) from errors


_KEYS = {"wrench": "title"}  # a wrench's name is no key of its group


def _at_cell(fault: Fault, cells: Mapping[str, Cell]) -> Fault:
    """The same fault at the cell that said it, else at its path in the sheet."""
    path = fault.path
    while path:
        if path in cells:
            return Fault(cells[path].row, cells[path].ref, fault.code, fault.args)
        path = path.rpartition("[")[0] if path.endswith("]") else path.rpartition(".")[0]
    return Fault(None, fault.path, fault.code, fault.args)


def _unit(stage: StageRow) -> str:
    asked = stage.asked
    return next(end.unit for end in (asked.target, asked.low, asked.high) if end is not None)


def _ids(names: Iterable[str]) -> dict[str, str]:
    """Name to id: its initials in capitals, with a number where they are taken."""
    ids: dict[str, str] = {}
    taken: set[str] = set()
    numbers: dict[str, int] = {}  # the next to try, so that no number is tried twice
    for name in names:
        words = _INITIALS.findall(name)
        short = "".join(word[0] for word in words)[:3].upper() or "G"
        one = short
        while one in taken:
            numbers[short] = numbers.get(short, 1) + 1
            one = f"{short}{numbers[short]}"
        taken.add(one)
        ids[name] = one
    return ids


def _wrench(asked: WrenchAsked, said: Said) -> Keys:
    given = dict(said.wrenches.get(asked, ()))
    title = said.todo_wrench if asked.name is None else f"{said.todo_wrench} ({asked.name})"
    keys: dict[str, Value] = {"title": title, "unit": asked.unit}
    return tuple((keys | given).items())


def _group(group: GroupRows, wrench: str, said: Said) -> Keys:
    positions = group.text("positions") or said.positions.get(group.name)
    pattern = group.text("pattern") or said.patterns.get(group.name)
    keys: dict[str, Value | None] = {"title": group.name, "wrench": wrench}
    keys["positions"] = None if positions is None else positions_of(positions)
    keys |= {} if pattern is None else _pattern(pattern)
    keys |= {key: group.text(key) for key in ("thread", "grade", "lubrication")}
    if pattern is None and _many(keys["positions"]):
        keys["cautions"] = (said.todo_order,)
    return tuple((key, value) for key, value in keys.items() if value is not None)


def _many(positions: Value | None) -> bool:
    """Whether the order round them is a question."""
    return (len(positions) if isinstance(positions, tuple) else positions or 0) not in (0, 1, 2)


def _pattern(text: str) -> dict[str, Value | None]:
    """The word for an order, or the order itself: `1-5-3-7-2-6-4-8`."""
    names = tuple(name for name in _LIST.split(text.strip()) if name)
    if len(names) > 2 and all(name.isascii() and name.isdigit() for name in names):
        return {"pattern": "listed", "order": names}
    word = text.strip().lower()
    return {"pattern": word if word in PATTERNS and word != "listed" else text.strip()}


def _stage(stage: StageRow, stage_id: str, group: str) -> Keys:
    asked = stage.asked
    keys: dict[str, Value | None] = {"id": stage_id, "group": group, "do": "torque"}
    keys["target"] = None if asked.target is None else torque(asked.target)
    keys["min"] = None if asked.low is None else torque(asked.low)
    keys["max"] = None if asked.high is None else torque(asked.high)
    keys |= {"tolerance": asked.tolerance, "text": stage.name, "note": stage.note, "cautions": stage.cautions or None}
    return tuple((key, value) for key, value in keys.items() if value is not None)
