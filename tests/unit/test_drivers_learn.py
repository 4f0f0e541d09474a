"""What is learnt from a few pulls, what is refused, and that what was never seen is not read."""

from collections.abc import Sequence
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import ProfileError
from drivers.reading import Message, Received, Rejected
from drivers.wire.learn import Learnt, agrees, learn
from drivers.wire.learn_shown import Asked, NotLearnt, Shown, Sure, parse_shown
from drivers.wire.parse import parse_profile
from drivers.wire.profile import FieldName, Order, Profile, Sign, Wrapped
from drivers.wire.receive import Receiver
from drivers.wire.write import write

UNITS = {"N.m": "N·m", "N·m": "N·m", "ft.lb": "ft·lb", "N m": "N·m"}
VALUES = ("45.6", "51.2", "38.0", "60.1", "44.4", "47.9")


def taught(
    run: bytes, shown: Sequence[str], *, serial: str | None = None, only: str | None = None, most: str | None = None
) -> Learnt:
    pulls = tuple(parse_shown(text, UNITS.get) for text in shown)
    asked = Asked(pulls, UNITS.get, serial, only, None if most is None else Decimal(most))
    return learn([run], asked, name="new", title="New")


def refused(run: bytes, shown: Sequence[str], **known: str) -> str:
    with pytest.raises(NotLearnt) as caught:
        taught(run, shown, **known)
    return caught.value.code


def one(profile: Profile, raw: bytes) -> Received:
    items = Receiver(profile, synced=True).feed(raw)
    assert len(items) == 1
    return items[0]


def lines(form: str, values: Sequence[str] = VALUES) -> bytes:
    return "".join(form.format(v=value, n=17 + at) + "\r\n" for at, value in enumerate(values)).encode()


def names(profile: Profile) -> list[str]:
    return [field.name.value for field in profile.fields]


def test_a_line_is_learnt_whole() -> None:
    learnt = taught(lines("K2210;{n:05d};{v};N.m;CW"), [f"{value} N.m" for value in VALUES])
    assert names(learnt.profile) == ["serial", "counter", "value", "unit", "direction"]
    item = one(learnt.profile, b"K2210;00099;7.5;ft.lb;CW\r\n")
    assert isinstance(item, Message)
    assert (item.value, item.unit, item.counter, item.direction, item.serial) == ("7.5", "ft.lb", 99, "CW", "K2210")


def test_decimal_commas_and_blanks() -> None:
    run = lines("{n}|{v:>7}|N.m").replace(b".6|", b",6|")
    run = b"".join(f"{n}|{v:>7}|N.m\r\n".replace(".", ",", 1).encode() for n, v in enumerate(VALUES))
    profile = taught(run, [f"{value} N.m" for value in VALUES]).profile
    item = one(profile, b"9|  112,5|N.m\r\n")
    assert isinstance(item, Message)
    assert item.value == "112.5"


def test_a_direction_that_was_never_seen_is_refused_and_said() -> None:
    learnt = taught(lines("{n};{v};N.m;CW"), [f"{value} N.m" for value in VALUES])
    assert "profile.turn-unseen" in {told.code for told in learnt.told}
    assert isinstance(one(learnt.profile, b"30;45.6;N.m;CCW\r\n"), Rejected)
    both = lines("{n};{v};N.m;CW").replace(b"38.0;N.m;CW", b"38.0;N.m;CCW")
    shown = [f"{value} N.m{' CCW' if value == '38.0' else ''}" for value in VALUES]
    item = one(taught(both, shown).profile, b"30;45.6;N.m;CCW\r\n")
    assert isinstance(item, Message)
    assert item.direction == "CCW"


def test_codes_of_unit_and_direction_are_told_by_what_was_typed() -> None:
    rows = [(value, "3" if value == "51.2" else "1", "B" if value == "38.0" else "A") for value in VALUES]
    run = "".join(f"{n};{v};{u};{t}\n" for n, (v, u, t) in enumerate(rows)).encode()
    shown = [f"{v} {'ft.lb' if u == '3' else 'N.m'}{' CCW' if t == 'B' else ''}" for v, u, t in rows]
    profile = taught(run, shown).profile
    unit, direction = profile.field(FieldName.UNIT), profile.field(FieldName.DIRECTION)
    assert unit is not None
    assert direction is not None
    assert unit.meanings == {"1": "N.m", "3": "ft.lb"}
    assert direction.meanings == {"A": "CW", "B": "CCW"}
    assert isinstance(one(profile, b"9;40.0;2;A\n"), Rejected)  # a third unit, never seen


