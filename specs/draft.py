"""A sheet in the making: its keys as they will be written, and the TOML text of them in the house form.

A draft may lack what a sheet must have; `parse` of its text says what.
"""

import json
from dataclasses import dataclass, replace

from specs.errors import SheetErrors
from specs.model import Sheet
from specs.parse import FORMAT, parse


@dataclass(frozen=True, slots=True)
class Inline:
    """A small table that is written in one line."""

    keys: tuple[tuple[str, str], ...]


Value = str | int | bool | Inline | tuple["Value", ...]
Keys = tuple[tuple[str, Value], ...]
Named = tuple[tuple[str, Keys], ...]

WIDEST = 110  # signs of a list that stays on one line

TODO = "TODO"  # what is not known yet begins so: `unsaid` finds it


@dataclass(frozen=True, slots=True)
class Draft:
    """Keys and values of a sheet in the order in which they are written; numbers are texts with their unit."""

    head: Keys = ()
    wrenches: Named = ()
    groups: Named = ()
    stages: tuple[Keys, ...] = ()
    comment: str = ""

    def text(self) -> str:
        """The TOML text, with the version of the format."""
        parts = [f"# {line}" for line in self.comment.splitlines()]
        parts += [f"sheet = {FORMAT}", *toml_lines(self.head)]
        for kind, named in (("wrenches", self.wrenches), ("groups", self.groups)):
            for name, keys in named:
                parts += ["", f"[{kind}.{name}]", *toml_lines(keys)]
        for keys in self.stages:
            parts += ["", "[[stages]]", *toml_lines(keys)]
        return "\n".join(parts) + "\n"

    def parsed(self) -> Sheet:
        """The sheet of this draft. Raises `SheetErrors`."""
        return parse(self.text())

    def faults_at(self, path: str) -> list[tuple[str, tuple[str, ...]]]:
        """Code and words of each fault at that path or below it: "id", "groups.C.order", "stages.C1"."""
        try:
            self.parsed()
        except SheetErrors as errors:
            return [(fault.code, fault.args) for fault in errors.faults if _below(fault.path, path)]
        return []

    def with_keys(self, **changed: Value) -> "Draft":
        """The same draft with keys of its head set, in place or at the end."""
        kept = tuple((key, changed.pop(key, value)) for key, value in self.head)
        return replace(self, head=(*kept, *changed.items()))


def _below(path: str, of: str) -> bool:
    return path == of or path.startswith((f"{of}.", f"{of}["))


def toml_lines(keys: Keys) -> list[str]:
    """Keys and values as lines of TOML."""
    return [f"{key} = {_value(value)}" for key, value in keys]


def _value(value: Value) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, Inline):
        return f"{{ {', '.join(f'{key} = {_value(item)}' for key, item in value.keys)} }}"
    return _list([_value(item) for item in value])


def _list(items: list[str]) -> str:
    flat = f"[{', '.join(items)}]"
    if len(flat) <= WIDEST:
        return flat
    return "\n".join(("[", *(f"    {item}," for item in items), "]"))


def _quoted(text: str) -> str:
    """A basic string: only the quote and the backslash are escaped, so that the trade's signs stay readable."""
    return json.dumps(text, ensure_ascii=False)
