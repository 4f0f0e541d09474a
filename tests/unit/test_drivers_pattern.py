"""Patterns that users write: named groups are fields, numbers keep their rules, and no pattern takes long or much."""

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import ProfileError
from drivers.reading import Message, Received, Rejected
from drivers.wire.encode import encode
from drivers.wire.parse import parse_profile
from drivers.wire.pattern import MOST_SIGNS, compiled
from drivers.wire.profile import Kind, Profile
from drivers.wire.receive import Receiver

HEAD = 'profile = 1\nname = "own"\ntitle = "Own"\nkind = "pattern"\n[framing]\nends = ["\\r\\n"]\nlongest = 200\n'
WHOLE = (
    r"(?P<serial>[A-Z]\d+);#(?P<counter>\d+);(?P<message>[PL])(?P<flags>[ob]*);"
    r"(?P<direction>[RL])(?P<value>[0-9]+,[0-9]+) ?(?P<unit>N\.m|ft\.lb|Nm\xb0)?(?: @(?P<angle>[0-9,]+))?"
)
FIELDS = (
    '[number]\npoint = ","\n[[fields]]\nis = "direction"\nwords = { R = "CW", L = "CCW" }\n'
    '[[fields]]\nis = "message"\nwords = { P = "peak", L = "live" }\n'
    '[[fields]]\nis = "flags"\nwords = { o = "overload", b = "low battery" }\n'
    '[[fields]]\nis = "counter"\ndigits = 4\n'
)
WRITE = "write = '{serial};#{counter};{message}{flags};{direction}{value} {unit} @{angle}'\n"
VALUE, MISSING, KEY = "link.profile-value", "link.profile-missing", "link.profile-key"


def made(pattern: str = WHOLE, rest: str = FIELDS, write: str = WRITE) -> Profile:
    return parse_profile(f"{HEAD}[line]\npattern = '{pattern}'\n{write}{rest}")


def plain(pattern: str, rest: str = "") -> Profile:
    return made(pattern, rest, "")


OWN = made()


def read(profile: Profile, line: bytes) -> Received:
    (item,) = Receiver(profile, synced=True).feed(line + b"\r\n")
    return item


def why(profile: Profile, line: bytes) -> tuple[str, tuple[str, ...]]:
    item = read(profile, line)
    assert isinstance(item, Rejected), item
    return item.why, item.args


def refused(call: Callable[[], object]) -> tuple[str, tuple[str, ...]]:
    with pytest.raises(ProfileError) as caught:
        call()
    return caught.value.code, caught.value.words


def test_named_groups_are_the_fields() -> None:
    assert OWN.kind is Kind.PATTERN
    names = ["serial", "counter", "message", "flags", "direction", "value", "unit", "angle"]
    assert [field.name.value for field in OWN.fields] == names
    line = b"A1023;#0417;Pob;R27,50 N.m @12,5"
    assert read(OWN, line) == Message(
        line + b"\r\n",
        "27.50",
        "N.m",
        serial="A1023",
        counter=417,
        direction="CW",
        angle="12.5",
        flags=("overload", "low battery"),
    )
    item = read(OWN, b"A1023;#0418;L;L27,50")
    assert isinstance(item, Message)
    assert (item.unit, item.angle, item.live, item.direction, item.flags) == (None, None, True, "CCW", ())


def test_what_the_pattern_does_not_say_is_no_message() -> None:
    for line in (b"x" + b"A1;#1;P;R27,5", b"A1;#1;P;R27,5x", b"A1;#1;P;R27.5", b"A1;#1;P;C27,5", b"a1;#1;P;R27,5"):
        assert why(OWN, line) == ("link.pattern-other", ())
    assert why(OWN, b"A1;#1;P;R27,5\x00") == ("link.control-character", ())


