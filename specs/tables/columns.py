"""Which column of a table says what: as the header row lets one guess, and as a person has said it once and for all.

A mapping is kept as a small TOML file. It names columns by their header, so a table of the same form is read again
wherever its columns stand.

    table = 1
    [columns]
    group = "Joint"            # what a column can say is in ROLES
    target = "Torque (ft-lb)"
    pass = ["Pass 1", "Final"] # of a wide table: one column for each pass
    [missing]
    unit = "ft·lb"             # of numbers whose cell, header and unit column name none
    tolerance = "10 %"         # of rows that say none
    [reading]
    worksheet = "Torques"      # without it the only one
    group_from_above = true    # a blank group cell means the group of the row above
    pass_by_pass = true        # a wide table's first pass is done on every group before the next pass
"""

import re
import tomllib
from dataclasses import dataclass

from specs.draft import Keys, Value, toml_lines
from specs.errors import Fault, SheetErrors, SpecError
from specs.keys import Faults, Table, found
from specs.lines import lines_of, out_of_bounds
from specs.numbers import amount, clip
from specs.tables.amounts import PERCENT, Reading, tolerance, unit_of
from specs.tables.cells import Cell, Grid

FORMAT = 1
TORQUES = ("target", "min", "max", "pass")
TEXTS = ("positions", "pattern", "thread", "grade", "lubrication", "wrench")  # of a group
ROLES = ("group", *TEXTS, "stage", *TORQUES, "tolerance", "unit", "note", "caution")
SEARCHED = 50  # rows in which the header is looked for

_UNIT_LETTERS = re.compile(
    r"(?:[cdmk]?n|kg[fs]?|k[gp]|lb[fs]*|oz[fs]*|pounds?|newtons?|ft|foot|feet|in|inch(?:es)?|met(?:re|er)s?|m|cm|[·.\s*-])+",
    re.IGNORECASE,
)
_BRACKETS = re.compile(r"[(\[]([^)\]]*)[)\]]")
_GUESSES: tuple[tuple[str, str], ...] = (
    ("positions", r"qty|quantity|count|no\.? of .*|number of .*|positions?|pcs|pieces|holes"),
    ("pattern", r"pattern|sequence|tightening order"),
    ("thread", r"threads?|sizes?|thread size|dia(?:meter)?"),
    ("grade", r"grades?|property class|class|strength"),
    ("lubrication", r"lub(?:e|rication|ricant)?|condition|dry/wet|oil"),
    ("wrench", r"wrench|tool"),
    ("tolerance", r"tol(?:erance)?|±|\+/-|deviation"),
    ("unit", r"units?"),
    ("min", r"min(?:imum)?(?: torque)?|lower(?: limit)?|low|from"),
    ("max", r"max(?:imum)?(?: torque)?|upper(?: limit)?|high|to"),
    ("pass", r"(?:pass|stage|step) ?\d+|(?:first|second|third|final|last) ?(?:pass|stage)?|snug|\d+ ?%"),
    ("target", r"(?:target |nominal |tightening )?torques?(?: value)?|target|nominal|value"),
    ("stage", r"pass|stage|step"),
    ("caution", r"cautions?|warnings?"),
    ("note", r"notes?|remarks?|comments?"),
    ("group", r"group|joint|fasteners?|bolts?|items?|locations?|components?|connections?|descriptions?|parts?"),
)


@dataclass(frozen=True, slots=True)
class TableMap:
    """Which header says what, and what a person added that the form never says."""

    columns: tuple[tuple[str, str], ...]  # role and header, in the order of the table; `pass` may stand more than once
    unit: str | None = None
    tolerance: str | None = None
    worksheet: str | None = None
    group_from_above: bool = False
    pass_by_pass: bool = False

    def headers(self, role: str) -> tuple[str, ...]:
        """The headers of one role."""
        return tuple(header for each, header in self.columns if each == role)

    def text(self) -> str:
        """As it is kept: `parse_map` of it is the same mapping."""
        columns: dict[str, Value] = {role: self.headers(role)[0] for role, _ in self.columns if role != "pass"}
        if self.headers("pass"):
            columns["pass"] = self.headers("pass")
        missing: dict[str, Value | None] = {"unit": self.unit, "tolerance": self.tolerance}
        reading: dict[str, Value | None] = {
            "worksheet": self.worksheet,
            "group_from_above": self.group_from_above or None,
            "pass_by_pass": self.pass_by_pass or None,
        }
        lines = [f"table = {FORMAT}", "", "[columns]", *toml_lines(tuple(columns.items()))]
        for name, keys in (("missing", missing), ("reading", reading)):
            given: Keys = tuple((key, value) for key, value in keys.items() if value is not None)
            lines += ["", f"[{name}]", *toml_lines(given)] if given else []
        return "\n".join(lines) + "\n"


