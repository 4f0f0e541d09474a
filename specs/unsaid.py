"""What a sheet does not say yet: texts that begin with TODO, and a wrench without its range."""

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass

from specs.advice import NOTE, STOPS, Advice
from specs.draft import TODO
from specs.model import Sheet

_NOT_SAID = ("text", "digest")  # of the sheet: the file itself


def unsaid(sheet: Sheet) -> tuple[Advice, ...]:
    """Advice on each of them, where it stands."""
    bare = {each.name: getattr(sheet, each.name) for each in fields(sheet) if each.name not in _NOT_SAID}
    todos = (Advice(STOPS, path, "sheet.todo", (text,)) for path, text in _texts("", bare) if text.startswith(TODO))
    ranges = (
        Advice(NOTE, f"wrenches.{role.id}", "sheet.range-missing", (role.id,))
        for role in sheet.wrenches.values()
        if role.low is None and role.high is None
    )
    return (*todos, *ranges)


def _texts(path: str, value: object) -> Iterator[tuple[str, str]]:
    """Every text below, at the path of its key."""
    if isinstance(value, str):
        yield path, value
    elif isinstance(value, Mapping):
        for key, item in value.items():
            yield from _texts(f"{path}.{key}".lstrip("."), item)
    elif isinstance(value, tuple):
        for item in value:
            yield from _texts(f"{path}.{item.id}" if hasattr(item, "id") else path, item)
    elif is_dataclass(value):
        for each in fields(value):
            yield from _texts(f"{path}.{each.name.rstrip('_')}", getattr(value, each.name))