def test_a_group_is_held_to_the_rules_of_its_field() -> None:
    loose = plain(r"(?:(?P<counter>[^;]*);)?(?P<value>[^;]*)(?:;(?P<unit>.*))?")
    assert isinstance(read(loose, b"7;27.5;N.m"), Message)  # the control
    for line, field, text in (
        (b"x;27.5;N.m", "counter", "x"),
        (b"7;-27.5;N.m", "value", "-27.5"),
        (b"7; 27.5;N.m", "value", " 27.5"),
        (b"7;1e3;N.m", "value", "1e3"),
        (b"7;1234567890123;N.m", "value", "1234567890123"),
        (b"7;123456.789012;N.m", "value", "123456.789012"),
        (b"7;27,5;N.m", "value", "27,5"),
        ("7;\xb2;N.m".encode("latin-1"), "value", "\\xb2"),
        ("7;27.5;\x9b1m".encode("latin-1"), "unit", "\\x9b1m"),
    ):
        assert why(loose, line) == ("link.field", (field, text))
    assert why(loose, b"7;;N.m") == ("link.field-empty", ("value",))


@pytest.mark.parametrize(
    ("pattern", "line", "value"),
    [
        (r".*(?P<value>\d+\.\d+)", b"x112.50", None),
        (r".*?(?P<value>\d+\.\d+)", b"x112.50", "112.50"),
        (r"(?P<value>\d+).*", b"27.5", None),
        (r"(?P<value>\d+).*", b"27. 5", "27"),
        (r"(?P<value>\d{2})\d*", b"275", None),
        (r"\d+\.(?P<value>\d+)", b"112.50", None),
        (r"No\.(?P<value>\d+)", b"No.50", "50"),
        (r"-?(?P<value>\d+)", b"-50", None),
        (r"x -(?P<value>\d+)", b"x -50", None),
        (r"T-(?P<value>\d+)", b"T-50", "50"),
        (r"(?P<counter>\d{3})(?P<value>\d+)", b"41750", "50"),
        (r"(?P<counter>\d{3})\d*;(?P<value>\d+)", b"4175;50", None),
        (r"(?P<counter>\d*);(?P<value>\d+)", b";50", "50"),
        (r"(?P<value>\d+)(?P<unit>\.).*", b"712.8", None),  # a group took the point and left the digit
        (r"\d+(?P<unit>\.)(?P<value>\d+)", b"112.50", None),
        (r"(?P<value>\d+)(?P<unit>\.)(?P<counter>\d+)", b"27.417", "27"),
    ],
)
def test_no_number_is_cut_out_of_a_longer_one(pattern: str, line: bytes, value: str | None) -> None:
    item = read(plain(pattern), line)
    if value is None:
        assert isinstance(item, Rejected)
        assert item.why == "link.number-cut"
    else:
        assert isinstance(item, Message)
        assert item.value == value


def test_a_sign_may_be_the_direction() -> None:
    turn = plain(r"(?P<value>[+-]?[\d.]+)Nm", '[[fields]]\nis = "value"\nsign = "direction"\n')
    item = read(turn, b"-27.5Nm")
    assert isinstance(item, Message)
    assert (item.value, item.direction) == ("27.5", "CCW")
    assert why(turn, b"27.5Nm") == ("link.field", ("value", "27.5"))


def test_bytes_beyond_ascii_are_the_patterns_to_name() -> None:
    degree = plain(r"(?P<value>[\d.]+)(?:\xb0|°)x")
    assert isinstance(read(degree, b"27.5\xb0x"), Message)
    assert why(degree, b"27.5\xb1x") == ("link.pattern-other", ())
    assert refused(lambda: plain(r"(?P<value>\d+)€")) == ("link.pattern", ("€ is no sign of Latin-1",))


@pytest.mark.parametrize(
    ("pattern", "reason"),
    [
        (r"(?P<value>\d+)(?=x)", "invalid perl operator: (?="),
        (r"(?<!x)(?P<value>\d+)", "invalid perl operator: (?<!"),
        (r"(?P<value>(\d)\2)", r"invalid escape sequence: \2"),
        (r"(?P<value>\d+)(?P=value)", "invalid perl operator: (?P"),
        (r"(?P<value>\d+", r"missing ): (?P<value>\d+"),
        (r"(?P<value>[\d+)", r"missing ]: [\d+)"),
        (r"(?P<value>(?:\d{1000}){1000})", "invalid repetition size: {1000}"),
        (r"(?P<value>\d+)(?:.{0,900}a.{0,900}b)?", "pattern too large - compile failed"),
    ],
)
def test_a_pattern_that_cannot_be_run_is_refused_in_its_own_words(
    pattern: str, reason: str, capfd: pytest.CaptureFixture[str]
) -> None:
    assert refused(lambda: plain(pattern)) == ("link.pattern", (reason,))
    assert capfd.readouterr() == ("", "")  # the library's own log stays shut


