"""What is written is read back as the same profile, whatever it says; the texts here are made by other means."""

import json

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from drivers.errors import ProfileError
from drivers.load import builtin_profile, builtin_profiles
from drivers.wire.checksums import CHECKSUMS
from drivers.wire.parse import parse_profile
from drivers.wire.profile import Profile
from drivers.wire.write import write

TEXT = st.text(st.characters(min_codepoint=0x20, max_codepoint=0x7E), min_size=1, max_size=9).map(str.strip)
SIGNS = st.sampled_from(list("|;,/\\\"'#[]{}=*!~")) | st.just("\t")
BYTE = st.integers(0, 255)


def toml(keys: dict[str, object]) -> str:
    return "\n".join(f"{key} = {plain(value)}" for key, value in keys.items() if value is not None)


def plain(value: object) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(key)} = {plain(each)}" for key, each in value.items()) + "}"
    return json.dumps(value)


def perhaps(of: st.SearchStrategy[object]) -> st.SearchStrategy[object]:
    return st.none() | of


@st.composite
def framings(draw: st.DrawFn) -> str:
    longest = draw(perhaps(st.integers(100, 250)))
    match draw(st.sampled_from(["ends", "start and end", "length"])):
        case "ends":
            ends = draw(st.sampled_from([["\r\n"], ["\n"], ["\r\n", "\n"], ["\x03"], ["\x00\x1f"], ["\r", "\n"]]))
            return toml({"ends": ends, "longest": longest})
        case "start and end":
            start, end = draw(st.sampled_from([(2, 3), (0x7E, 0x7F), (0xC0, 0xC1)]))
            escape = draw(perhaps(st.sampled_from([0x10, 0x7D, 0xDB])))
            flip = None if escape is None else draw(st.integers(1, 255))
            keys = {"kind": "start and end", "start": start, "end": end, "escape": escape, "flip": flip}
            return toml({**keys, "longest": longest})
    keys = {
        "kind": "length",
        "sync": draw(st.lists(BYTE, min_size=2, max_size=4)),
        "length_bytes": draw(st.integers(1, 2)),
        "length_order": draw(perhaps(st.sampled_from(["big", "little"]))),
        "length_counts_checksum": draw(perhaps(st.booleans())),
    }
    return toml({**keys, "longest": longest})


@st.composite
def checks(draw: st.DrawFn) -> str:
    place = draw(st.sampled_from(["", "after mark", "before end", "after end"]))
    kind = draw(st.sampled_from(sorted(CHECKSUMS)))
    if not place:
        return ""
    if place == "after mark":
        return "[checksum]\n" + toml({"kind": kind, "mark": draw(SIGNS), "optional": draw(perhaps(st.booleans()))})
    written = draw(st.sampled_from(["hex", "bytes"]))
    wide = written == "bytes" and CHECKSUMS[kind].bits > 8
    keys = {
        "kind": kind,
        "place": place,
        "written": written,
        "order": draw(st.sampled_from(["big", "little"])) if wide else None,
        "from": draw(perhaps(st.sampled_from(["start", "length", "body"]))),
        "through_end": draw(perhaps(st.booleans())),
    }
    return "[checksum]\n" + toml(keys)


WORDED = {"direction": ["CW", "CCW"], "message": ["peak", "live"], "flags": ["overload", "low battery"]}
NAMES = ["serial", "counter", "unit", "direction", "angle", "message", "flags", "places", "skip", "skip"]


