"""A profile is read strictly: what is not understood is refused with its key."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import ProfileError
from drivers.registry import profile
from drivers.wire.parse import parse_profile
from drivers.wire.profile import Check, Field, FieldName, Framing, Kind

GOOD = """\
profile = 1
name = "mine"
title = "My wrench"
kind = "delimited line"

[framing]
ends = ["\\r"]
longest = 80

[line]
separator = ";"

[[fields]]
is = "value"

[[fields]]
is = "unit"
empty = true
"""
FIXED = GOOD.replace('[[fields]]\nis = "unit"\nempty = true\n', "").replace("[framing]", 'unit = "N.m"\n[framing]')


def test_line_basic_is_the_format_of_the_design() -> None:
    basic = profile("line-basic")
    assert basic.kind is Kind.DELIMITED_LINE
    assert basic.framing == Framing((b"\r\n", b"\n"), 512)
    assert basic.separator == b","
    assert basic.check == Check("xor-8", b"*", optional=True)
    assert basic.fields == (
        Field(FieldName.SERIAL),
        Field(FieldName.COUNTER, empty=True, digits=6),
        Field(FieldName.VALUE),
        Field(FieldName.UNIT, empty=True),
        Field(FieldName.DIRECTION, empty=True),
        Field(FieldName.ANGLE, empty=True, optional=True),
    )
    assert not basic.unit_fixed


def test_a_profile_may_fix_the_unit() -> None:
    fixed = parse_profile(FIXED)
    assert (fixed.unit, fixed.unit_fixed) == ("N.m", True)
    assert not fixed.has(FieldName.UNIT)


def test_a_profile_without_a_length_has_the_usual_one() -> None:
    assert parse_profile(GOOD.replace("longest = 80\n", "")).framing.longest == 512


WRONG = [
    ("profile = 1", "profile = ", "link.profile-syntax", ""),
    ("profile = 1", "profile = 2", "link.profile-value", "profile"),
    ("profile = 1", "profile = true", "link.profile-value", "profile"),
    ("profile = 1\n", "", "link.profile-missing", "profile"),
    ('"mine"', '"My Wrench"', "link.profile-value", "name"),
    ('"My wrench"', "7", "link.profile-value", "title"),
    ('"My wrench"', '""', "link.profile-value", "title"),
    ('"delimited line"', '"fixed width"', "link.profile-value", "kind"),
    ("longest = 80", "longest = 0", "link.profile-value", "framing.longest"),
    ("longest = 80", "longest = 513", "link.profile-value", "framing.longest"),
    ("longest = 80", "longest = 80\nshort = 1", "link.profile-key", "framing.short"),
    ('["\\r"]', "[]", "link.profile-value", "framing.ends"),
    ('["\\r"]', "[3]", "link.profile-value", "framing.ends"),
    ('["\\r"]', '[""]', "link.profile-value", "framing.ends"),
    ('["\\r"]', '["\\r\\n\\r\\n\\r"]', "link.profile-value", "framing.ends"),
    ('["\\r"]', '["\\r", "\\r\\n"]', "link.profile-value", "framing.ends"),
    ('["\\r"]', '["\\r", "\\r"]', "link.profile-value", "framing.ends"),
    ('["\\r"]', '["A"]', "link.profile-value", "framing.ends"),
    ('";"', '".."', "link.profile-value", "line.separator"),
    ('";"', '"."', "link.profile-value", "line.separator"),
    ('";"', '"5"', "link.profile-value", "line.separator"),
    ('";"', '"·"', "link.profile-value", "line.separator"),
    ('"value"', '"torque"', "link.profile-value", "fields[1].is"),
    ('is = "value"', 'is = "value"\nempty = true', "link.profile-value", "fields"),
    ('is = "value"', 'is = "value"\noptional = true', "link.profile-value", "fields"),
    ('is = "value"', 'is = "angle"', "link.profile-value", "fields"),
    ('"unit"', '"value"', "link.profile-value", "fields"),
    ("empty = true", 'empty = "yes"', "link.profile-value", "fields[2].empty"),
    ("empty = true", "empty = true\ndigits = 4", "link.profile-key", "fields[2].digits"),
    ("[framing]", 'unit = "N.m"\n[framing]', "link.profile-value", "unit"),
    ("[framing]", "fields = 3\n[framing]", "link.profile-syntax", ""),
    ("[line]", '[checksum]\nkind = "md5"\nmark = "*"\n[line]', "link.profile-value", "checksum.kind"),
    ("[line]", '[checksum]\nkind = "xor-8"\nmark = ";"\n[line]', "link.profile-value", "checksum.mark"),
    ("[line]", '[checksum]\nkind = "xor-8"\n[line]', "link.profile-missing", "checksum.mark"),
]


@pytest.mark.parametrize(("old", "new", "code", "where"), WRONG)
def test_a_wrong_profile_is_refused_with_its_key(old: str, new: str, code: str, where: str) -> None:
    assert parse_profile(GOOD).name == "mine"  # the control: unharmed it is read
    assert old in GOOD
    with pytest.raises(ProfileError) as caught:
        parse_profile(GOOD.replace(old, new, 1))
    assert caught.value.code == code
    assert not where or caught.value.words[0] == where


def test_a_field_after_one_that_may_be_left_off_is_refused() -> None:
    first = '[[fields]]\nis = "angle"\noptional = true\n[[fields]]\nis = "value"\n'
    text = GOOD.replace('[[fields]]\nis = "value"\n', first)
    with pytest.raises(ProfileError) as caught:
        parse_profile(text)
    assert caught.value.words[1] == "value"


@given(text=st.text(max_size=60))
def test_no_text_gives_another_error(text: str) -> None:
    for source in (text, GOOD + text):
        with suppress(ProfileError):
            parse_profile(source)


def test_a_deeply_nested_text_is_refused() -> None:
    with pytest.raises(ProfileError):
        parse_profile("a = " + "[" * 100_000)
