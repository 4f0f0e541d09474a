import json
from dataclasses import fields, is_dataclass
from decimal import Decimal
from types import NoneType
from typing import Any, get_args, get_origin, get_type_hints

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.codec import BodyError, to_plain
from bridge.core.events import KIND_OF, KINDS, Assigned, Body, ReadingTaken, Reason, Said, Tick
from bridge.trail import shape
from bridge.trail.canonical import LARGEST, canonical_text
from bridge.trail.shape import body_text, built_body, check_body

TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
DECIMALS = st.decimals(allow_nan=False, allow_infinity=False)


def values_of(wanted: Any) -> st.SearchStrategy[Any]:
    if get_origin(wanted) is tuple:
        return st.lists(values_of(get_args(wanted)[0]), max_size=3).map(tuple)
    if is_dataclass(wanted) and isinstance(wanted, type):
        hints = get_type_hints(wanted)
        return st.builds(wanted, **{item.name: values_of(hints[item.name]) for item in fields(wanted)})
    if get_args(wanted):
        (only,) = (option for option in get_args(wanted) if option is not NoneType)
        return st.none() | values_of(only)
    return {str: TEXT, int: st.integers(-LARGEST, LARGEST), bool: st.booleans(), Decimal: DECIMALS}[wanted]


BODIES = st.sampled_from(sorted(KINDS)).flatmap(lambda kind: values_of(KINDS[kind]))


@given(BODIES)
def test_writes_what_the_codec_and_the_canonical_form_write(body: Body) -> None:
    assert body_text(body) == canonical_text(to_plain(body))


@given(BODIES)
def test_text_gives_the_body_back(body: Body) -> None:
    kind = KIND_OF[type(body)]
    text = body_text(body)
    check_body(kind, text)
    assert built_body(kind, text) == body


@given(BODIES, st.data())
def test_pattern_lets_nothing_through_that_building_refuses(body: Body, data: st.DataObject) -> None:
    kind = KIND_OF[type(body)]
    text = body_text(body)
    at = data.draw(st.integers(0, len(text)))
    piece = data.draw(st.sampled_from(["", " ", '"', "\\", "{", "}", ",", "0", "-", ".", "\n", "null", "\\u0041", "ö"]))
    cut = data.draw(st.integers(0, 3))
    changed = text[:at] + piece + text[at + cut :]
    pattern = shape._pattern(kind)
    assert pattern is not None
    if pattern.fullmatch(changed) is not None:
        shape._plain_by_building(kind, changed)


def reading() -> ReadingTaken:
    return ReadingTaken(
        1, "W1", Decimal("12.345678901"), "41", "89.6", "ft.lb", counter=417, direction="CW", flags=("low battery",)
    )


def test_usual_bodies_take_the_short_way() -> None:
    assigned = Assigned(
        1, 1, "due", "C3/C.1", "order", "within", "0.98", None, (Reason("a", ("b", "«")),), "ft·lb", "121.48"
    )
    for body in (reading(), assigned, Tick(Decimal("0.000001")), Said(Decimal("1E+3"), "step")):
        pattern = shape._pattern(KIND_OF[type(body)])
        assert pattern is not None
        assert (pattern.fullmatch(body_text(body)) is None) == (body == Said(Decimal("1E+3"), "step"))


def change(text: str, **fields_: Any) -> str:
    return canonical_text(json.loads(text) | fields_)


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        ("no such kind", "{}"),
        ("tick", "{}"),
        ("tick", '{"t": "1"}'),
        ("tick", '{"t":"1"} '),
        ("tick", '{"t":1}'),
        ("tick", '{"t":1.0}'),
        ("tick", '{"t":null}'),
        ("tick", '{"t":"one"}'),
        ("tick", '{"t":"01"}'),
        ("tick", '{"t":"\\u0031"}'),
        ("tick", '{"t":"1","t":"1"}'),
        ("tick", '{"t":"1","x":"1"}'),
        ("tick", '["1"]'),
        ("tick", '"1"'),
        ("tick", "not JSON"),
        ("reading", change(body_text(reading()), n="1")),
        ("reading", change(body_text(reading()), n=True)),
        ("reading", change(body_text(reading()), unit_fixed=0)),
        ("reading", change(body_text(reading()), flags="x")),
        ("reading", change(body_text(reading()), flags=[1])),
        ("assigned", body_text(reading())),
    ],
)
def test_refuses_another_text(kind: str, text: str) -> None:
    with pytest.raises(BodyError):
        check_body(kind, text)
    with pytest.raises(BodyError):
        built_body(kind, text)


def test_refuses_a_field_left_out() -> None:
    plain = json.loads(body_text(reading()))
    del plain["flags"]  # the class has a default for it; a stored body names every field
    with pytest.raises(BodyError):
        check_body("reading", canonical_text(plain))


@pytest.mark.parametrize(
    "body",
    [
        Tick(1.5),  # type: ignore[arg-type]  # the point
        Tick("1"),  # type: ignore[arg-type]  # the point
        ReadingTaken(2**53, "W1", Decimal(1), "41", "89.6", None),
        ReadingTaken(True, "W1", Decimal(1), "41", "89.6", None),
        ReadingTaken(1, "W1", Decimal(1), "41", 89.6, None),  # type: ignore[arg-type]  # the point
        ReadingTaken(1, "W\ud800", Decimal(1), "41", "89.6", None),
        ReadingTaken(1, "W1", Decimal(1), "41", "89.6", None, unit_fixed=1),  # type: ignore[arg-type]  # the point
        ReadingTaken(1, "W1", Decimal(1), "41", "89.6", None, flags=None),  # type: ignore[arg-type]  # the point
        Assigned(1, 1, "due", None, None, "within", "1", None, ("why",), None, None),  # type: ignore[arg-type]  # the point
    ],
)
def test_writes_no_wrong_type(body: Body) -> None:
    with pytest.raises(BodyError):
        body_text(body)
