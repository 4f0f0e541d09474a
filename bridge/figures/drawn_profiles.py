"""Random profiles over the keys that a profile file may hold: whatever is read without fault must also be safe."""

import json
from collections.abc import Mapping
from random import Random

from drivers.errors import ProfileError
from drivers.wire.checksums import CHECKSUMS
from drivers.wire.parse import parse_profile
from drivers.wire.profile import Profile

_TEXT = ("serial", "counter", "unit", "direction", "angle", "message", "flags", "skip")
_BINARY = (*_TEXT, "places")
_UNITS = ("N.m", "ft.lb", "in.lb")
_SEPARATORS = (",", ";", "|", "\t", ":", "/", "-", "_", " ", "x")

_GROUPS = {  # what a pattern may say of a field: what it sends, more, less, and what only a fool would write
    "serial": ("[A-Z][0-9]+", "[^,]+?", r"[\w./-]*"),
    "counter": ("[0-9]+", "[0-9]*", r"\d{1,5}", "0*[0-9]?"),
    "value": ("[0-9]+[.,][0-9]+", r"[-+ ]*[\d.,]+", "[^;]+", "[0-9]+(?:[.,][0-9]*)?", ".+?", "(?:[0-9]*[.,]?){3}"),
    "unit": ("[A-Za-z.]+", "[^0-9]*", "N.m|ft.lb|in.lb", "(?i:n.m)?"),
    "direction": ("CW|CCW", "[A-Z]*", "[RL]?", "C{1,2}W"),
    "angle": ("[0-9.,]*", r"\d+[.,]\d", ".*"),
    "message": ("[A-Z]", "P|R"),
    "flags": ("[A-Z]*", "P?B?"),
}

_NUMBERS = {"serial", "counter", "value", "angle"}  # a pattern that has these touch says itself where one ends

Table = dict[str, object]


def draw_profile(rng: Random) -> tuple[str, Profile]:
    """A profile file and what it reads as; most that are drawn are refused, and others are drawn in their place."""
    while True:
        text = _toml(_draw(rng))
        try:
            return text, parse_profile(text)
        except ProfileError:
            continue


def _draw(rng: Random) -> Table:
    kind = rng.choice(("delimited line", "columns", "binary", "pattern"))
    binary = kind == "binary"
    framing = _framing(rng, binary=binary)
    top: Table = {"profile": 1, "name": "drawn", "title": "Drawn", "kind": kind, "framing": framing}
    if kind == "delimited line":
        top["line"] = {"separator": rng.choice(_SEPARATORS)}
    if not binary and rng.random() < 0.5:
        top["number"] = {"point": rng.choice(".,"), "blanks": rng.random() < 0.5}
    if binary:
        top["binary"] = {"order": rng.choice(("big", "little"))}
    if kind == "pattern":
        top["line"], top["fields"] = _pattern(rng)
    else:
        top["fields"] = _fields(rng, kind)
    if not any(field["is"] == "unit" for field in _fields_of(top)) and rng.random() < 0.3:
        top["unit"] = "N.m"
    check = _check(rng, str(framing.get("kind", "ends")))
    if check:
        top["checksum"] = check
    return top


def _framing(rng: Random, *, binary: bool) -> Table:
    kind = rng.choice(("start and end", "length") if binary else ("ends", "ends", "start and end", "length"))
    if kind == "ends":
        return {"ends": rng.choice((["\r\n"], ["\n"], ["\r"], ["\r\n", "\n"], ["\x03"])), "longest": 200}
    if kind == "start and end":
        found: Table = {"kind": kind, "start": rng.choice((2, 0x7E, 0x41)), "end": rng.choice((3, 0x7F, 0x42, 13))}
        if binary or rng.random() < 0.6:
            found |= {"escape": rng.choice((0x10, 0x1B, 0x7D)), "flip": rng.choice((0x40, 0x20, 0x80))}
        return found | {"longest": 400}
    sync = rng.choice(([0xA5, 0x5A], [0xAA, 0xAA], [0x30, 0x31], [1, 2, 3]))
    return {
        "kind": kind,
        "sync": sync,
        "length_bytes": rng.randint(1, 2),
        "length_order": rng.choice(("big", "little")),
        "length_counts_checksum": rng.random() < 0.5,
        "longest": rng.choice((100, 200)),
    }


