"""Fields of a profile are read strictly: what a layout gives no field, and words that say nothing, are refused."""

import pytest

from drivers.errors import ProfileError
from drivers.wire.parse import parse_profile
from drivers.wire.profile import Field, FieldName, Sign

HEADS = {
    "line": 'kind = "delimited line"\n[framing]\nends = ["\\r"]\n[line]\nseparator = ";"\n',
    "columns": 'kind = "columns"\n[framing]\nends = ["\\r"]\n',
    "binary": (
        'kind = "binary"\n[framing]\nkind = "length"\nsync = [1, 2]\nlength_bytes = 1\nlongest = 100\n[binary]\n'
        'order = "big"\n[checksum]\nkind = "sum-8"\nplace = "before end"\nwritten = "bytes"\n'
    ),
}
VALUES = {"line": "", "columns": "width = 6\n", "binary": "bytes = 2\n"}
VALUE, MISSING, KEY = "link.profile-value", "link.profile-missing", "link.profile-key"


def text(kind: str, more: str, value: str = "") -> str:
    head = f'profile = 1\nname = "mine"\ntitle = "Mine"\n{HEADS[kind]}'
    return f'{head}[[fields]]\nis = "value"\n{VALUES[kind]}{value}\n{more}'


def field(name: str, *keys: str) -> str:
    return f'[[fields]]\nis = "{name}"\n' + "".join(f"{key}\n" for key in keys)


def test_fields_are_read_with_all_they_say() -> None:
    more = field("angle", "bytes = 2", "places = 1", "nothing = 65535") + field(
        "direction", "bytes = 1", 'words = { 1 = "CW", 2 = "CCW" }', "optional = true"
    )
    assert parse_profile(text("binary", more, "places = 2")).fields == (
        Field(FieldName.VALUE, width=2, places=2),
        Field(FieldName.ANGLE, width=2, places=1, nothing=65_535),
        Field(FieldName.DIRECTION, optional=True, width=1, words=(("1", "CW"), ("2", "CCW"))),
    )
    signed = parse_profile(text("line", "", 'sign = "direction"'))
    assert signed.fields[0].sign is Sign.DIRECTION
    assert signed.has(FieldName.DIRECTION)
    assert not parse_profile(text("line", "", 'sign = "plus"')).has(FieldName.DIRECTION)