def test_a_field_that_changes_with_unit_and_direction_at_once_is_refused() -> None:
    run = lines("{n};{v};A").replace(b"38.0;A", b"38.0;B")
    shown = [f"{v} {'ft.lb CCW' if v == '38.0' else 'N.m'}" for v in VALUES]
    assert refused(run, shown) == "profile.unit-or-turn"


def test_constants_that_may_hide_the_unit_are_held_or_refused() -> None:
    shown = [f"{value} N.m" for value in VALUES]
    learnt = taught(lines("{n};{v};0"), shown)
    assert isinstance(one(learnt.profile, b"30;45.6;0\r\n"), Message)
    assert isinstance(one(learnt.profile, b"30;45.6;1\r\n"), Rejected)  # it may be a sample of the stream
    assert "profile.pinned" in {told.code for told in learnt.told}
    fixed = taught(lines("{n};{v};0;1;V2"), shown, only="N·m").profile
    assert fixed.unit == "N.m"


@pytest.mark.parametrize("word", ["NEWTON", "metric", "TORQUE-NM", "0", "0;1;V2", None])
def test_a_unit_is_fixed_only_by_who_says_that_there_is_no_other(word: str | None) -> None:
    form = "{n};{v}" if word is None else f"{{n}};{{v}};{word}"
    shown = [f"{value} N.m" for value in VALUES]
    learnt = taught(lines(form), shown)
    item = one(learnt.profile, lines(form, ["7.5"]))
    assert isinstance(item, Message)
    assert (item.value, item.unit) == ("7.5", None)
    assert "profile.unit-open" in {told.code for told in learnt.told if told.sure is Sure.OPEN}
    assert taught(lines(form), shown, only="N·m").profile.unit == "N.m"


def test_a_unit_beside_something_else_is_not_said_to_be_another() -> None:
    shown = [f"{value} N.m" for value in VALUES]
    assert refused(lines("{n};{v};<ft.lb>"), shown, only="N·m") == "profile.unit-contradicts"
    assert taught(lines("{n};{v};<N.m>"), shown, only="N·m").profile.unit == "N.m"


@pytest.mark.parametrize("level", ["98", "100"])
def test_a_level_of_the_battery_is_not_held_to_what_was_seen(level: str) -> None:
    profile = taught(lines(f"{{v}};N.m;{level}"), VALUES).profile
    item = one(profile, b"45.6;N.m;97\r\n")
    assert isinstance(item, Message)
    assert item.unit == "N.m"
    # A word may be the direction or the kind of message; it is held, and said.
    learnt = taught(lines("{v};N.m;PASS"), VALUES)
    assert isinstance(one(learnt.profile, b"45.6;N.m;LIVE\r\n"), Rejected)
    assert [told.args for told in learnt.told if told.code == "profile.pinned"] == [("3", "PASS")]


def test_a_unit_beside_something_else_is_never_taken_as_fixed() -> None:
    shown = [f"{value} N.m" for value in VALUES]
    assert taught(lines("{n};{v};<N.m>"), shown).profile.unit is None
    # Nor where only a later message shows it: the head of the first was lost, and with it the checksum of all.
    late = "".join(f"N.m{n};{v}\r\n" for n, v in enumerate(VALUES))[3:].encode()
    assert taught(late, shown).profile.unit is None


def test_what_is_typed_and_what_is_sent_must_agree() -> None:
    run = lines("{n};{v};N.m;CW")
    assert refused(run, [f"{value} ft.lb" for value in VALUES]) == "profile.unit-contradicts"
    assert refused(run, ["45.6 CCW", *VALUES[1:]]) == "profile.turn-contradicts"
    assert refused(run, ["45.7", *VALUES[1:]]) == "profile.no-value"


def test_too_few_pulls_are_refused() -> None:
    run = lines("{n};{v};N.m;CW", VALUES[:3])
    assert refused(run, VALUES[:3]) == "profile.few"
    assert refused(lines("{n};5.0;N.m;CW"), ["5.0"] * 6) == "profile.few"
    assert refused(b"", VALUES) == "profile.nothing-heard"


def test_a_message_whose_head_was_lost_does_not_cost_the_checksum() -> None:
    bodies = [f"{n};{v};N.m" for n, v in enumerate(VALUES)]
    run = "".join(f"{body}*{sum(body.encode()) & 0xFF:02X}\r\n" for body in bodies).encode()
    assert taught(run, VALUES).profile.check is not None
    late = b"17" + run[1:]
    assert refused(late, VALUES) == "profile.check-disagrees"


