"""Framing, numbers and checksums of a profile are read strictly: what cannot work is refused with its key."""

import pytest

from drivers.errors import ProfileError
from drivers.wire.parse import parse_profile
from drivers.wire.profile import Begin, Counted, Order, Place, Profile, Wrapped, Written

WRAPPED = """\
profile = 1
name = "mine"
title = "My wrench"
kind = "delimited line"
[framing]
kind = "start and end"
start = 2
end = 3
escape = 16
flip = 64
longest = 80
[line]
separator = ";"
[number]
point = ","
blanks = true
[[fields]]
is = "value"
sign = "plus"
[[fields]]
is = "unit"
words = { 1 = "N.m" }
[checksum]
kind = "crc-16/arc"
place = "before end"
written = "bytes"
order = "little"
from = "start"
"""
COUNTED = """\
profile = 1
name = "mine"
title = "My wrench"
kind = "binary"
unit = "N.m"
[framing]
kind = "length"
sync = [1, 2, 3]
length_bytes = 2
length_order = "little"
length_counts_checksum = true
longest = 40
[binary]
order = "little"
[[fields]]
is = "value"
bytes = 2
[checksum]
kind = "crc-8/smbus"
place = "before end"
written = "bytes"
from = "length"
"""
COLUMNS = """\
profile = 1
name = "mine"
title = "My wrench"
kind = "columns"
[framing]
ends = ["\\r"]
longest = 12
[[fields]]
is = "value"
width = 6
[[fields]]
is = "unit"
width = 4
[checksum]
kind = "sum-8"
place = "before end"
written = "hex"
"""
GOOD = {"wrapped": WRAPPED, "counted": COUNTED, "columns": COLUMNS}
VALUE, MISSING, KEY = "link.profile-value", "link.profile-missing", "link.profile-key"


def test_a_start_and_an_end_are_read() -> None:
    found = parse_profile(WRAPPED)
    assert found.framing == Wrapped(2, 3, 16, 64, 80)
    assert found.check is not None
    assert (found.check.place, found.check.written, found.check.order, found.check.begin) == (
        Place.BEFORE_END,
        Written.BYTES,
        Order.LITTLE,
        Begin.START,
    )
    assert (found.number.point, found.number.blanks) == (b",", True)
    assert found.sizes is None


def test_a_length_is_read() -> None:
    found = parse_profile(COUNTED)
    assert found.framing == Counted(b"\x01\x02\x03", 2, Order.LITTLE, counts_check=True, longest=40)
    assert (found.order, found.sizes) == (Order.LITTLE, frozenset({2}))


def test_columns_are_read() -> None:
    assert parse_profile(COLUMNS).sizes == frozenset({10})


WRONG = [
    ("wrapped", '"start and end"', '"brackets"', VALUE, "framing.kind"),
    ("wrapped", "start = 2\n", "", MISSING, "framing.start"),
    ("wrapped", "start = 2", "start = 256", VALUE, "framing.start"),
    ("wrapped", "end = 3", "end = 2", VALUE, "framing.end"),
    ("wrapped", "escape = 16", "escape = 3", VALUE, "framing.end"),
    ("wrapped", "flip = 64", "flip = 0", VALUE, "framing.flip"),
    ("wrapped", "flip = 64", "flip = 1", VALUE, "framing.flip"),
    ("wrapped", "flip = 64\n", "", MISSING, "framing.flip"),
    ("wrapped", "escape = 16\n", "", KEY, "framing.flip"),
    ("wrapped", "escape = 16\nflip = 64\n", "", MISSING, "framing.escape"),
    ("wrapped", "longest = 80", 'ends = ["\\r"]', KEY, "framing.ends"),
    ("wrapped", '";"', '","', VALUE, "line.separator"),
    ("wrapped", '";"', '"+"', VALUE, "line.separator"),
    ("wrapped", '";"', '" "', VALUE, "line.separator"),  # it fills numbers up already
    ("wrapped", "{ 1 =", '{ "a;b" =', VALUE, "line.separator"),
    ("wrapped", 'point = ","', 'point = "·"', VALUE, "number.point"),
    ("wrapped", "blanks = true", "blanks = 1", VALUE, "number.blanks"),
    ("wrapped", "blanks = true", "thousands = true", KEY, "number.thousands"),
    ("wrapped", '"before end"', '"at the end"', VALUE, "checksum.place"),
    ("wrapped", '"before end"', '"after mark"', MISSING, "checksum.mark"),
    ("wrapped", '"bytes"', '"octal"', VALUE, "checksum.written"),
    ("wrapped", 'order = "little"\n', "", MISSING, "checksum.order"),
    ("wrapped", 'order = "little"', 'order = "middle"', VALUE, "checksum.order"),
    ("wrapped", 'from = "start"', 'from = "length"', VALUE, "checksum.from"),
    ("wrapped", 'from = "start"', "through_end = true", VALUE, "checksum.through_end"),
    ("wrapped", 'from = "start"', "optional = true", KEY, "checksum.optional"),
    ("counted", "[1, 2, 3]", "[1]", VALUE, "framing.sync"),
    ("counted", "[1, 2, 3]", "[1, 2, 3, 4, 5]", VALUE, "framing.sync"),
    ("counted", "[1, 2, 3]", "[1, 256]", VALUE, "framing.sync"),
    ("counted", "[1, 2, 3]", "[1, true]", VALUE, "framing.sync"),
    ("counted", "[1, 2, 3]", '"\\u0001\\u0002"', VALUE, "framing.sync"),
    ("counted", "length_bytes = 2", "length_bytes = 3", VALUE, "framing.length_bytes"),
    ("counted", "length_bytes = 2", "length_bytes = 1\nwhole = true", KEY, "framing.whole"),
    ("counted", "longest = 40", "longest = 1", VALUE, "framing.longest"),
    ("counted", "length_bytes = 2", "length_bytes = 1", "", ""),
    ("counted", '[binary]\norder = "little"\n', "", MISSING, "binary"),
    ("counted", '"before end"', '"after end"', VALUE, "checksum.place"),
    ("counted", COUNTED[COUNTED.index("[checksum]") :], "", MISSING, "checksum"),
    (
        "counted",
        'place = "before end"\nwritten = "bytes"\nfrom = "length"\n',
        'mark = "*"\n',
        VALUE,
        "checksum.place",
    ),
    ("counted", 'from = "length"', 'from = "end"', VALUE, "checksum.from"),
    ("counted", "[binary]", '[number]\npoint = ","\n[binary]', KEY, "number"),
    ("counted", "[binary]", '[line]\nseparator = ","\n[binary]', KEY, "line"),
    ("columns", "longest = 12", "longest = 11", VALUE, "framing.longest"),
    ("columns", '"hex"', '"bytes"', VALUE, "framing.kind"),
    ("columns", '"hex"', '"hex"\nfrom = "start"', VALUE, "checksum.from"),
    ("columns", '"before end"', '"after end"', VALUE, "checksum.place"),
]


