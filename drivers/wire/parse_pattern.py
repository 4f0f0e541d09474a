"""Reads the pattern of a profile: its named groups are the fields, in their order."""

import string
from dataclasses import dataclass

from drivers.wire.parse_fields import read_pattern_fields
from drivers.wire.pattern import MOST_SIGNS, compiled
from drivers.wire.profile import Field, FieldName
from drivers.wire.table import Table, wrong


@dataclass(frozen=True, slots=True)
class Line:
    """What the table `line` of a pattern says."""

    pattern: str
    write: str | None
    names: tuple[FieldName, ...]

    def fields(self, top: Table) -> tuple[Field, ...]:
        """The fields, with what their tables say beyond the pattern. Raises `ProfileError`."""
        return read_pattern_fields(top, self.names)


def read_line(table: Table) -> Line:
    """The pattern and the template of a table `line`. Raises `ProfileError` for the first thing that is wrong."""
    pattern = table.text("pattern")
    if len(pattern) > MOST_SIGNS:
        raise wrong(table.path("pattern"), f"{len(pattern)} signs long", f"at most {MOST_SIGNS}")
    found = compiled(pattern)
    if found.groups != len(found.groupindex):  # so there are never more groups than fields
        raise wrong(table.path("pattern"), "one with a group without a name of its own", "(?P<name>…), or (?:…)")
    known = {name.value: name for name in FieldName if name not in (FieldName.SKIP, FieldName.PLACES)}
    names = [name.decode("latin-1") for name in sorted(found.groupindex, key=found.groupindex.__getitem__)]
    for name in names:
        if name not in known:
            raise wrong(table.path("pattern"), f"one with a group '{name}'", ", ".join(known))
    if FieldName.VALUE not in names:
        raise wrong(table.path("pattern"), "one without a value", "a group '(?P<value>…)'")
    line = Line(pattern, _write(table, names), tuple(known[name] for name in names))
    table.finish()
    return line


def _write(table: Table, names: list[str]) -> str | None:
    if not table.holds("write"):
        return None
    template = table.text("write")
    expected = "signs of Latin-1 and groups of the pattern in braces, the value among them"
    try:
        template.encode("latin-1")
        parts = [part[1:] for part in string.Formatter().parse(template) if part[1] is not None]
    except ValueError as error:
        raise wrong(table.path("write"), repr(template), expected) from error
    said = {name for name, _, _ in parts}
    if any(spec or conversion for _, spec, conversion in parts) or not {"value"} <= said <= set(names):
        raise wrong(table.path("write"), repr(template), expected)
    return template