def test_two_fields_that_equal_the_display_are_refused() -> None:
    assert refused(lines("{n};{v};{v};N.m"), VALUES) == "profile.values-ambiguous"
    parted = lines("{n};{v};{v};N.m").replace(b"60.1;60.1", b"60.1;60.0")
    assert names(taught(parted, VALUES).profile) == ["counter", "value", "skip", "unit"]


def test_two_fields_that_count_are_both_left_out() -> None:
    learnt = taught(lines("{n};{n};{v};N.m"), VALUES)
    assert learnt.profile.field(FieldName.COUNTER) is None
    assert "profile.counters-ambiguous" in {told.code for told in learnt.told if told.sure is Sure.OPEN}


def test_a_skipped_pull_is_any_value() -> None:
    assert taught(lines("{n};{v};N.m"), [*VALUES[:3], "skip", *VALUES[4:]]).messages == 6


def test_peaks_are_told_from_the_stream_beside_them() -> None:
    run = "".join(f"L;{float(v) / 2:.1f};N.m\nL;{v};N.m\nP;{v};N.m\n" for v in VALUES).encode()
    profile = taught(run, VALUES).profile
    message = profile.field(FieldName.MESSAGE)
    assert message is not None
    assert message.meanings == {"P": "peak", "L": "live"}
    live, peak = one(profile, b"L;3.0;N.m\n"), one(profile, b"P;3.0;N.m\n")
    assert isinstance(live, Message)
    assert isinstance(peak, Message)
    assert (live.live, peak.live) == (True, False)
    # The control: with nothing that tells them apart there is no profile.
    assert refused(run.replace(b"L;", b"P;"), VALUES) == "profile.fewer-typed"


def test_a_sign_is_the_direction_only_where_both_were_seen() -> None:
    run = "".join(f"{n};{'-' if v == '38.0' else '+'}{v};N.m\n" for n, v in enumerate(VALUES)).encode()
    shown = [f"-{v}" if v == "38.0" else v for v in VALUES]
    value = taught(run, shown).profile.field(FieldName.VALUE)
    assert value is not None
    assert value.sign is Sign.DIRECTION
    plus = taught(run.replace(b"-", b"+"), VALUES).profile
    assert isinstance(one(plus, b"9;-45.6;N.m\n"), Rejected)


def packet(body: bytes) -> bytes:
    raw = bytes([len(body)]) + body
    return b"\xa5\x5a" + raw + bytes([sum(raw) & 0xFF])


def numbers(count: int = 6) -> list[int]:
    return [300 + 517 * at * at for at in range(count)]


def test_packets_are_learnt_in_either_order() -> None:
    shown = [f"{number / 100:.2f} N.m" for number in numbers()]
    for order in ("big", "little"):
        run = b"".join(packet((260 + n).to_bytes(2, order) + v.to_bytes(2, order)) for n, v in enumerate(numbers()))
        learnt = taught(run, [*shown[:-1], f"{shown[-1]} #265"], only="N·m", most="150")
        assert learnt.profile.order is Order(order)
        item = one(learnt.profile, packet((999).to_bytes(2, order) + (1234).to_bytes(2, order)))
        assert isinstance(item, Message)
        assert (item.value, item.counter, item.unit) == ("12.34", 999, "N.m")


def test_bytes_beside_a_value_are_held_to_nought() -> None:
    shown = [f"{number / 100:.2f} N.m" for number in numbers()]
    run = b"".join(packet(b"\x00" + v.to_bytes(2, "big")) for v in numbers())
    profile = taught(run, shown, only="N·m").profile
    assert isinstance(one(profile, packet(b"\x00\x12\x34")), Message)
    assert isinstance(one(profile, packet(b"\x01\x12\x34")), Rejected)  # a larger value, or a state of the wrench
    # Both directions were typed, so nothing but the value could need that byte.
    turned = taught(run, [f"{shown[0]} CCW", *shown[1:]], only="N·m").profile
    assert isinstance(one(turned, packet(b"\x01\x12\x34")), Rejected)
    # Where a pull of each direction and the largest number were typed, nothing of it is open any more.
    both = [f"{shown[0]} CCW", *shown[1:]]
    assert names(taught(run, both, only="N·m", most="150").profile) == ["skip", "value"]


