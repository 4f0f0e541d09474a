"""A TOML table that is read strictly: every wrong key is an error that names it."""

import re
from collections.abc import Collection, Mapping
from enum import StrEnum
from typing import TypeVar

from drivers.errors import ProfileError

_T = TypeVar("_T")
_E = TypeVar("_E", bound=StrEnum)


def wrong(path: str, found: str, expected: str) -> ProfileError:
    """The error that the key at `path` holds something else than `expected`."""
    return ProfileError("link.profile-value", path, found, expected)


class Table:
    """A TOML table that must hold nothing but what is asked of it."""

    def __init__(self, where: str, data: Mapping[str, object]) -> None:
        self._where = where
        self._data = data
        self._asked: set[str] = set()

    def path(self, key: str) -> str:
        return f"{self._where}.{key}" if self._where else key

    def keys(self) -> tuple[str, ...]:
        """All keys, in their order."""
        return tuple(self._data)

    def holds(self, key: str) -> bool:
        self._asked.add(key)
        return key in self._data

    def finish(self) -> None:
        for key in self._data:
            if key not in self._asked:
                raise ProfileError("link.profile-key", self.path(key))

    def text(self, key: str, shape: re.Pattern[str] | None = None, expected: str = "a text") -> str:
        text = self._get(key, str, "a text")
        if not text or not text.isprintable() or (shape is not None and shape.fullmatch(text) is None):
            raise wrong(self.path(key), repr(text), expected)
        return text

    def raw(self, key: str) -> object:
        """What stands there, of whatever type; None if nothing does."""
        return self._data[key] if self.holds(key) else None

    def one_of(self, key: str, options: tuple[str, ...]) -> str:
        text = self.text(key)
        if text not in options:
            raise wrong(self.path(key), text, ", ".join(options))
        return text

    def numbers(self, key: str, *, low: int, high: int) -> list[int]:
        items = self._get(key, list, "a list of whole numbers")
        if not all(isinstance(item, int) and not isinstance(item, bool) and low <= item <= high for item in items):
            raise wrong(self.path(key), repr(items), f"a list of numbers from {low} to {high}")
        return items

    def texts(self, key: str) -> list[str]:
        items = self._get(key, list, "a list of texts")
        if not items or not all(isinstance(item, str) for item in items):
            raise wrong(self.path(key), repr(items), "a list of texts")
        return items

    def number(self, key: str, *, low: int, high: int) -> int:
        number = self._get(key, int, "a whole number")
        if isinstance(number, bool) or not low <= number <= high:
            raise wrong(self.path(key), repr(number), f"{low} to {high}")
        return number

    def flag(self, key: str) -> bool:
        return self._get(key, bool, "true or false") if self.holds(key) else False

    def choice(self, key: str, options: "type[_E]") -> "_E":
        text = self.text(key)
        try:
            return options(text)
        except ValueError as error:
            known: Collection[str] = [option.value for option in options]
            raise wrong(self.path(key), text, ", ".join(known)) from error

    def table(self, key: str) -> "Table":
        return Table(self.path(key), self._get(key, dict, "a table"))

    def tables(self, key: str) -> "list[Table]":
        items = self._get(key, list, "a list of tables")
        if not items or not all(isinstance(item, dict) for item in items):
            raise wrong(self.path(key), repr(items), "a list of tables")
        return [Table(f"{self.path(key)}[{index}]", item) for index, item in enumerate(items, 1)]

    def _get(self, key: str, wanted: type[_T], expected: str) -> _T:
        if not self.holds(key):
            raise ProfileError("link.profile-missing", self.path(key), expected)
        value = self._data[key]
        if not isinstance(value, wanted):
            raise wrong(self.path(key), repr(value), expected)
        return value