def test_a_search_that_needs_much_is_quiet_and_finds_the_same(capfd: pytest.CaptureFixture[str]) -> None:
    # More states than its memory holds: it goes on by another way, and would say so in its log.
    hard = plain(r"(?P<value>\d+)(?:[^a]{0,40}){3}(?:(?:a?){900}(?:b?){900}c*)*")
    assert isinstance(read(hard, b"7" + b"abc" * 60), Message)
    assert isinstance(read(hard, b"7" + b"abc" * 60 + b"d"), Rejected)
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize(
    ("pattern", "code", "where"),
    [
        (r"(?P<value>\d+)" + "x" * MOST_SIGNS, VALUE, "line.pattern"),
        (r"(?P<value>\d+)(x)", VALUE, "line.pattern"),
        (r"(?P<value>\d+)|(?P<value>x)", VALUE, "line.pattern"),
        (r"(?P<value>\d+)(?P<colour>x)", VALUE, "line.pattern"),
        (r"(?P<value>\d+)(?P<places>\d)", VALUE, "line.pattern"),
        (r"(?P<value>\d+)(?P<skip>\d)", VALUE, "line.pattern"),
        (r"(?P<unit>\d+)", VALUE, "line.pattern"),
        (r"(?P<value>\d+)(?P<message>\d)", MISSING, "fields.message.words"),
        (r"(?P<value>\d+)(?P<flags>\d)", MISSING, "fields.flags.words"),
    ],
)
def test_a_pattern_beyond_its_bounds_is_refused_with_its_key(pattern: str, code: str, where: str) -> None:
    found, words = refused(lambda: plain(pattern))
    assert (found, words[0]) == (code, where)


@pytest.mark.parametrize(
    ("rest", "code", "where"),
    [
        ('[[fields]]\nis = "angle"\n', VALUE, "fields[1].is"),
        ('[[fields]]\nis = "value"\n[[fields]]\nis = "value"\n', VALUE, "fields"),
        ('[[fields]]\nis = "value"\nempty = true\n', KEY, "fields[1].empty"),
        ('[[fields]]\nis = "value"\noptional = true\n', KEY, "fields[1].optional"),
        ('[[fields]]\nis = "value"\nwidth = 3\n', KEY, "fields[1].width"),
        ('[[fields]]\nis = "value"\nformat = "sfloat"\n', KEY, "fields[1].format"),
        ('[binary]\norder = "big"\n', KEY, "binary"),
    ],
)
def test_a_table_says_only_what_a_group_can_have(rest: str, code: str, where: str) -> None:
    assert plain(r"(?P<value>\d+)").name == "own"  # the control
    found, words = refused(lambda: plain(r"(?P<value>\d+)", rest))
    assert (found, words[0]) == (code, where)


def test_a_template_writes_what_the_pattern_reads() -> None:
    said = {"serial": "A1023", "counter": 417, "value": "27.50", "unit": "N.m", "direction": "CW", "angle": "12.5"}
    raw = encode(OWN, **said, flags=("overload",))  # type: ignore[arg-type]
    assert raw == b"A1023;#0417;Po;R27,50 N.m @12,5\r\n"
    # What the pattern would not read back is not written: here a unit of another spelling.
    assert refused(lambda: encode(OWN, **(said | {"unit": "in.lb"})))[0] == "link.cannot-encode"  # type: ignore[arg-type]
    bare = plain(WHOLE, FIELDS)
    assert refused(lambda: encode(bare, **said)) == ("link.pattern-reads-only", ("own",))  # type: ignore[arg-type]
    braces = made(r"\{(?P<value>\d+)\}°", "", "write = '{{{value}}}°'\n")
    raw = encode(braces, serial="", counter=None, value="7", unit=None, direction=None)
    assert raw == b"{7}\xb0\r\n"


@pytest.mark.parametrize(
    "template", ["{value", "{}", "{0}", "{unit}", "7", "{value!r}", "{value:>9}", "{value.x}", "{value}€"]
)
def test_a_template_names_groups_alone(template: str) -> None:
    pattern = r"(?P<value>\d+)(?P<direction>C?CW)?"
    assert made(pattern, "", "write = '{value}{direction}'\n").write == "{value}{direction}"  # the control
    code, words = refused(lambda: made(pattern, "", f"write = '{template}'\n"))
    assert (code, words[0]) == (VALUE, "line.write")


