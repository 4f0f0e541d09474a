"""The table `[memory]` of a profile is read strictly: what could be taken for a message, or hides one, is refused."""

import pytest

from drivers.errors import ProfileError
from drivers.wire.memory import Body, Memory, Told
from drivers.wire.parse import parse_profile

TEXT = """\
profile = 1
name = "mine"
title = "My wrench"
kind = "delimited line"
[framing]
ends = ["\\r\\n"]
longest = 40
[line]
separator = ","
[[fields]]
is = "serial"
[[fields]]
is = "counter"
digits = 4
[[fields]]
is = "value"
[[fields]]
is = "unit"
[[fields]]
is = "message"
words = { P = "peak", L = "live" }
[checksum]
kind = "xor-8"
mark = "*"
[memory]
ask = "?M{after}"
begin = "#B{count}"
end = "#E"
acknowledge = "!K"
newest_first = true
quiet_s = 2
"""
BINARY = """\
profile = 1
name = "mine"
title = "My wrench"
kind = "binary"
unit = "N.m"
[framing]
kind = "length"
sync = [1, 2]
longest = 20
length_bytes = 1
[binary]
order = "little"
[[fields]]
is = "message"
bytes = 1
words = { 1 = "peak", 9 = "memory" }
[[fields]]
is = "counter"
bytes = 2
[[fields]]
is = "value"
bytes = 2
[checksum]
kind = "crc-8/smbus"
place = "before end"
written = "bytes"
from = "length"
[memory]
ask = "20 {after}"
end = "2F {count}"
count_bytes = 3
"""
GOOD = {"text": TEXT, "binary": BINARY}
VALUE, MISSING, KEY = "link.profile-value", "link.profile-missing", "link.profile-key"


def test_a_table_of_text_is_read() -> None:
    found = parse_profile(TEXT)
    assert found.memory == Memory(
        Body(b"?M", b"", holds=True, width=4),
        bare=False,
        begin=Body(b"#B", b"", holds=True),
        end=Body(b"#E"),
        acknowledge=Body(b"!K", width=4),
        newest_first=True,
        quiet_s=2,
    )
    assert found.memory is not None
    assert found.memory.ask is not None
    assert found.memory.ask.write(17) == b"?M0017"
    assert (found.quiet_s, found.marks_memory) == (2, False)


def test_a_table_of_hex_is_read() -> None:
    found = parse_profile(BINARY)
    assert found.memory is not None
    ask, end = found.memory.ask, found.memory.end
    assert ask is not None
    assert end is not None
    assert ask.write(0x1234) == b"\x20\x34\x12"  # as the counter is sent
    assert ask.write(70_000) == b"\x20\x00\x00"  # more than its bytes hold: everything is asked for
    assert end.read(b"\x2f\x05\x00\x00") == Told(5)
    assert end.read(b"\x2f\x05\x00") is None
    assert (found.quiet_s, found.marks_memory) == (5, True)
    assert found.lengths == frozenset({5, 3, 4})


def test_what_is_bare_may_hold_control_signs() -> None:
    found = parse_profile(TEXT.replace('"?M{after}"', '"M\\r"\nbare = true'))
    assert found.memory is not None
    assert found.memory.bare
    assert found.memory.ask == Body(b"M\r", width=4)