def test_a_value_below_nought_that_no_pull_showed_is_refused() -> None:
    shown = [f"{number / 100:.2f} N.m" for number in numbers()]
    run = b"".join(packet(bytes([n]) + v.to_bytes(4, "little")) for n, v in enumerate(numbers()))
    for most in ("150", "600"):
        profile = taught(run, shown, only="N·m", most=most).profile
        item = one(profile, packet(b"\x09" + (-4560).to_bytes(4, "little", signed=True)))
        assert isinstance(item, Rejected), most


def test_a_value_below_nought_is_refused_where_no_byte_is_to_spare() -> None:
    shown = [f"{number / 100:.2f} N.m" for number in numbers()]
    run = b"".join(packet(bytes([n]) + v.to_bytes(2, "little")) for n, v in enumerate(numbers()))
    profile = taught(run, shown, only="N·m", most="150").profile
    assert isinstance(one(profile, packet(b"\x09" + (4560).to_bytes(2, "little"))), Message)
    assert isinstance(one(profile, packet(b"\x09" + (-4560).to_bytes(2, "little", signed=True))), Rejected)


def test_an_escape_that_was_never_needed_is_guessed_and_said() -> None:
    def frame(body: bytes) -> bytes:
        total = sum(body) & 0xFF
        return b"\x02" + body + bytes([total]) + b"\x03"

    run = b"".join(frame(f"{n};{v};N.m".encode()) for n, v in enumerate(VALUES))
    assert not {0x02, 0x03, 0x10} & set(run.replace(b"\x02", b"", 6).replace(b"\x03", b""))
    learnt = taught(run, VALUES)
    assert "profile.escape-guessed" in {told.code for told in learnt.told if told.sure is Sure.OPEN}
    # Frames that begin as a standard has them are taken to escape as it does: RFC 1662 and RFC 1055.
    for start, end, escape, flip in ((0x7E, 0x7F, 0x7D, 0x20), (0xC0, 0xC1, 0xDB, 0x1C)):
        other = run.replace(b"\x02", bytes([start])).replace(b"\x03", bytes([end]))
        assert taught(other, VALUES).profile.framing == Wrapped(start, end, escape, flip, 64)


def test_as_many_typed_as_sent_or_both_numbers_are_said() -> None:
    run = lines("{n};{v};N.m")
    for shown, code, numbers in (
        ([*VALUES, *VALUES], "profile.more-typed", ("12", "6")),
        (VALUES[:5], "profile.fewer-typed", ("5", "6")),
        ([*VALUES[:5], "47.8"], "profile.no-value", ()),
    ):
        with pytest.raises(NotLearnt) as caught:
            taught(run, shown)
        assert (caught.value.code, caught.value.words[-2:] if numbers else ()) == (code, numbers)


def test_fields_with_one_blank_between_are_learnt() -> None:
    shown = [f"{value} N.m" for value in VALUES]
    profile = taught(lines("T {v} N.m"), shown).profile
    assert (profile.separator, names(profile)) == (b" ", ["message", "value", "unit"])
    item = one(profile, b"T 112.5 ft.lb\r\n")
    assert isinstance(item, Message)
    assert (item.value, item.unit) == ("112.5", "ft.lb")
    for other in (b"T  45.6 N.m\r\n", b"T 1 45.6 N.m\r\n", b"T 45.6 N m\r\n", b"L 45.6 N.m\r\n"):
        assert isinstance(one(profile, other), Rejected), other
    # Blanks that fill columns up stand between none.
    filled = taught(lines("T {v:>6} N.m"), shown).profile
    assert filled.separator == b""


def test_a_digit_that_never_changed_before_a_counter_in_columns_is_doubted() -> None:
    def sure(form: str, first: int) -> list[tuple[Sure, str]]:
        angle = ("19.9", "88.1", "42.8", "63.3", "61.2", "65.6")
        parts = enumerate(zip(VALUES, angle, strict=True), first)
        run = "".join(form.format(v=v, n=n, a=a) + "\r\n" for n, (v, a) in parts).encode()
        told = taught(run, [f"{value} N.m" for value in VALUES]).told
        return [(each.sure, each.code) for each in told if each.code.startswith("profile.counter")]

    # The 1 may be a code of the direction, and the counter the four digits behind it.
    assert sure("N.m   1{n:4}A2158  {v:>7}", 8316) == [(Sure.LIKELY, "profile.counter-width")]
    assert sure("N.m   {n:5}A2158  {v:>7}", 17) == [(Sure.PROVEN, "profile.counter")]
    # Noughts behind digits of another number are the counter's, or decimals that never changed.
    assert sure("N.m   {v:>7}A {a}{n:04}", 17) == [(Sure.LIKELY, "profile.counter-width")]