@st.composite
def field(draw: st.DrawFn, name: str, layout: str, *, last: bool) -> str:
    keys: dict[str, object] = {"is": name}
    binary = layout == "binary"
    if binary:
        keys["bytes"] = draw(st.integers(1, 4))
        keys["places"] = draw(perhaps(st.integers(0, 9))) if name in ("value", "angle") else None
        may = name in ("counter", "unit", "direction", "angle")
        keys["nothing"] = draw(perhaps(st.integers(0, 255))) if may else None
    elif layout == "columns":
        keys["width"] = draw(st.integers(1, 12))
    if not binary and name not in ("value", "message"):
        keys["empty"] = draw(perhaps(st.booleans()))
    if name == "counter" and not binary:
        keys["digits"] = draw(perhaps(st.integers(1, 6)))
    if name == "value":
        keys["sign"] = draw(perhaps(st.sampled_from(["none", "plus", "direction"])))
    if last and name not in ("value", "message", "places"):
        keys["optional"] = draw(perhaps(st.booleans()))
    if name == "unit" or name in WORDED:
        meanings = WORDED.get(name, ["N.m", "ft.lb", "weird unit"])[: draw(st.integers(1, 3))]
        sent = st.integers(0, 7).map(str) if binary else st.text("abRL01+>?", min_size=1, max_size=1)
        sents = draw(st.lists(sent, min_size=len(meanings), max_size=len(meanings), unique=True))
        if binary or name in ("message", "flags") or draw(st.booleans()):
            keys["words"] = dict(zip(sents, meanings, strict=True))
    return "[[fields]]\n" + toml(keys)


@st.composite
def texts(draw: st.DrawFn) -> str:
    layout = draw(st.sampled_from(["delimited line", "columns", "binary"]))
    names = draw(st.lists(st.sampled_from(NAMES), max_size=5))
    names = [name for at, name in enumerate(names) if name == "skip" or name not in names[:at]]
    if layout != "binary":
        names = [name for name in names if name != "places"]
    names.insert(draw(st.integers(0, len(names))), "value")
    title = draw(st.text(min_size=1, max_size=12).filter(str.isprintable))
    unit = draw(perhaps(TEXT)) if "unit" not in names else None
    parts = [toml({"profile": 1, "name": "a-1", "title": title, "kind": layout, "unit": unit}), "[framing]"]
    parts.append(draw(framings()))
    if layout == "delimited line":
        parts += ["[line]", toml({"separator": draw(SIGNS)})]
    if layout == "binary":
        parts += ["[binary]", toml({"order": draw(st.sampled_from(["big", "little"]))})]
    elif draw(st.booleans()):
        parts += ["[number]", toml({"point": draw(st.sampled_from([".", ","])), "blanks": draw(st.booleans())})]
    for at, name in enumerate(names):
        parts.append(draw(field(name, layout, last=at == len(names) - 1)))
    return "\n".join([*parts, draw(checks())])


def read(text: str) -> Profile | None:
    try:
        return parse_profile(text)
    except ProfileError:
        return None


@settings(max_examples=150, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(texts())
def test_any_profile_comes_back(text: str) -> None:
    profile = read(text)
    assume(profile is not None)
    assert profile is not None
    assert parse_profile(write(profile)) == profile


@pytest.mark.parametrize("name", builtin_profiles())
def test_built_in_profiles_come_back(name: str) -> None:
    profile = builtin_profile(name)
    assert parse_profile(write(profile)) == profile


def test_each_key_says_what_it_means_and_notes_stand_above_their_tables() -> None:
    profile = builtin_profile("packet-crc16")
    lines = write(
        profile, {"top": "Learnt\nfrom a capture", "fields.2": "always A1023", "checksum": "sure"}
    ).splitlines()
    assert lines[0] == "# Learnt from a capture"
    at = lines.index("# always A1023")
    assert lines[at + 1 : at + 3] == ["[[fields]]", 'is = "serial"']
    assert lines[lines.index("# sure") + 1] == "[checksum]"
    assert "sync = [0xA5, 0x5A] # bytes that begin a message" in lines
    assert read("\n".join(lines)) == profile


def test_what_would_hold_anyway_is_left_out() -> None:
    text = write(builtin_profile("line-basic"))
    assert "longest" not in text
    assert "point" not in text
    assert text.count("empty = true") == 4
