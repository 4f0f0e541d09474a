"""How the bytes of a wrench read, as data: where a message ends, which fields it has, how it is checked."""

import re
import tomllib
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeVar

from drivers.errors import ProfileError
from drivers.wire.checksums import CHECKSUMS, Checksum

LONGEST = 512  # bytes of one message that are ever kept
_VERSION = 1
_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")
_UNIT = re.compile(r"[!-~](?:[ -~]{0,14}[!-~])?")
_T = TypeVar("_T")


class Kind(StrEnum):
    """The shapes of message that are understood."""

    DELIMITED_LINE = "delimited line"


class FieldName(StrEnum):
    """What a field of a message can be."""

    SERIAL = "serial"
    COUNTER = "counter"
    VALUE = "value"
    UNIT = "unit"
    DIRECTION = "direction"
    ANGLE = "angle"


@dataclass(frozen=True, slots=True)
class Framing:
    """A message ends at any of `ends`, of which the first is written; `longest` bytes go before it at most."""

    ends: tuple[bytes, ...]
    longest: int = LONGEST


@dataclass(frozen=True, slots=True)
class Field:
    """One field in its place; `empty` lets it hold nothing, `optional` (last fields only) lets it be left off."""

    name: FieldName
    empty: bool = False
    optional: bool = False
    digits: int = 0  # a counter is written with at least so many


@dataclass(frozen=True, slots=True)
class Check:
    """A checksum over all bytes before `mark`, written after it as upper-case hex."""

    kind: str  # name in CHECKSUMS
    mark: bytes
    optional: bool = False

    @property
    def checksum(self) -> Checksum:
        """The function of that name."""
        return CHECKSUMS[self.kind]


@dataclass(frozen=True, slots=True)
class Profile:
    """One way of speaking; equal profiles read equal bytes equally."""

    name: str
    title: str
    kind: Kind
    framing: Framing
    separator: bytes
    fields: tuple[Field, ...]
    check: Check | None = None
    unit: str | None = None  # unit token that the profile fixes; no message then carries one

    @property
    def unit_fixed(self) -> bool:
        """Whether every value of this profile is in one unit."""
        return self.unit is not None

    def has(self, name: FieldName) -> bool:
        """Whether messages have that field."""
        return any(field.name is name for field in self.fields)


def parse_profile(text: str) -> Profile:
    """The profile that a TOML text describes. Raises `ProfileError` for the first thing that is wrong."""
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise ProfileError("link.profile-syntax", str(error)) from error
    top = _Table("", data)
    version = top.number("profile", low=1, high=1_000)
    if version != _VERSION:
        raise ProfileError("link.profile-value", "profile", str(version), str(_VERSION))
    kind = top.choice("kind", Kind)
    profile = Profile(
        name=top.text("name", _NAME, "small letters, digits and hyphens"),
        title=top.text("title"),
        kind=kind,
        framing=_framing(top.table("framing")),
        separator=_separator(top.table("line")),
        fields=_fields(top),
        check=_check(top.table("checksum")) if top.holds("checksum") else None,
        unit=top.text("unit", _UNIT, "a unit of at most 16 ASCII signs") if top.holds("unit") else None,
    )
    top.finish()
    _agree(profile)
    return profile


def _framing(table: "_Table") -> Framing:
    ends = tuple(item.encode("utf-8", "surrogatepass") for item in table.texts("ends"))
    for place, end in enumerate(ends):
        others = ends[:place] + ends[place + 1 :]
        if not 1 <= len(end) <= 4:
            raise ProfileError("link.profile-value", "framing.ends", repr(end), "line ends of 1 to 4 bytes")
        # An end inside another would make the frames depend on how the bytes happen to be cut into pieces.
        if any(end in other and (end == other or not other.endswith(end)) for other in others):
            raise ProfileError("link.profile-value", "framing.ends", repr(end), "no line end inside another")
    longest = table.number("longest", low=1, high=LONGEST) if table.holds("longest") else LONGEST
    table.finish()
    return Framing(ends, longest)


def _separator(table: "_Table") -> bytes:
    sign = _sign(table, "separator")
    table.finish()
    return sign


