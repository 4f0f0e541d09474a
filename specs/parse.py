"""Reads the text of a sheet: every fault at once, each with its line; nothing but `SpecError` leaves here."""

import re
import tomllib
from collections.abc import Callable
from dataclasses import replace
from hashlib import sha256
from typing import TypeVar

from specs.errors import Fault, SheetErrors
from specs.keys import Faults, Float, Table, found
from specs.lines import Path, lines_of, out_of_bounds
from specs.model import AssemblyOrder, Do, Group, Sheet, Stage
from specs.numbers import clip
from specs.read_group import read_group, read_id, read_ids, read_wrench
from specs.read_stage import CLASSES, read_stage
from specs.units import UNITS

T = TypeVar("T")

FORMAT = 1
MOST_STEPS = 200_000
_SHEET_ID = re.compile(r"[a-z0-9-]{1,64}")
_SAID_WHERE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")
_BOM = "\ufeff"


def parse(text: str) -> Sheet:
    """The sheet of a TOML text. Raises `SheetErrors` with all faults, a syntax error alone."""
    digest = _digest(text)
    plain = text.removeprefix(_BOM).replace("\r\n", "\n")
    if broken := out_of_bounds(plain):
        line, code, words = broken
        raise SheetErrors((Fault(line, "", code, words),))
    try:
        raw = tomllib.loads(plain, parse_float=Float)
    except ValueError as error:  # a date that does not exist is a plain one
        raise SheetErrors((_syntax(str(error), plain),)) from error
    lines: dict[Path, int] = lines_of(plain)
    faults = Faults(lines)
    sheet = _sheet(Table(raw, (), faults))
    if sheet is None or faults.sorted():
        raise SheetErrors(faults.sorted())
    return replace(sheet, text=text, digest=digest)


def _digest(text: str) -> str:
    try:
        return sha256(text.encode("utf-8")).hexdigest()
    except UnicodeEncodeError as error:
        line = text.count("\n", 0, error.start) + 1
        raise SheetErrors((Fault(line, "", "sheet.text-broken"),)) from error


def _syntax(said: str, text: str) -> Fault:
    match = _SAID_WHERE.search(said)
    line = int(match[1]) if match and match[1] else len(text.splitlines()) or 1
    return Fault(line, "", "sheet.syntax", (clip(_SAID_WHERE.sub("", said)),))


def _sheet(root: Table) -> Sheet | None:
    version = root.take("sheet", required=True)
    if version is not None and (version is True or version != FORMAT):
        root.wrong(("sheet",), "sheet.format-unknown", found(version), str(FORMAT))
    sheet_id = root.text("id", required=True)
    if sheet_id is not None and not _SHEET_ID.fullmatch(sheet_id):
        root.wrong(("id",), "sheet.id-sheet", found(sheet_id))
    revision, title, source = (root.text(key, required=True) for key in ("revision", "title", "source"))
    class_ = root.choice("class", CLASSES, required=True)
    cautions = root.texts("cautions")
    assemblies = read_ids(root, "assemblies", root.items("assemblies") or ())
    assembly_order = root.choice("assembly_order", [str(order) for order in AssemblyOrder])
    decision = root.choice("decision", ("simple",))
    source_revision, effectivity = root.text("source_revision"), root.text("effectivity")
    copied_by, checked_by = root.text("copied_by"), root.text("checked_by")
    wrench_ids = _ids(root, "wrenches")
    wrenches = _each(root, "wrenches", read_wrench)
    groups = _each(root, "groups", lambda table, name: read_group(table, name, wrench_ids))
    stages = _stages(root, _ids(root, "groups"))
    root.done()
    _count(root, stages, groups, len(assemblies))
    if root.faults.sorted():
        return None
    return Sheet(
        id=sheet_id or "",
        revision=revision or "",
        title=title or "",
        source=source or "",
        class_=class_ or "",
        wrenches=wrenches,
        groups=groups,
        stages=stages,
        cautions=cautions,
        assemblies=assemblies,
        assembly_order=AssemblyOrder(assembly_order or AssemblyOrder.ONE_AFTER_ANOTHER),
        decision=decision or "simple",
        source_revision=source_revision,
        effectivity=effectivity,
        copied_by=copied_by,
        checked_by=checked_by,
    )


def _ids(root: Table, key: str) -> tuple[str, ...]:
    """Ids as written, of faulty tables too: a fault in a group is no reason to call it unknown."""
    value = root.take(key)
    return tuple(clip(name) for name in value) if isinstance(value, dict) else ()


def _each(root: Table, key: str, read: Callable[[Table, str], T | None]) -> dict[str, T]:
    tables = root.table(key)
    found_ones: dict[str, T] = {}
    for name in tables.keys() if tables is not None else ():
        table = tables.table(name) if tables is not None else None
        if table is None:
            continue
        read_id(root, name, (key, name))
        one = read(table, name)
        if one is not None:
            found_ones[name] = one
    return found_ones


def _stages(root: Table, group_ids: tuple[str, ...]) -> tuple[Stage, ...]:
    items = root.items("stages", required=True)
    if items is not None and not items:
        root.wrong(("stages",), "sheet.list-empty")
    stages: dict[str, Stage] = {}
    for index, item in enumerate(items or ()):
        path: Path = ("stages", index)
        if not isinstance(item, dict):
            root.wrong(path, "sheet.not-table", found(item))
            continue
        stage_id = item.get("id")
        if isinstance(stage_id, str) and stage_id:
            root.faults.name(path, clip(stage_id))
        stage = read_stage(Table(item, path, root.faults), group_ids)
        if stage is None:
            continue
        _check_add(root, path, stage, stages)
        if stage.id in stages:
            root.wrong((*path, "id"), "sheet.id-twice", stage.id)
        stages[stage.id] = stage
    return tuple(stages.values())


def _check_add(root: Table, path: Path, stage: Stage, earlier: dict[str, Stage]) -> None:
    if stage.add is None:
        return
    measured = earlier.get(stage.add)
    if measured is None:
        root.wrong((*path, "add"), "sheet.stage-unknown", clip(stage.add))
    elif measured.do is not Do.MEASURE or measured.group != stage.group or measured.measure_unit not in (*UNITS, None):
        root.wrong((*path, "add"), "sheet.add-not-measure", clip(stage.add))


def _count(root: Table, stages: tuple[Stage, ...], groups: dict[str, Group], assemblies: int) -> None:
    """Notes a sheet whose plan would be too large to work with."""
    steps = 0
    for stage in stages:
        places = len(groups[stage.group].positions) if stage.group in groups else 1
        steps += places * (stage.rounds[1] if stage.rounds else 1)
    steps *= max(1, assemblies)
    if steps > MOST_STEPS:
        root.wrong(("stages",), "sheet.steps-many", str(steps), str(MOST_STEPS))