def test_noughts_that_could_be_two_things_are_refused_with_advice_that_helps() -> None:
    """What was said already is not asked for again."""
    shown = [f"{number / 100:.2f} N.m" for number in numbers()]
    # A live stream has the one word that could hold the noughts.
    kinds = [b"\x01\x02"[n % 2 :][:1] for n in range(12)]
    sizes = [size for size in numbers() for _ in range(2)]
    bodies = [b"\x00\x00" + v.to_bytes(2, "big") + kind + b"T2113\x00" for v, kind in zip(sizes, kinds, strict=True)]
    run = b"".join(map(packet, bodies))
    assert refused(run, shown) == "profile.value-width"
    assert refused(run, shown, most="400") == "profile.value-sign"
    close = "".join(f"7{v} N.m\r\n" for v in VALUES).encode()
    assert refused(close, VALUES) == "profile.digit-before"
    assert refused(close, VALUES, most="150") == "profile.most-no-room"


@pytest.mark.parametrize("head", ["", "T", "TQ: "])
def test_a_unit_right_behind_the_number_is_learnt_as_a_pattern(head: str) -> None:
    learnt = taught(lines(f"{head}{{v}}N.m"), [f"{value} N.m" for value in VALUES])
    item = one(learnt.profile, f"{head}112.5ft.lb\r\n".encode())
    assert isinstance(item, Message)
    assert (item.value, item.unit) == ("112.5", "ft.lb")
    assert ("profile.head-held" in {told.code for told in learnt.told}) == bool(head)
    for other in ("X45.6N.m", f"{head}-45.6N.m", f"{head}1.45.6N.m", f"{head}45.6", f"{head}45.6N.m1"):
        assert isinstance(one(learnt.profile, f"{other}\r\n".encode()), Rejected), other
    assert refused(lines(f"{head}{{v}}N.m"), [f"{v} ft.lb" for v in VALUES]) == "profile.unit-contradicts"


def test_no_framing_is_said() -> None:
    assert refused(bytes(range(0x80, 0xC0)), VALUES) == "profile.no-framing"


def test_what_is_learnt_can_be_written_and_agrees() -> None:
    run = lines("{n};{v};N.m")
    profile = taught(run, VALUES).profile
    asked = Asked(tuple(parse_shown(value, UNITS.get) for value in VALUES), UNITS.get)
    assert parse_profile(write(profile)) == profile
    assert agrees(profile, [run], asked)
    assert not agrees(profile, [run.replace(b"45.6", b"45.7")], asked)
    assert not agrees(profile, [run + b"noise\r\n"], asked)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("45.6", Shown(Decimal("45.6"), 1, None, "CW")),
        ("45,60 N.m", Shown(Decimal("45.6"), 2, "N·m", "CW")),
        ("-7", Shown(Decimal(7), 0, None, "CCW")),
        ("45.6 ft.lb CCW #417", Shown(Decimal("45.6"), 1, "ft·lb", "CCW", 417)),
        ("45,6 N m", Shown(Decimal("45.6"), 1, "N·m", "CW")),
        ("45.6  N   m  CCW #417", Shown(Decimal("45.6"), 1, "N·m", "CCW", 417)),
        ("45.6 ccw", Shown(Decimal("45.6"), 1, None, "CCW")),
        (" skip ", Shown(None)),
    ],
)
def test_what_a_person_types(text: str, wanted: Shown) -> None:
    assert parse_shown(text, UNITS.get) == wanted


@pytest.mark.parametrize("text", ["", "N.m", "4.5.6", "45.6 zz", "-5 CW", "5 N.m CCW extra", "٣"])
def test_what_nobody_reads_off_a_display(text: str) -> None:
    with pytest.raises(ProfileError) as caught:
        parse_shown(text, UNITS.get)
    assert caught.value.code in ("profile.shown-form", "profile.shown-unit")


@given(st.binary(min_size=1, max_size=120) | st.text("0123456789.;,-+ N\r\n\x02\x03").map(str.encode))
def test_any_bytes_are_refused_or_read_as_typed(run: bytes) -> None:
    asked = Asked(tuple(parse_shown(value, UNITS.get) for value in VALUES), UNITS.get)
    try:
        learnt = learn([run], asked, name="new", title="New")
    except NotLearnt:
        return
    assert agrees(learnt.profile, [run], asked)