def test_a_head_may_be_proven_by_the_serial_no() -> None:
    receiver = Receiver(OWN, serial="A1023")
    (item,) = receiver.feed(b"A1023;#0417;P;R27,50 N.m\r\n")
    assert isinstance(item, Message)
    (item,) = Receiver(OWN, serial="A1023").feed(b"023;#0417;P;R27,50 N.m\r\n")
    assert isinstance(item, Rejected)


def test_a_checksum_may_stand_behind_its_mark() -> None:
    marked = made(r"(?P<value>\d+)", '[checksum]\nkind = "xor-8"\nmark = "*"\n', "write = '{value}'\n")
    assert encode(marked, serial="", counter=None, value="7", unit=None, direction=None) == b"7*37\r\n"
    assert why(marked, b"7*38") == ("link.checksum", ("37", "38"))
    assert why(marked, b"7*\xff") == ("link.checksum", ("37", "\\xff"))


@given(
    serial=st.from_regex(r"[A-Z][0-9]{1,6}", fullmatch=True),
    counter=st.integers(0, 10**9),
    number=st.integers(0, 999_999),
    places=st.integers(1, 4),
    unit=st.sampled_from(["N.m", "ft.lb"]),
    direction=st.sampled_from(["CW", "CCW"]),
    angle=st.sampled_from(["0", "12,5".replace(",", "."), "360.0"]),
    live=st.booleans(),
    flags=st.sets(st.sampled_from(["overload", "low battery"])),
)
def test_what_is_written_is_read(
    serial: str,
    counter: int,
    number: int,
    places: int,
    unit: str,
    direction: str,
    angle: str,
    live: bool,
    flags: set[str],
) -> None:
    digits = f"{number:0{places + 1}d}"
    value = f"{digits[:-places]}.{digits[-places:]}"
    said = Message(b"", value, unit, False, serial, counter, direction, angle, live, tuple(sorted(flags)))
    raw = encode(
        OWN,
        serial=serial,
        counter=counter,
        value=value,
        unit=unit,
        direction=direction,
        angle=angle,
        live=live,
        flags=tuple(flags),
    )
    item = read(OWN, raw.removesuffix(b"\r\n"))
    assert isinstance(item, Message)
    assert item._replace(flags=tuple(sorted(item.flags))) == said._replace(raw=raw)


PATTERNS = [OWN, plain(r"(?P<unit>.*?)(?P<value>.+)"), plain(r"(?s)(?:(?P<value>[^;]*);?)*(?P<direction>.)?")]


@given(line=st.binary(max_size=120) | st.from_regex(r"[A-Z0-9;#PLR,. Nm@]{0,60}", fullmatch=True).map(str.encode))
@pytest.mark.parametrize("profile", PATTERNS, ids=["own", "lazy", "greedy"])
def test_any_bytes_give_items_and_a_value_stands_in_its_bytes(profile: Profile, line: bytes) -> None:
    receiver = Receiver(profile, synced=True)
    for item in [*receiver.feed(line + b"\r\n"), *receiver.reset()]:
        assert len(item.raw) <= 530
        if isinstance(item, Message):
            assert item.value.replace(".", profile.number.point.decode()).encode() in item.raw


def test_only_a_profile_with_a_pattern_loads_the_library(root: Path) -> None:
    script = (
        "import sys\nfrom drivers.load import builtin_profile, builtin_profiles\n"
        "from drivers.wire.receive import Receiver\n"
        "[Receiver(builtin_profile(name)) for name in builtin_profiles()]\nprint('re2' in sys.modules)\n"
        "from drivers.wire.pattern import compiled\ncompiled('x')\nprint('re2' in sys.modules)\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=root, check=True)
    assert done.stdout.split() == ["False", "True"]


def test_a_pattern_is_all_of_its_message() -> None:
    found = compiled(r"(?P<value>\d+)")
    assert found.fullmatch(b"12") is not None
    assert found.fullmatch(b"12x") is None
    assert found.fullmatch(b"x12") is None