WRONG = [
    ("text", 'begin = "#B{count}"\n', "", MISSING, "memory.begin"),  # nothing tells memory from a pull
    ("text", '"#B{count}"', '"B{count}"', VALUE, "memory.begin"),  # could be the tail of a message
    ("text", '"#B{count}"', '",B"', VALUE, "memory.begin"),
    ("text", '"#B{count}"', '"-B"', VALUE, "memory.begin"),
    ("text", '"#B{count}"', '"{count}"', VALUE, "memory.begin"),
    ("text", '"#B{count}"', '"#B*"', VALUE, "memory.begin"),
    ("text", '"#B{count}"', '"#B{count}{count}"', "", ""),  # text, odd as it is
    ("text", '"#E"', '"#B{count}"', VALUE, "memory.end"),
    ("text", '"#E"', '"#B7"', VALUE, "memory.end"),
    ("text", '"#E"', '"#E\\r"', VALUE, "memory.end"),
    ("text", '"#E"', f'"#{"E" * 50}"', VALUE, "memory.end"),
    ("text", '"#E"', "5", VALUE, "memory.end"),
    ("text", '"#E"', '"#É"', VALUE, "memory.end"),
    ("text", '"?M{after}"', '"?M\\r"', VALUE, "memory.ask"),
    ("text", '"!K"', '"!K{after}"', VALUE, "memory.acknowledge"),
    ("text", 'end = "#E"\n', "", VALUE, "memory.acknowledge"),
    ("text", "quiet_s = 2", "quiet_s = 0", VALUE, "memory.quiet_s"),
    ("text", "quiet_s = 2", "quiet_s = 61", VALUE, "memory.quiet_s"),
    ("text", "quiet_s = 2", "clear = true", KEY, "memory.clear"),
    ("text", "quiet_s = 2", "count_bytes = 2", KEY, "memory.count_bytes"),
    ("binary", '9 = "memory"', '9 = "live"', MISSING, "memory.begin"),
    ("binary", '"2F {count}"', '"01 {count} 00"', VALUE, "memory.end"),  # as long as a message, and would be one
    ("binary", '"2F {count}"', '"2F {count} 00"', "", ""),  # as long as one, of a kind that no message has
    ("binary", '"2F {count}"', '"01 02 03 04 05"', VALUE, "memory.end"),
    ("binary", '"2F {count}"', '"2F 0"', VALUE, "memory.end"),
    ("binary", "count_bytes = 3\n", "", MISSING, "memory.end"),
    ("binary", '[[fields]]\nis = "counter"\nbytes = 2\n', "", MISSING, "memory.ask"),
]


@pytest.mark.parametrize(("kind", "old", "new", "code", "where"), WRONG)
def test_what_cannot_work_is_refused_with_its_key(kind: str, old: str, new: str, code: str, where: str) -> None:
    assert old in GOOD[kind]
    text = GOOD[kind].replace(old, new)
    if not code:
        parse_profile(text)
        return
    with pytest.raises(ProfileError) as caught:
        parse_profile(text)
    assert (caught.value.code, caught.value.words[0]) == (code, where)


def test_a_counter_that_is_not_sent_cannot_be_asked_from() -> None:
    text = TEXT.replace('[[fields]]\nis = "counter"\ndigits = 4\n', "")
    with pytest.raises(ProfileError) as caught:
        parse_profile(text)
    assert caught.value.words[0] == "memory.ask"
    assert parse_profile(text.replace("{after}", "")).memory is not None


@pytest.mark.parametrize(
    ("table", "code", "where"),
    [
        ('is = "time"\nform = "seconds"', "", ""),
        ('is = "time"\nform = "date and time"', "", ""),
        ('is = "time"', MISSING, "fields[6].form"),
        ('is = "time"\nform = "hours"', VALUE, "fields[6].form"),
        ('is = "skip"\nform = "seconds"', KEY, "fields[6].form"),
    ],
)
def test_a_time_says_its_form(table: str, code: str, where: str) -> None:
    text = TEXT.replace("[checksum]", f"[[fields]]\n{table}\n[checksum]")
    if not code:
        parse_profile(text)
        return
    with pytest.raises(ProfileError) as caught:
        parse_profile(text)
    assert (caught.value.code, caught.value.words[0]) == (code, where)


def test_a_separator_that_stands_in_a_time_is_refused() -> None:
    text = TEXT.replace("[checksum]", '[[fields]]\nis = "time"\nform = "date and time"\n[checksum]')
    with pytest.raises(ProfileError) as caught:
        parse_profile(text.replace('separator = ","', 'separator = ":"'))
    assert caught.value.words[0] == "line.separator"


def test_a_date_has_no_place_in_a_binary_message() -> None:
    with pytest.raises(ProfileError) as caught:
        parse_profile(
            BINARY.replace("[checksum]", '[[fields]]\nis = "time"\nform = "date and time"\nbytes = 4\n[checksum]')
        )
    assert caught.value.words[0] == "fields[4].form"