def _pattern(rng: Random) -> tuple[Table, list[Table]]:
    """A pattern with a template, and what tables of its fields say beyond it."""
    names = rng.sample(sorted(_GROUPS.keys() - {"value"}), rng.randint(0, 4))
    names.insert(rng.randint(0, len(names)), "value")
    pattern = write = ""
    for at, name in enumerate(names):
        between = rng.choice(",; =") if at and name in _NUMBERS else rng.choice(("", ",", ";", "#"))
        part = f"{between}(?P<{name}>{rng.choice(_GROUPS[name])})"
        pattern += part if name == "value" or rng.random() < 0.6 else f"(?:{part})?"
        write += f"{between}{{{name}}}"
    fields = [_field(rng, name, "pattern") for name in names]
    return {"pattern": pattern + rng.choice(("", "", " *", ".*")), "write": write}, fields


def _fields(rng: Random, kind: str) -> list[Table]:
    names = rng.sample(_BINARY if kind == "binary" else _TEXT, rng.randint(0, 5))
    names.insert(rng.randint(0, len(names)), "value")
    found = [_field(rng, name, kind) for name in names]
    for field in reversed(found):
        if field["is"] in ("value", "message", "places") or rng.random() < 0.6:
            break
        field["optional"] = True
    return found


def _field(rng: Random, name: str, kind: str) -> Table:
    binary = kind == "binary"
    field: Table = {"is": name}
    if kind == "columns":
        field["width"] = rng.randint(1, 12)
    if binary:
        field["bytes"] = rng.randint(1, 12 if name in ("serial", "skip") else 4)
    if kind in ("delimited line", "columns") and name not in ("value", "message") and rng.random() < 0.6:
        field["empty"] = True
    if name == "value" and rng.random() < 0.5:
        field["sign"] = rng.choice(("plus", "direction", "none"))
    if binary and name in ("value", "angle") and rng.random() < 0.5:
        field["places"] = rng.randint(0, 4)
    if binary and name in ("counter", "unit", "direction", "angle") and rng.random() < 0.5:
        field["nothing"] = rng.choice((0, 255))
    if name in ("unit", "direction", "message", "flags") and (
        binary or name in ("message", "flags") or rng.random() < 0.5
    ):
        field["words"] = _words(rng, name, binary=binary)
    return field


def _words(rng: Random, name: str, *, binary: bool) -> Table:
    meanings = {
        "unit": _UNITS,
        "direction": ("CW", "CCW"),
        "message": ("peak", "live"),
        "flags": ("overload", "low battery"),
    }[name]
    sent = rng.sample(("1", "2", "3", "7") if binary else ("R", "L", "P", "O", "B"), len(meanings))
    return dict(zip(sent, meanings, strict=True))


def _check(rng: Random, framing: str) -> Table:
    if framing != "length" and rng.random() < 0.3:
        return {}
    check: Table = {"kind": rng.choice(sorted(CHECKSUMS))}
    if framing == "ends" and rng.random() < 0.5:
        return check | {"mark": rng.choice("*#!"), "optional": rng.random() < 0.5}
    check["place"] = rng.choice(("before end", "after end")) if framing == "start and end" else "before end"
    check["written"] = rng.choice(("hex", "bytes"))
    bits = CHECKSUMS[str(check["kind"])].bits
    if check["written"] == "bytes" and bits > 8:
        check["order"] = rng.choice(("big", "little"))
    check["from"] = rng.choice(("body", "start", "length") if framing == "length" else ("body", "start"))
    if check["place"] == "after end":
        check["through_end"] = rng.random() < 0.5
    return check


def _fields_of(top: Table) -> list[Table]:
    fields = top["fields"]
    assert isinstance(fields, list)
    return fields


def _toml(top: Table) -> str:
    lines = [f"{key} = {_written(value)}" for key, value in top.items() if not isinstance(value, Mapping | list)]
    for key, value in top.items():
        if isinstance(value, Mapping):
            lines += [f"[{key}]", *(f"{name} = {_written(item)}" for name, item in value.items())]
    for field in _fields_of(top):
        lines += ["[[fields]]", *(f"{name} = {_written(item)}" for name, item in field.items())]
    return "\n".join(lines) + "\n"


def _written(value: object) -> str:
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_written(str(key))} = {_written(item)}" for key, item in value.items()) + " }"
    return json.dumps(value)  # a text, number, flag or list of them is written in TOML as in JSON