def _fields(top: "_Table") -> tuple[Field, ...]:
    found: list[Field] = []
    for table in top.tables("fields"):
        name = table.choice("is", FieldName)
        field = Field(name, table.flag("empty"), table.flag("optional"))
        if name is FieldName.COUNTER and table.holds("digits"):
            field = Field(name, field.empty, field.optional, table.number("digits", low=1, high=10))
        table.finish()
        if any(name is other.name for other in found):
            raise ProfileError("link.profile-value", "fields", name, "each field once")
        if found and found[-1].optional and not field.optional:
            raise ProfileError("link.profile-value", "fields", name, "fields that may be left off at the end only")
        found.append(field)
    if not any(field == Field(FieldName.VALUE) for field in found):
        raise ProfileError("link.profile-value", "fields", "no value that is always there", "one field 'value'")
    return tuple(found)


def _check(table: "_Table") -> Check:
    kind = table.text("kind")
    if kind not in CHECKSUMS:
        raise ProfileError("link.profile-value", "checksum.kind", kind, ", ".join(sorted(CHECKSUMS)))
    check = Check(kind, _sign(table, "mark"), table.flag("optional"))
    table.finish()
    return check


def _sign(table: "_Table", key: str) -> bytes:
    sign = table.text(key)
    # Letters, digits and the decimal point belong to the fields; a sign among them would cut a number in two.
    if len(sign) != 1 or sign.isalnum() or sign == "." or not " " < sign < "\x7f":
        raise ProfileError("link.profile-value", table.path(key), repr(sign), "one ASCII sign, not a letter or digit")
    return sign.encode()


def _agree(profile: Profile) -> None:
    marks = [profile.separator] + ([profile.check.mark] if profile.check else [])
    if len(set(marks)) < len(marks):
        raise ProfileError("link.profile-value", "checksum.mark", repr(marks[-1]), "another sign than the separator")
    if profile.unit_fixed and profile.has(FieldName.UNIT):
        raise ProfileError("link.profile-value", "unit", str(profile.unit), "a fixed unit or a field 'unit', not both")
    for end in profile.framing.ends:
        if not all(byte < 0x20 for byte in end):
            raise ProfileError("link.profile-value", "framing.ends", repr(end), "control characters such as CR and LF")


class _Table:
    """A TOML table that must hold nothing but what is asked of it."""

    def __init__(self, where: str, data: Mapping[str, object]) -> None:
        self._where = where
        self._data = data
        self._asked: set[str] = set()

    def path(self, key: str) -> str:
        return f"{self._where}.{key}" if self._where else key

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
            raise ProfileError("link.profile-value", self.path(key), repr(text), expected)
        return text

    def texts(self, key: str) -> list[str]:
        items = self._get(key, list, "a list of texts")
        if not items or not all(isinstance(item, str) for item in items):
            raise ProfileError("link.profile-value", self.path(key), repr(items), "a list of texts")
        return items

    def number(self, key: str, *, low: int, high: int) -> int:
        number = self._get(key, int, "a whole number")
        if isinstance(number, bool) or not low <= number <= high:
            raise ProfileError("link.profile-value", self.path(key), repr(number), f"{low} to {high}")
        return number

    def flag(self, key: str) -> bool:
        return self._get(key, bool, "true or false") if self.holds(key) else False

    def choice(self, key: str, options: "type[_E]") -> "_E":
        text = self.text(key)
        try:
            return options(text)
        except ValueError as error:
            known: Collection[str] = [option.value for option in options]
            raise ProfileError("link.profile-value", self.path(key), text, ", ".join(known)) from error

    def table(self, key: str) -> "_Table":
        return _Table(self.path(key), self._get(key, dict, "a table"))

    def tables(self, key: str) -> "list[_Table]":
        items = self._get(key, list, "a list of tables")
        if not items or not all(isinstance(item, dict) for item in items):
            raise ProfileError("link.profile-value", self.path(key), repr(items), "a list of tables")
        return [_Table(f"{self.path(key)}[{index}]", item) for index, item in enumerate(items, 1)]

    def _get(self, key: str, wanted: type[_T], expected: str) -> _T:
        if not self.holds(key):
            raise ProfileError("link.profile-missing", self.path(key), expected)
        value = self._data[key]
        if not isinstance(value, wanted):
            raise ProfileError("link.profile-value", self.path(key), repr(value), expected)
        return value


_E = TypeVar("_E", bound=StrEnum)