def parse_map(text: str) -> TableMap:
    """The mapping of a TOML text. Raises `SheetErrors` with all faults."""
    plain = text.removeprefix("\ufeff").replace("\r\n", "\n")
    if broken := out_of_bounds(plain):
        raise SheetErrors((Fault(broken[0], "", broken[1], broken[2]),))
    try:
        raw = tomllib.loads(plain)
    except ValueError as error:
        raise SheetErrors((Fault(None, "", "sheet.syntax", (clip(str(error)),)),)) from error
    faults = Faults(lines_of(plain))
    root = Table(raw, (), faults)
    version = root.take("table", required=True)
    if version is not None and (version is True or version != FORMAT):
        root.wrong(("table",), "table.map-format", found(version), str(FORMAT))
    table = root.table("columns", required=True)
    columns = () if table is None else _columns(table)
    missing, reading = (root.table(key) or Table({}, (key,), faults) for key in ("missing", "reading"))
    made = TableMap(
        columns,
        missing.read("unit", unit_of, "ft·lb"),
        missing.read("tolerance", written_tolerance, "10 %"),
        reading.text("worksheet"),
        reading.flag("group_from_above"),
        reading.flag("pass_by_pass"),
    )
    for each in (root, missing, reading):
        each.done()
    for code, args in lacks(columns) if columns else ():
        root.wrong(("columns",), code, *args)
    if faults.sorted():
        raise SheetErrors(faults.sorted())
    return made


def _columns(table: Table) -> tuple[tuple[str, str], ...]:
    columns = []
    for role in ROLES:
        if role not in table:
            continue
        if role == "pass" and isinstance(table.take(role), list):
            columns += [(role, header) for header in table.texts(role)]
        elif (header := table.text(role)) is not None:
            columns.append((role, header))
    table.done()
    return tuple(columns)


def lacks(columns: tuple[tuple[str, str], ...]) -> list[tuple[str, tuple[str, ...]]]:
    """What a mapping of those columns lacks or has too much of, as code and words."""
    roles = [role for role, _ in columns]
    headers = [header_key(header) for _, header in columns]
    faults: list[tuple[str, tuple[str, ...]]] = []
    if "group" not in roles:
        faults.append(("table.role-missing", ("group",)))
    if not set(roles) & set(TORQUES):
        faults.append(("table.role-missing", ("target",)))
    if "pass" in roles:
        faults += [("table.role-clash", (role, "pass")) for role in ("target", "min", "max", "stage") if role in roles]
    faults += [
        ("table.role-twice", (role,)) for role in dict.fromkeys(roles) if role != "pass" and roles.count(role) > 1
    ]
    faults += [("table.header-two-roles", (header,)) for header in dict.fromkeys(headers) if headers.count(header) > 1]
    return faults


def written_tolerance(text: str) -> str:
    """A tolerance with its unit, for both sides. Raises `SpecError`."""
    width = tolerance(text, Reading())
    if isinstance(width, tuple) or not amount(width)[1]:
        raise SpecError("sheet.unreadable", clip(text), "10 %")
    return width


def header_key(text: str) -> str:
    """A header as two of them are compared: case and blanks do not count."""
    return " ".join(text.casefold().split())


def header_unit(text: str, *, percent: bool = False) -> str | None:
    """The unit that a header names, `%` too where that can be. Raises `UnitError` for one such as `(lb)`."""
    inner = _BRACKETS.search(text)
    tried = [inner[1]] if inner else []
    tried += [part for sign in (",", "/", " in ") for part in text.rsplit(sign, 1)[1:]]
    words = text.split()
    tried += [" ".join(words[-2:]), words[-1]] if len(words) > 1 else []
    for part in tried:
        if percent and part.strip() == PERCENT:
            return PERCENT
        try:
            return unit_of(part)
        except SpecError:
            if inner and part == inner[1] and _UNIT_LETTERS.fullmatch(part.strip()):
                raise
    return PERCENT if percent and PERCENT in text else None


def guess(header: str) -> str | None:
    """What a header seems to say."""
    text = header_key(_BRACKETS.sub(" ", header)).rstrip(" :*%.")
    for words in (text, text.rpartition(",")[0] or text, " ".join(text.split()[:-1]) or text):
        for role, pattern in _GUESSES:
            if re.fullmatch(pattern, words.strip()):
                return role
    return None


def guessed_header(grid: Grid) -> int | None:
    """The first row that looks like a header: a torque column and another one in it."""
    for number, cells in enumerate(grid.rows[:SEARCHED], start=1):
        roles = {guess(cell.text) for cell in cells if cell.text} - {None}
        if len(roles) > 1 and roles & set(TORQUES):
            return number
    return None


def header_row(grid: Grid, table_map: TableMap) -> int | None:
    """The row in which every header of the mapping stands; None where the table is of another form."""
    wanted = {header_key(header) for _, header in table_map.columns}
    for number, cells in enumerate(grid.rows[:SEARCHED], start=1):
        if wanted <= {header_key(cell.text) for cell in cells}:
            return number
    return None


def samples(grid: Grid, header: int, column: int, count: int = 3) -> tuple[str, ...]:
    """The first values below a header."""
    texts = (cells[column - 1].text for cells in grid.below(header) if column <= len(cells))
    return tuple(text for text in texts if text)[:count]


def placed(cells: tuple[Cell, ...], table_map: TableMap) -> tuple[tuple[str, Cell], ...]:
    """Role and header cell, in the order of the table. Raises `SpecError` for a header that stands twice."""
    wanted = {header_key(header): role for role, header in table_map.columns}
    found_ones: dict[str, Cell] = {}
    for cell in cells:
        key = header_key(cell.text)
        if key in wanted and key in found_ones:
            raise SpecError("table.header-twice", clip(cell.text), found_ones[key].ref, cell.ref)
        if key in wanted:
            found_ones[key] = cell
    return tuple((wanted[key], cell) for key, cell in found_ones.items())
