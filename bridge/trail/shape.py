"""The exact text of a stored body: canonical, and of the shape of its kind, written and checked.

One pattern a kind, made from the fields of its class, says both at once and costs a tenth of parsing; a body that
it does not know (a number near 2^53, an unusual decimal) is parsed and built in full before it is refused.
"""

import json
import re
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass
from decimal import Decimal, InvalidOperation
from functools import cache
from operator import attrgetter
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from bridge.core.codec import BodyError, added_fields, from_plain, to_plain
from bridge.core.events import KINDS, Body
from bridge.trail.canonical import LARGEST, CanonicalError, canonical_text, quote, read


def body_text(body: Body) -> str:
    """Canonical JSON of a body, as `canonical_text(to_plain(body))` at a third of its cost. Raises `BodyError`."""
    try:
        text = _writer(type(body))(body)  # type: ignore[arg-type]  # a class is hashable
        if not text.isascii():
            text.encode()
    except (TypeError, AttributeError, UnicodeEncodeError) as error:
        raise BodyError(f"{type(body).__name__}: {error}") from error
    return text


def check_body(kind: str, text: str) -> None:
    """Raise `BodyError` unless the text is canonical and fits its kind."""
    pattern = _pattern(kind)
    if pattern is None or pattern.fullmatch(text) is None:
        _plain_by_building(kind, text)


def built_body(kind: str, text: str) -> Body:
    """The body that a stored text stands for. Raises `BodyError`."""
    try:
        return from_plain(kind, _plain(kind, text))
    except InvalidOperation as error:
        raise BodyError(f"{kind}: not a decimal number") from error


def _plain(kind: str, text: str) -> Any:
    pattern = _pattern(kind)
    if pattern is not None and pattern.fullmatch(text) is not None:
        return json.loads(text)
    return _plain_by_building(kind, text)


def _plain_by_building(kind: str, text: str) -> Any:
    try:
        plain = read(text)
        body = from_plain(kind, plain)
        if canonical_text(plain) != text:
            raise BodyError(f"{kind}: not in canonical form")
        whole = to_plain(body)
    except CanonicalError as error:
        raise BodyError(f"{kind}: {error}") from error
    except InvalidOperation as error:
        raise BodyError(f"{kind}: not a decimal number") from error
    if whole != plain:
        raise BodyError(f"{kind}: a field is missing or written in another way")
    return plain


_TEXT = (
    r'"[^"\\\x00-\x1f]*+'
    r'(?:\\(?:["\\bfnrt]|u00(?:0[0-7bef]|1[0-9a-f]))[^"\\\x00-\x1f]*+)*+"'
)
_WHOLE = r"(?:0|-?[1-9][0-9]{0,14})"
# As `str(Decimal)` writes it: with an exponent once six zeros would stand behind the point.
_DECIMAL = r'"-?(?:[1-9][0-9]{0,14}(?:\.[0-9]{1,12})?|0(?:\.(?:[0-9]{1,6}|0{0,5}[1-9][0-9]{0,11}))?)"'
_TRUTH = r"(?:true|false)"


@cache
def _pattern(kind: str) -> re.Pattern[str] | None:
    body_type = KINDS.get(kind)
    return None if body_type is None else re.compile(_of(body_type))


def _of(wanted: Any) -> str:
    origin = get_origin(wanted)
    if origin in (Union, UnionType):
        (only,) = (option for option in get_args(wanted) if option is not NoneType)
        return f"(?:null|{_of(only)})"
    if origin is tuple:
        item = _of(get_args(wanted)[0])
        return rf"\[(?:{item}(?:,{item})*+)?\]"
    if is_dataclass(wanted) and isinstance(wanted, type):
        return r"\{" + "".join(_fields_of(wanted)) + r"\}"
    return {str: _TEXT, int: _WHOLE, Decimal: _DECIMAL, bool: _TRUTH}[wanted]


def _fields_of(wanted: type) -> Iterator[str]:
    """Patterns of a class's fields; one that was added later may be missing, and does not hold its default."""
    hints, added = get_type_hints(wanted), added_fields(wanted)
    for at, name in enumerate(sorted(item.name for item in fields(wanted))):
        part = ("," if at else "") + re.escape(quote(name)) + ":"
        if name not in added:
            yield part + _of(hints[name])
            continue
        default = _writer(hints[name])(added[name])
        yield rf"(?:{part}(?!{re.escape(default)}[,}}]){_of(hints[name])})?"


@cache
def _writer(wanted: Any) -> Callable[[Any], str]:
    origin = get_origin(wanted)
    if origin in (Union, UnionType):
        (only,) = (option for option in get_args(wanted) if option is not NoneType)
        if only is str:
            return _text_or_null
        write = _writer(only)
        return lambda value: "null" if value is None else write(value)
    if origin is tuple:
        write_item = _writer(get_args(wanted)[0])
        return lambda value: "[" + ",".join([write_item(item) for item in value]) + "]"
    if is_dataclass(wanted) and isinstance(wanted, type):
        return _field_writer(wanted)
    return {str: quote, int: _whole, Decimal: _decimal, bool: _truth}[wanted]


def _field_writer(wanted: type) -> Callable[[Any], str]:
    hints = get_type_hints(wanted)
    names = sorted(item.name for item in fields(wanted))
    parts = [("," if at else "{") + quote(name) + ":" for at, name in enumerate(names)]
    writers = [_writer(hints[name]) for name in names]
    get = attrgetter(*names) if len(names) > 1 else lambda value: (getattr(value, names[0]),)
    pairs = tuple(zip(parts, writers, strict=True))
    added = added_fields(wanted)
    if added:
        kept = tuple(
            (part, write, name in added, added.get(name)) for (part, write), name in zip(pairs, names, strict=True)
        )
        return lambda value: (
            "".join(
                part + write(item)
                for (part, write, later, default), item in zip(kept, get(value), strict=True)
                if not later or item != default
            )
            + "}"
        )
    return lambda value: (
        "".join([part + write(item) for (part, write), item in zip(pairs, get(value), strict=True)]) + "}"
    )


def _text_or_null(value: Any) -> str:
    return "null" if value is None else quote(value)


def _whole(value: Any) -> str:
    if type(value) is not int or not -LARGEST <= value <= LARGEST:
        raise TypeError(f"{value!r} is no whole number below 2^53")
    return str(value)


def _decimal(value: Any) -> str:
    if not isinstance(value, Decimal):
        raise TypeError(f"{value!r} is no decimal number")
    return quote(str(value))


def _truth(value: Any) -> str:
    if type(value) is not bool:
        raise TypeError(f"{value!r} is no truth value")
    return "true" if value else "false"
