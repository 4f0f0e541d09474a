"""Canonical JSON of plain values, equal byte for byte to RFC 8785 on everything it accepts, and its strict reader.

Accepted are text, whole numbers below 2^53 in size, truth values, null, lists and objects with ASCII keys. The
two forms then differ in nothing: only floats and keys outside ASCII make RFC 8785 part from sorted compact JSON.
"""

import json
from json.encoder import encode_basestring
from typing import Any

DEEPEST = 32
LARGEST = 2**53 - 1

quote = encode_basestring  # one JSON string in its canonical form; raises `TypeError` for anything but text


class CanonicalError(ValueError):
    """A value or a text that has no canonical form."""


def canonical_text(value: object) -> str:
    """Canonical JSON of plain values as text. Raises `CanonicalError`."""
    _check(value, DEEPEST)
    text = _encode(value)
    _utf8(text)
    return text


def canonical(value: object) -> bytes:
    """Canonical JSON of plain values as UTF-8. Raises `CanonicalError`."""
    _check(value, DEEPEST)
    return _utf8(_encode(value))


def read(text: str) -> Any:
    """Plain values of a JSON text. Raises `CanonicalError` for duplicate keys, floats, NaN and numbers from 2^53."""
    try:
        value = json.loads(
            text, object_pairs_hook=_object, parse_float=_float, parse_constant=_float, parse_int=_whole_number
        )
    except RecursionError as error:
        raise CanonicalError("nested too deep") from error
    except json.JSONDecodeError as error:
        raise CanonicalError(f"no JSON at character {error.pos}") from error
    _check(value, DEEPEST)
    if "\\u" in text:  # only an escape can bring in half a surrogate pair
        _utf8(_encode(value))
    return value


_encode = json.JSONEncoder(
    ensure_ascii=False, check_circular=False, allow_nan=False, sort_keys=True, separators=(",", ":")
).encode


def _utf8(text: str) -> bytes:
    try:
        return text.encode()
    except UnicodeEncodeError as error:
        raise CanonicalError("half a surrogate pair") from error


def _check(value: object, depth: int) -> None:
    if value is None or value is True or value is False or isinstance(value, str):
        return
    if isinstance(value, int):
        if not -LARGEST <= value <= LARGEST:
            raise CanonicalError(f"whole number of 2^53 or more: {len(str(abs(value)))} digits")
        return
    if depth == 0:
        raise CanonicalError("nested too deep")
    if isinstance(value, list):
        for item in value:
            _check(item, depth - 1)
    elif isinstance(value, dict):
        for key, item in value.items():
            if not isinstance(key, str) or not key.isascii():
                raise CanonicalError(f"key {key!r} is not ASCII text")
            _check(item, depth - 1)
    else:
        raise CanonicalError(f"{type(value).__name__} has no canonical form")


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    result = dict(pairs)
    if len(result) != len(pairs):
        raise CanonicalError("an object names a key twice")
    return result


def _float(text: str) -> Any:
    raise CanonicalError(f"number with a fraction: {text[:20]}")


def _whole_number(text: str) -> int:
    if len(text) > len(str(-LARGEST)):  # int() of a long text is slow
        raise CanonicalError(f"whole number of {len(text)} characters")
    return int(text)
