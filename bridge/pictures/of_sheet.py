"""The drawing of a sheet's groups, one field for each group, or for each group in each assembly."""

from collections.abc import Mapping

from bridge.pictures.positions import Field, Spot
from bridge.words import say
from specs.model import Group, Sheet


def fields_of(sheet: Sheet, group: str | None = None) -> tuple[Field, ...]:
    """Fields of one group or of all, without marks; assemblies stand side by side."""
    groups = [sheet.groups[group]] if group is not None else list(sheet.groups.values())
    assemblies: tuple[str | None, ...] = sheet.assemblies or (None,)
    return tuple(field_of(each, assembly) for each in groups for assembly in assemblies)


def field_of(group: Group, assembly: str | None = None, marks: Mapping[str, str] | None = None) -> Field:
    """One group; `marks` by position name ("C.5")."""
    spots = tuple(Spot(name, None if marks is None else marks.get(f"{group.id}.{name}")) for name in group.positions)
    given = tuple((float(x), float(y)) for x, y in group.places)
    title = group.id if assembly is None else say("picture.in-assembly", assembly, group.id)
    return Field(title, group.pattern, spots, group.order, given)