WORDS = 'words = { 1 = "CW" }'
WRONG = [
    ("columns", field("serial"), MISSING, "fields[2].width"),
    ("columns", field("serial", "width = 33"), VALUE, "fields[2].width"),
    ("columns", field("serial", "width = 0"), VALUE, "fields[2].width"),
    ("columns", field("counter", "width = 3", "digits = 4"), VALUE, "fields[2].digits"),
    ("line", field("serial", "width = 3"), KEY, "fields[2].width"),
    ("line", field("serial", "bytes = 3"), KEY, "fields[2].bytes"),
    ("line", field("angle", "places = 3"), KEY, "fields[2].places"),
    ("line", field("angle", 'sign = "plus"'), KEY, "fields[2].sign"),
    ("line", field("counter", "nothing = 3"), KEY, "fields[2].nothing"),
    ("line", field("serial", 'words = { a = "b" }'), KEY, "fields[2].words"),
    ("line", field("places"), VALUE, "fields[2].is"),
    ("line", field("message"), MISSING, "fields[2].words"),
    ("line", field("flags"), MISSING, "fields[2].words"),
    ("line", field("message", "words = {}"), VALUE, "fields[2].words"),
    ("line", field("message", 'words = { a = "other" }'), VALUE, "fields[2].words.a"),
    ("line", field("message", 'words = { a = "live", b = "live" }'), VALUE, "fields[2].words.b"),
    ("line", field("message", "words = { a = 3 }"), VALUE, "fields[2].words.a"),
    ("line", field("message", "empty = true", 'words = { a = "live" }'), VALUE, "fields[2].is"),
    ("line", field("message", "optional = true", 'words = { a = "live" }'), VALUE, "fields[2].is"),
    ("line", field("flags", 'words = { ab = "overload" }'), VALUE, "fields[2].words.ab"),
    ("line", field("flags", 'words = { a = "other wrench" }'), VALUE, "fields[2].words.a"),
    ("line", field("direction", 'words = { "é" = "CW" }'), VALUE, "fields[2].words.é"),
    ("line", field("unit", 'words = { a = "N·m" }'), VALUE, "fields[2].words.a"),
    ("columns", field("direction", "width = 1", 'words = { ab = "CW" }'), VALUE, "fields[2].words.ab"),
    ("binary", field("serial"), MISSING, "fields[2].bytes"),
    ("binary", field("counter", "bytes = 5"), VALUE, "fields[2].bytes"),
    ("binary", field("counter", "bytes = 1", "nothing = 256"), VALUE, "fields[2].nothing"),
    ("binary", field("counter", "bytes = 1", "empty = true"), KEY, "fields[2].empty"),
    ("binary", field("counter", "bytes = 1", "digits = 2"), KEY, "fields[2].digits"),
    ("binary", field("angle", "bytes = 1", "places = 39"), VALUE, "fields[2].places"),
    ("binary", field("angle", 'format = "sfloat"', "bytes = 2"), KEY, "fields[2].bytes"),
    ("binary", field("angle", 'format = "sfloat"', "places = 2"), KEY, "fields[2].places"),
    ("binary", field("angle", 'format = "sfloat"', "bits = 12"), KEY, "fields[2].bits"),
    ("binary", field("angle", 'format = "int"', "bytes = 2"), VALUE, "fields[2].format"),
    ("binary", field("angle", 'format = "utf-8"'), MISSING, "fields[2].bytes"),
    ("binary", field("angle", 'format = "utf-16"', "bytes = 7"), VALUE, "fields[2].bytes"),
    ("binary", field("angle", 'format = "utf-8"', "bytes = 33"), VALUE, "fields[2].bytes"),
    ("binary", field("angle", 'format = "utf-8"', "bytes = 3", "nothing = 0"), KEY, "fields[2].nothing"),
    ("binary", field("angle", 'format = "utf-8"', "bytes = 3", "optional = true"), VALUE, "fields"),
    ("binary", field("angle", "bytes = 17"), VALUE, "fields[2].bytes"),
    ("binary", field("angle", "bytes = 2", "bits = 8"), VALUE, "fields[2].bits"),
    ("binary", field("angle", "bytes = 2", "bits = 16"), VALUE, "fields[2].bits"),
    ("binary", field("angle", "bytes = 1", "bits = 4", "nothing = 16"), VALUE, "fields[2].nothing"),
    ("binary", field("flags", "bytes = 1", "bits = 4", 'words = { 4 = "overload" }'), VALUE, "fields[2].words.4"),
    ("binary", field("counter", "bytes = 4", 'format = "float32"'), KEY, "fields[2].format"),
    ("line", field("angle", 'format = "sfloat"'), KEY, "fields[2].format"),
    ("binary", field("direction", "bytes = 1"), MISSING, "fields[2].words"),
    ("binary", field("unit", "bytes = 1"), MISSING, "fields[2].words"),
    ("binary", field("direction", "bytes = 1", 'words = { a = "CW" }'), VALUE, "fields[2].words.a"),
    ("binary", field("direction", "bytes = 1", 'words = { 01 = "CW" }'), VALUE, "fields[2].words.01"),
    ("binary", field("direction", "bytes = 1", 'words = { 256 = "CW" }'), VALUE, "fields[2].words.256"),
    ("binary", field("flags", "bytes = 1", 'words = { 8 = "overload" }'), VALUE, "fields[2].words.8"),
    ("binary", field("direction", "bytes = 1", "nothing = 1", WORDS), VALUE, "fields[2].nothing"),
    ("binary", field("places", "bytes = 1", "optional = true"), VALUE, "fields[2].is"),
    ("binary", field("value", "bytes = 2"), VALUE, "fields"),
]


@pytest.mark.parametrize(("kind", "more", "code", "where"), WRONG)
def test_a_wrong_field_is_refused_with_its_key(kind: str, more: str, code: str, where: str) -> None:
    assert parse_profile(text(kind, "")).name == "mine"  # the control: without the field it is read
    with pytest.raises(ProfileError) as caught:
        parse_profile(text(kind, more))
    assert (caught.value.code, caught.value.words[0]) == (code, where)


def test_a_direction_stands_in_one_place_and_so_do_the_places() -> None:
    for kind, more, value in (
        ("line", field("direction"), 'sign = "direction"'),
        ("binary", field("places", "bytes = 1"), "places = 2"),
    ):
        assert parse_profile(text(kind, more)).name == "mine"  # the controls: each alone is read
        assert parse_profile(text(kind, "", value)).name == "mine"
        with pytest.raises(ProfileError) as caught:
            parse_profile(text(kind, more, value))
        assert caught.value.words[0] == "fields"


def test_a_float_has_its_own_sign_and_one_number_is_text() -> None:
    head = text("binary", "")
    for value, more, where in (
        ('format = "float32"\nsign = "plus"', "", "fields[1].sign"),
        ('format = "utf-8"\nbytes = 4', field("angle", 'format = "utf-8"', "bytes = 4"), "fields"),
    ):
        sound = value.replace("plus", "direction")
        assert parse_profile(head.replace("bytes = 2\n", f"{sound}\n")).name == "mine"  # the control
        with pytest.raises(ProfileError) as caught:
            parse_profile(head.replace("bytes = 2\n", f"{value}\n") + more)
        assert caught.value.words[0] == where


def test_several_fields_may_be_skipped() -> None:
    more = field("skip", "bytes = 2") + field("skip", "bytes = 32")
    assert parse_profile(text("binary", more)).sizes == frozenset({36})
