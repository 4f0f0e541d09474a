"""The rows of a table as groups and stages, and every fault of its cells, each with its cell.

A row is one stage of a group; in a wide table it is a group with a column for each pass. Stages are due in the order
of the rows; in a wide table group by group, or pass by pass where the mapping says so. What is said of a group may
stand in one of its rows or in all of them alike; `Cover` and `cover` are one group. A totals row without a torque is
left out; any other row without one is a fault.

A merged range says its text in every row. A torque or tolerance that is merged counts for its first row alone and is
refused in the others; a merged number of positions counts for the rows of one group.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from specs.errors import Fault, SpecError
from specs.model import Torque
from specs.numbers import clip
from specs.tables.amounts import Asked, Reading, asked, decimal_signs, reaches_nought, tolerance, unit_of
from specs.tables.cells import Cell, Grid, letters
from specs.tables.columns import TEXTS, TORQUES, TableMap, header_key, header_row, header_unit, placed
from specs.tables.positions import positions_of

_TOTALS = re.compile(r"(?:grand |sub)?-?\s?totals?\b.*|sums?\b.*|Σ.*|summe\b.*|gesamt\b.*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class StageRow:
    """One stage of the table."""

    group: str  # as the table names it
    row: int
    asked: Asked
    cell: Cell  # where its torque stands
    name: str | None = None
    note: str | None = None
    cautions: tuple[str, ...] = ()


@dataclass(slots=True)
class GroupRows:
    """What the rows say of one group: role to the cell that said it first."""

    name: str
    cell: Cell
    said: dict[str, Cell] = field(default_factory=dict)

    def text(self, role: str) -> str | None:
        """What a column says of it."""
        return self.said[role].text if role in self.said else None


@dataclass(frozen=True, slots=True)
class Records:
    """All that a table says."""

    groups: tuple[GroupRows, ...]
    stages: tuple[StageRow, ...]
    left_out: tuple[int, ...] = ()  # rows with totals
    faults: tuple[Fault, ...] = ()  # of its cells; what stands in the rest is read all the same


class _Faults:
    def __init__(self) -> None:
        self.found: list[Fault] = []

    def add(self, cell: Cell, code: str, *args: str) -> None:
        self.found.append(Fault(cell.row, cell.ref, code, args))


def records(grid: Grid, table_map: TableMap) -> Records:
    """What the table says, with its faults, for `drafting.checked`. Raises `SpecError` where it is of another form."""
    header = header_row(grid, table_map)
    if header is None:
        raise SpecError("table.form-other", ", ".join(clip(name) for _, name in table_map.columns))
    return _Reader(grid, header, table_map).read()


class _Reader:
    """One reading of one table."""

    def __init__(self, grid: Grid, header: int, table_map: TableMap) -> None:
        self._grid, self._header, self._map = grid, header, table_map
        self._faults = _Faults()
        self._columns = placed(grid.rows[header - 1], table_map)
        self._units = {cell.column: self._unit_of(role, cell) for role, cell in self._columns}
        amounts = {cell.column for role, cell in self._columns if role in (*TORQUES, "tolerance")}
        signs = {
            sign
            for cells in grid.below(header)
            for cell in cells
            if cell.column in amounts and not cell.number
            for sign in decimal_signs(cell.text)
        }
        self._decimal = signs.pop() if len(signs) == 1 else None
        self._groups: dict[str, GroupRows] = {}

    def read(self) -> Records:
        stages: list[StageRow] = []
        left_out: list[int] = []
        above: str | None = None
        for _, head in self._columns:
            if head.column in self._grid.hidden_columns:
                self._faults.add(head, "table.column-hidden", letters(head.column))
        for cells in self._grid.below(self._header):
            row = cells[0].row
            here = {head.column: self._cell(row, head.column) for _, head in self._columns}
            if not any(cell.text or cell.trouble for cell in here.values()):
                continue  # something stands beside the columns that are read
            troubled = [cell for cell in here.values() if cell.trouble]
            for cell in troubled:
                if cell.trouble:
                    self._faults.add(cell, cell.trouble.code, *cell.trouble.args)
            roles = {role: here[head.column] for role, head in self._columns if role != "pass"}
            if self._is_total(roles["group"], here):
                left_out.append(row)
                continue
            self._beyond(cells)
            if row in self._grid.hidden_rows:
                self._faults.add(roles["group"], "table.row-hidden", str(row))
            name = self._group(roles, above)
            if name is None:
                continue
            above = name
            if not troubled:
                stages += self._stages(name, row, roles, here)
        if not stages and not self._faults.found:
            self._faults.add(self._grid.cell(self._header, 1), "table.no-rows")
        if self._map.pass_by_pass:
            stages.sort(key=lambda stage: stage.cell.column)
        faults = tuple(self._faults.found)
        return Records(tuple(self._groups.values()), tuple(stages), tuple(left_out), faults)

    def _beyond(self, cells: tuple[Cell, ...]) -> None:
        """Notes what stands right of the last header: a comma within a number has moved the row."""
        head = self._grid.rows[self._header - 1]
        last = max(cell.column for cell in head if cell.text)
        odd = next((cell for cell in cells if cell.column > last and cell.text), None)
        if odd is not None:
            self._faults.add(odd, "table.header-none", clip(odd.text))

    def _cell(self, row: int, column: int) -> Cell:
        return self._grid.cell(row, column)

    def _unit_of(self, role: str, cell: Cell) -> str | None:
        if role not in (*TORQUES, "tolerance"):
            return None
        try:
            return header_unit(cell.text, percent=role == "tolerance")
        except SpecError as error:
            self._faults.add(cell, error.code, *error.words)
            return None

    def _is_total(self, group: Cell, here: Mapping[int, Cell]) -> bool:
        torques = [here[head.column] for role, head in self._columns if role in TORQUES]
        return bool(_TOTALS.fullmatch(group.text)) and not any(cell.text for cell in torques)

    def _group(self, roles: Mapping[str, Cell], above: str | None) -> str | None:
        """The group of a row, with what the row says of it."""
        cell = roles["group"]
        name = cell.text or (above if self._map.group_from_above else None)
        if name is None:
            self._faults.add(cell, "table.group-empty")
            return None
        group = self._groups.setdefault(header_key(name), GroupRows(name, cell))
        for role in TEXTS:
            found = roles.get(role)
            if found is None or not found.text:
                continue
            if role == "positions" and found.merged_from is not None:
                first = group.said.get(role)
                if first is None or first.ref != found.merged_from:
                    self._faults.add(found, "table.merged-number", found.merged_from)
                continue
            if role == "positions" and not self._counts(found):
                continue
            first = group.said.setdefault(role, found)
            if first.text != found.text:
                self._faults.add(found, "table.group-differs", role, clip(group.name), clip(first.text), first.ref)
        return group.name

    def _counts(self, cell: Cell) -> bool:
        try:
            positions_of(cell.text)
        except SpecError as error:
            self._faults.add(cell, error.code, *error.words)
            return False
        return True

    def _stages(self, group: str, row: int, roles: Mapping[str, Cell], here: Mapping[int, Cell]) -> Iterator[StageRow]:
        before = len(self._faults.found)
        note, caution = (roles[role].text if role in roles else "" for role in ("note", "caution"))
        label = self._label(roles)
        passes = [head for role, head in self._columns if role == "pass"]
        found = 0
        for head in passes:
            cell = here[head.column]
            if not cell.text:
                continue
            found += 1
            told = self._told(roles, {"target": (head, cell)})
            if told is not None:
                yield StageRow(group, row, told, cell, head.text, note or None, (caution,) if caution else ())
        if not passes:
            columns = {role: (head, here[head.column]) for role, head in self._columns if role in TORQUES}
            filled = {role: pair for role, pair in columns.items() if pair[1].text}
            found = len(filled)
            told = self._told(roles, filled) if filled else None
            if told is not None:
                cell = (filled.get("target") or next(iter(filled.values())))[1]
                yield StageRow(group, row, told, cell, label or None, note or None, (caution,) if caution else ())
        if not found and len(self._faults.found) == before:
            torque = next(here[head.column] for role, head in self._columns if role in TORQUES)
            self._faults.add(torque, "table.torque-empty", clip(group))

    def _label(self, roles: Mapping[str, Cell]) -> str:
        """What the table calls the stage; a bare number with its header before it."""
        text = roles["stage"].text if "stage" in roles else ""
        header = next((head.text for role, head in self._columns if role == "stage"), "")
        return f"{header} {text}" if text.isdigit() else text

    def _told(self, roles: Mapping[str, Cell], torques: Mapping[str, tuple[Cell, Cell]]) -> Asked | None:
        """Target, limits and tolerance of one stage; None where a fault stands in the way."""
        before = len(self._faults.found)
        unit = self._column_unit(roles)
        read = {role: self._torque(cell, self._units[head.column], unit) for role, (head, cell) in torques.items()}
        width = self._width(roles)
        if len(self._faults.found) > before:
            return None
        (first, cell), *_ = [(role, pair[1]) for role, pair in torques.items()]
        main = read.get("target") or Asked()
        ends: dict[str, Torque | None] = {"min": main.low, "max": main.high}
        for role in ("min", "max"):
            other = read.get(role)
            if other is None:
                continue
            if other.target is None or other.tolerance is not None or other.low is not None:
                self._faults.add(torques[role][1], "sheet.unreadable", clip(torques[role][1].text), "90 ft·lb")
            elif ends[role] is not None:
                self._faults.add(torques[role][1], "table.said-twice", role, torques["target"][1].ref)
            ends[role] = other.target
        limits = ends["min"] is not None or ends["max"] is not None
        if width is not None and (limits or main.tolerance is not None):
            self._faults.add(roles["tolerance"], "table.said-twice", "tolerance", cell.ref)
        if len(self._faults.found) > before:
            return None
        if width is None and main.tolerance is None and not limits and self._map.tolerance is None:
            self._faults.add(cell, "table.tolerance-missing", clip(cell.text))
        if width is not None and main.target is None and not limits:
            self._faults.add(cell, "sheet.key-needs", "tolerance", first)
        if len(self._faults.found) > before:
            return None
        width = width or main.tolerance or (None if limits else self._map.tolerance)
        lower = width[0] if isinstance(width, tuple) else width
        if main.target is not None and lower is not None and reaches_nought(main.target, lower):
            self._faults.add(cell, "table.reaches-nought", clip(cell.text), lower)
            return None
        return Asked(main.target, ends["min"], ends["max"], width)

    def _column_unit(self, roles: Mapping[str, Cell]) -> str | None:
        cell = roles.get("unit")
        if cell is None or not cell.text:
            return None
        try:
            return unit_of(cell.text)
        except SpecError as error:
            self._faults.add(cell, error.code, *error.words)
            return None

    def _torque(self, cell: Cell, header: str | None, column: str | None) -> Asked | None:
        if cell.merged_from is not None:
            self._faults.add(cell, "table.merged-number", cell.merged_from)
            return None
        if header is not None and column is not None and header != column:
            self._faults.add(cell, "table.unit-clash", column, header)
            return None
        try:
            try:
                return asked(cell.text, Reading(header or column, self._decimal, cell.number))
            except SpecError as error:
                if error.code != "table.unit-missing" or self._map.unit is None:
                    raise
                return asked(cell.text, Reading(self._map.unit, self._decimal, cell.number))
        except SpecError as error:
            self._faults.add(cell, error.code, *error.words)
            return None

    def _width(self, roles: Mapping[str, Cell]) -> str | tuple[str, str] | None:
        cell = roles.get("tolerance")
        if cell is None or not cell.text:
            return None
        if cell.merged_from is not None:
            self._faults.add(cell, "table.merged-number", cell.merged_from)
            return None
        header = self._units[next(head.column for role, head in self._columns if role == "tolerance")]
        try:  # a column of units is of torques: 10 could be percent
            return tolerance(cell.text, Reading(header, self._decimal, cell.number))
        except SpecError as error:
            self._faults.add(cell, error.code, *error.words)
            return None
