"""Event bodies to and from plain JSON values, driven by their field types. No float, no surprise.

A field that a kind was given later is `ADDED`: it is left out where it holds its default, so that what was written
before it came is still written the same way.
"""

from dataclasses import fields, is_dataclass
from decimal import Decimal
from functools import cache
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from bridge.core.events import ADDED, KINDS, Body


class BodyError(ValueError):
    """A stored body does not have the shape of its kind."""


def to_plain(value: object) -> Any:
    """Body, or part of one, as JSON values: text, int, bool, None, list, dict. Raises `BodyError` for a float."""
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, tuple):
        return [to_plain(item) for item in value]
    if is_dataclass(value) and not isinstance(value, type):
        kept = ((name, getattr(value, name)) for name in _names(type(value)))
        added = added_fields(type(value))
        return {name: to_plain(held) for name, held in kept if name not in added or held != added[name]}
    raise BodyError(f"{type(value).__name__} cannot stand in an event")


def from_plain(kind: str, plain: object) -> Body:
    """The body of that kind. Raises `BodyError` if kind or shape is unknown."""
    body_type = KINDS.get(kind)
    if body_type is None:
        raise BodyError(f"unknown event kind {kind!r}")
    body: Body = _build(body_type, plain, kind)
    return body


@cache
def _names(body_type: type) -> tuple[str, ...]:
    return tuple(item.name for item in fields(body_type))


@cache
def added_fields(body_type: type) -> dict[str, object]:
    """Fields that a class was given later, with their defaults; the first by name is none of them."""
    return {item.name: item.default for item in fields(body_type) if ADDED.items() <= item.metadata.items()}


@cache
def _hints(body_type: type) -> dict[str, Any]:
    return get_type_hints(body_type)


def _build(wanted: Any, plain: object, where: str) -> Any:
    origin = get_origin(wanted)
    if origin in (Union, UnionType):
        options = get_args(wanted)
        if plain is None and NoneType in options:
            return None
        (only,) = (option for option in options if option is not NoneType)
        return _build(only, plain, where)
    if origin is tuple:
        if not isinstance(plain, list):
            raise BodyError(f"{where}: expected a list")
        (inner, _) = get_args(wanted)
        return tuple(_build(inner, item, where) for item in plain)
    if is_dataclass(wanted) and isinstance(wanted, type):
        return _build_fields(wanted, plain, where)
    if wanted is Decimal and isinstance(plain, str):
        return Decimal(plain)
    if wanted in (str, int, bool) and type(plain) is wanted:
        return plain
    raise BodyError(f"{where}: expected {wanted}, found {plain!r}")


def _build_fields(wanted: type, plain: object, where: str) -> Any:
    if not isinstance(plain, dict):
        raise BodyError(f"{where}: expected an object")
    hints = _hints(wanted)
    unknown = plain.keys() - hints.keys()
    if unknown:
        raise BodyError(f"{where}: unknown field {sorted(unknown)[0]!r}")
    try:
        return wanted(**{name: _build(hints[name], item, f"{where}.{name}") for name, item in plain.items()})
    except TypeError as error:
        raise BodyError(f"{where}: {error}") from error
