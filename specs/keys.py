"""Reads the keys of one TOML table and notes every fault instead of stopping at the first."""

import unicodedata
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import TypeVar

from specs.errors import Fault, SpecError
from specs.lines import Path
from specs.numbers import clip

T = TypeVar("T")

LONGEST_WORDS = 2000  # signs of a caution, note or title


@dataclass(frozen=True, slots=True)
class Float:
    """A number with a point outside quotes, as written: a sheet refuses it."""

    text: str


class Faults:
    """Collects faults with the line of the key, or of what holds it."""

    def __init__(self, lines: Mapping[Path, int]) -> None:
        self._lines = lines
        self._found: list[Fault] = []
        self._names: dict[Path, str] = {}

    def add(self, path: Path, code: str, *args: str) -> None:
        """Note one fault; `args` are what was found first, what was expected last."""
        self._found.append(Fault(self.line(path), self._shown(path), code, args))

    def add_error(self, path: Path, error: SpecError) -> None:
        """Note what a reader of numbers or units has found."""
        self.add(path, error.code, *(clip(word) for word in error.words))

    def name(self, path: Path, name: str) -> None:
        """Show the list item at that path by its id."""
        self._names[path] = name

    def line(self, path: Path) -> int | None:
        """Line of the path, else of the nearest that holds it."""
        for length in range(len(path), 0, -1):
            if path[:length] in self._lines:
                return self._lines[path[:length]]
        return None

    def sorted(self) -> tuple[Fault, ...]:
        """All faults in the order of the lines; what stands nowhere comes first."""
        return tuple(sorted(self._found, key=lambda fault: fault.line or 0))

    def _shown(self, path: Path) -> str:
        shown = ""
        for length, part in enumerate(path, start=1):
            if isinstance(part, str):
                shown += f".{clip(part)}" if shown else clip(part)
            else:
                shown += f".{self._names[path[:length]]}" if path[:length] in self._names else f"[{part}]"
        return shown


class Table:
    """One table of the file; `done` notes the keys that nobody asked for."""

    def __init__(self, raw: Mapping[str, object], path: Path, faults: Faults) -> None:
        self.path = path
        self.faults = faults
        self._raw = raw
        self._asked: set[str] = set()

    def __contains__(self, key: str) -> bool:
        return key in self._raw

    def take(self, key: str, required: bool = False) -> object | None:
        """The bare value; notes a required key that is missing."""
        self._asked.add(key)
        if required and key not in self._raw:
            self.wrong((), "sheet.key-missing", key)
        return self._raw.get(key)

    def at(self, key: str) -> Path:
        """Path of one key."""
        return (*self.path, key)

    def wrong(self, where: Path, code: str, *args: str) -> None:
        """Note a fault at a path below this table."""
        self.faults.add((*self.path, *where), code, *args)

    def text(self, key: str, required: bool = False) -> str | None:
        """One line of words."""
        value = self.take(key, required)
        return None if value is None else self.words(value, (key,))

    def words(self, value: object, where: Path) -> str | None:
        """A value that must be one line of words."""
        if not isinstance(value, str):
            self.wrong(where, "sheet.not-text", found(value))
        elif not value.strip():
            self.wrong(where, "sheet.text-empty")
        elif len(value) > LONGEST_WORDS:
            self.wrong(where, "sheet.words-long", str(len(value)), str(LONGEST_WORDS))
        elif any(unicodedata.category(sign)[0] == "C" for sign in value):
            self.wrong(where, "sheet.text-control", clip(value))
        else:
            return value.strip()
        return None

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of lines of words, empty where the key is missing."""
        items = self.items(key)
        read = [self.words(item, (key, index)) for index, item in enumerate(items or ())]
        return tuple(item for item in read if item is not None)

    def items(self, key: str, required: bool = False, count: int | None = None) -> tuple[object, ...] | None:
        """A list, of `count` items where that is given."""
        value = self.take(key, required)
        if value is None:
            return None
        if not isinstance(value, list):
            self.wrong((key,), "sheet.not-list", found(value))
        elif count is not None and len(value) != count:
            self.wrong((key,), "sheet.list-length", str(len(value)), str(count))
        else:
            return tuple(value)
        return None

    def choice(self, key: str, allowed: Collection[str], required: bool = False) -> str | None:
        """One of the allowed words."""
        value = self.take(key, required)
        if value is None:
            return None
        if isinstance(value, str) and value in allowed:
            return value
        self.wrong((key,), "sheet.choice-unknown", found(value), ", ".join(allowed))
        return None

    def flag(self, key: str) -> bool:
        """`true` or `false`, false where the key is missing."""
        value = self.take(key)
        if value is None or isinstance(value, bool):
            return bool(value)
        self.wrong((key,), "sheet.not-flag", found(value))
        return False

    def whole(self, value: object, where: Path, low: int, high: int) -> int | None:
        """A value that must be a whole number from `low` to `high`."""
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return value
        self.wrong(where, "sheet.not-whole", found(value), str(low), str(high))
        return None

    def read(self, key: str, reader: Callable[[str], T], example: str, required: bool = False) -> T | None:
        """A number in quotes through its reader, which may raise `SpecError`."""
        value = self.take(key, required)
        return None if value is None else self.through(value, (key,), reader, example)

    def through(self, value: object, where: Path, reader: Callable[[str], T], example: str) -> T | None:
        """A value that must be a number in quotes, through its reader."""
        if not isinstance(value, str):
            number = isinstance(value, Float | int) and not isinstance(value, bool)
            self.wrong(where, "sheet.number-bare" if number else "sheet.not-amount", found(value), example)
            return None
        try:
            return reader(value)
        except SpecError as error:
            self.faults.add_error((*self.path, *where), error)
            return None

    def table(self, key: str, required: bool = False) -> "Table | None":
        """A table below this one."""
        value = self.take(key, required)
        if value is None:
            return None
        if isinstance(value, dict):
            return Table(value, self.at(key), self.faults)
        self.wrong((key,), "sheet.not-table", found(value))
        return None

    def keys(self) -> Iterable[str]:
        """The keys that stand in the file."""
        return self._raw.keys()

    def done(self, elsewhere: Collection[str] = (), here: str = "") -> None:
        """Note keys that were not asked for; those of `elsewhere` are known, but do not belong `here`."""
        for key in self._raw:
            if key in self._asked:
                continue
            if key in elsewhere:
                self.wrong((key,), "sheet.key-not-here", key, here)
                continue
            near = get_close_matches(key[:60], sorted({*self._asked, *elsewhere}), n=1, cutoff=0.7)
            code = "sheet.key-unknown-near" if near else "sheet.key-unknown"
            self.wrong((key,), code, clip(key), *near)


def found(value: object) -> str:
    """A value of the file as an error shows it; a few words at most."""
    if isinstance(value, str):
        return f'"{clip(value)}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Float):
        return clip(value.text)
    if isinstance(value, int):  # a hexadecimal number may have more digits than Python turns into text
        return str(value) if abs(value) < 10**18 else f"{'-' if value < 0 else ''}0x{abs(value):x}"[:40]
    if isinstance(value, list):
        return f"[{', '.join(found(item) for item in value[:2] if not isinstance(item, list | dict))}…]"
    return "{…}" if isinstance(value, dict) else clip(str(value))
