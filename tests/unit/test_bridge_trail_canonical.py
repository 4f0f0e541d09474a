import hashlib
import json
from typing import Any

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from bridge.trail.canonical import DEEPEST, LARGEST, CanonicalError, canonical, canonical_text, quote, read

TEXT = st.text(st.characters(exclude_categories=["Cs"]))
KEYS = st.text(st.characters(codec="ascii"))
PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers(-LARGEST, LARGEST) | TEXT,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=4),
    max_leaves=20,
)


@given(PLAIN)
def test_equals_rfc_8785(value: Any) -> None:
    assert canonical(value) == rfc8785.dumps(value)
    assert canonical_text(value).encode() == canonical(value)


@given(PLAIN)
def test_read_gives_the_value_back(value: Any) -> None:
    assert read(canonical_text(value)) == value


@given(TEXT)
def test_quote_is_the_canonical_string(text: str) -> None:
    assert quote(text) == canonical_text(text)


# RFC 8785's author's test data (arrays, structures); text and SHA-256 from the reference values (rfc8785 0.1.4).
@pytest.mark.parametrize(
    ("value", "text", "digest"),
    [
        (
            [56, {"d": True, "10": None, "1": []}],
            '[56,{"1":[],"10":null,"d":true}]',
            "099601b171cafed97c333f8878d68e7f8c8f795412adb34b2fdcf0e7c7beac42",
        ),
        (
            {
                "1": {"f": {"f": "hi", "F": 5}, "\n": 56},
                "10": {},
                "": "empty",
                "a": {},
                "111": [{"e": "yes", "E": "no"}],
                "A": {},
            },
            '{"":"empty","1":{"\\n":56,"f":{"F":5,"f":"hi"}},"10":{},"111":[{"E":"no","e":"yes"}],"A":{},"a":{}}',
            "605f65004ec2db7692522a0852c22f1c989e036d547e88963d1a3143cf3195d5",
        ),
    ],
)
def test_published_vectors(value: Any, text: str, digest: str) -> None:
    assert canonical_text(value) == text
    assert hashlib.sha256(canonical(value)).hexdigest() == digest


def test_text_is_not_normalised() -> None:
    assert canonical("A\u030a") == b'"A\xcc\x8a"'  # reference values, "unicode": A + U+030A stays as it is


@pytest.mark.parametrize(
    "value",
    [
        50.0,
        float("nan"),
        float("inf"),
        2**53,
        -(2**53),
        [1, [2, 3.5]],
        {"a": {1: "b"}},
        {None: 1},
        {"ö": 1},
        {"\U0001f602": 1},
        "\ud800",
        ["x", "\udfff"],
        {"a": "\ud83d"},
        (1, 2),
        b"x",
        {1, 2},
        object(),
    ],
)
def test_refuses_what_has_no_one_form(value: Any) -> None:
    with pytest.raises(CanonicalError):
        canonical(value)
    with pytest.raises(CanonicalError):
        canonical_text(value)


def test_control_json_alone_would_take_them() -> None:
    assert json.dumps(50.0) == "50.0"  # RFC 8785 writes 50
    assert json.dumps(float("nan")) == "NaN"
    assert json.dumps({1: "b"}) == '{"1": "b"}'


def test_nests_as_deep_as_stated() -> None:
    deep: Any = "x"
    for _ in range(DEEPEST):
        deep = [deep]
    assert read(canonical_text(deep)) == deep
    with pytest.raises(CanonicalError):
        canonical([deep])
    with pytest.raises(CanonicalError):
        read("[" * 100_000 + "]" * 100_000)


@pytest.mark.parametrize(
    "text",
    [
        '{"a":1,"a":1}',
        '{"b":{"a":1,"a":2}}',
        "1.0",
        "1e3",
        "-0.0",
        "NaN",
        "Infinity",
        "-Infinity",
        "[1e400]",
        "9007199254740992",
        "-9007199254740992",
        "9" * 5000,
        '"\\ud800"',
        '["\\udc00\\ud800"]',
        '{"ö":1}',
        "",
        "{",
        "[1,]",
        "'a'",
        "\ufeff1",
        '"\n"',
        "1 2",
    ],
)
def test_strict_reader_refuses(text: str) -> None:
    with pytest.raises(CanonicalError):
        read(text)


def test_control_json_alone_would_read_them() -> None:
    assert json.loads('{"a":1,"a":2}') == {"a": 2}
    assert json.loads("1e400") == float("inf")
    assert json.loads('"\\ud800"') == "\ud800"


def test_reader_takes_a_whole_pair_of_escapes() -> None:
    assert read('"\\ud83d\\ude02"') == "\U0001f602"