@pytest.mark.parametrize(("which", "old", "new", "code", "where"), WRONG)
def test_a_wrong_profile_is_refused_with_its_key(which: str, old: str, new: str, code: str, where: str) -> None:
    text = GOOD[which]
    assert parse_profile(text).name == "mine"  # the control: unharmed it is read
    assert old in text
    changed = text.replace(old, new, 1)
    if not code:  # the control of a row beside it: not everything is refused
        assert parse_profile(changed).name == "mine"
        return
    with pytest.raises(ProfileError) as caught:
        parse_profile(changed)
    assert (caught.value.code, caught.value.words[0]) == (code, where)


def refused(text: str) -> tuple[str, str]:
    with pytest.raises(ProfileError) as caught:
        parse_profile(text)
    return caught.value.code, caught.value.words[0]


def test_a_length_must_fit_its_bytes() -> None:
    narrow = COUNTED.replace("length_bytes = 2", "length_bytes = 1")
    assert parse_profile(narrow.replace("longest = 40", "longest = 254")).framing.longest == 254
    assert refused(narrow.replace("longest = 40", "longest = 255")) == (VALUE, "framing.longest")


def test_bytes_of_any_value_need_an_escape_or_a_length() -> None:
    ends = COUNTED.replace(COUNTED[COUNTED.index('kind = "length"') : COUNTED.index("longest")], 'ends = ["\\r"]\n')
    assert refused(ends.replace('from = "length"\n', "")) == (VALUE, "framing.kind")
    bare = ends.replace('ends = ["\\r"]\n', 'kind = "start and end"\nstart = 2\nend = 3\n')
    bare = bare.replace('from = "length"\n', "")
    assert refused(bare) == (MISSING, "framing.escape")
    assert parse_profile(bare.replace("end = 3\n", "end = 3\nescape = 16\nflip = 64\n")).name == "mine"


def test_text_without_escapes_stands_between_control_characters() -> None:
    text = WRAPPED.replace("escape = 16\nflip = 64\n", "").replace('"bytes"\norder = "little"', '"hex"')
    assert parse_profile(text).name == "mine"  # the control
    assert refused(text.replace("start = 2", "start = 0x28")) == (MISSING, "framing.escape")


def test_escapes_need_room() -> None:
    text = COLUMNS.replace('ends = ["\\r"]', 'kind = "start and end"\nstart = 2\nend = 3\nescape = 16\nflip = 64')
    assert refused(text.replace("longest = 12", "longest = 23")) == (VALUE, "framing.longest")
    assert isinstance(parse_profile(text.replace("longest = 12", "longest = 24")), Profile)


def test_a_length_needs_a_checksum_in_its_place() -> None:
    line = 'kind = "delimited line"\n[line]\nseparator = ","\n[[fields]]\nis = "value"\n'
    head = 'profile = 1\nname = "mine"\ntitle = "Mine"\n'
    framing = '[framing]\nkind = "length"\nsync = [1, 2]\nlength_bytes = 1\nlongest = 40\n[checksum]\nkind = "sum-8"\n'
    before = 'place = "before end"\nwritten = "hex"\n'
    assert parse_profile(head + line + framing + before).name == "mine"  # the control
    assert refused(head + line + framing + 'mark = "*"\n') == (MISSING, "checksum")
