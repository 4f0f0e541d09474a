"""Fields of text: number forms, columns, words and flags."""

import pytest

from drivers.errors import ProfileError
from drivers.reading import Message, Rejected
from drivers.wire.decode import decode
from drivers.wire.encode import encode
from drivers.wire.framing import Frame
from drivers.wire.parse import parse_profile
from drivers.wire.profile import Profile
from drivers.wire.receive import Receiver

HEAD = 'profile = 1\nname = "text"\ntitle = "Text"\nunit = "N.m"\n[framing]\nends = ["\\n"]\n'
LINE = HEAD.replace("[framing]", 'kind = "delimited line"\n[framing]') + '[line]\nseparator = "{separator}"\n'
COLUMNS = HEAD.replace("[framing]", 'kind = "columns"\n[framing]')
VALUE = '[[fields]]\nis = "value"\n'
FLAGS = '[[fields]]\nis = "flags"\nempty = true\nwords = { O = "overload", B = "low battery" }\n'


def line(number: str = "", value: str = "", more: str = "", separator: str = ";") -> Profile:
    return parse_profile(LINE.replace("{separator}", separator) + number + VALUE + value + more)


def columns(*fields: str, number: str = "[number]\nblanks = true\n") -> Profile:
    return parse_profile(COLUMNS + number + "".join(f"[[fields]]\n{field}\n" for field in fields))


def read(profile: Profile, body: bytes) -> Message | Rejected:
    return decode(profile, Frame(body + b"\n", body))


def value(profile: Profile, body: bytes) -> str | None:
    item = read(profile, body)
    return item.value if isinstance(item, Message) else None


POINT = line()
COMMA = line('[number]\npoint = ","\n')
BLANKS = line("[number]\nblanks = true\n")
PLUS = line(value='sign = "plus"\n')
TURN = line(value='sign = "direction"\n')
FORMS = {"point": POINT, "comma": COMMA, "blanks": BLANKS, "plus": PLUS, "turn": TURN}


@pytest.mark.parametrize(
    ("sent", "taken"),
    [  # which forms take the text, and for what
        (b"12.5", {"point": "12.5", "blanks": "12.5", "plus": "12.5"}),
        (b"12,5", {"comma": "12.5"}),
        (b"12", {"point": "12", "comma": "12", "blanks": "12", "plus": "12"}),
        (b"  12.5", {"blanks": "12.5"}),
        (b"12.5 ", {}),
        (b"1 2", {}),
        (b"+12.5", {"plus": "12.5", "turn": "12.5"}),
        (b"-12.5", {"turn": "12.5"}),
        (b"+-12.5", {}),
        (b"++12.5", {}),
        (b"+", {}),
        (b"1.212,5", {}),
        (b"1,212.5", {}),
        (b"12.", {}),
        (b"12,", {}),
        (b",5", {}),
        (b"123456789012", dict.fromkeys(("point", "comma", "blanks", "plus"), "123456789012")),
        (b"+123456789012", dict.fromkeys(("plus", "turn"), "123456789012")),
        (b"1234567890.12", {}),
        (b"+1234567890123", {}),
    ],
)
def test_every_number_form_takes_its_own_texts(sent: bytes, taken: dict[str, str]) -> None:
    found = {name: value(profile, sent) for name, profile in FORMS.items()}
    assert {name: text for name, text in found.items() if text is not None} == taken


@pytest.mark.parametrize(("sent", "direction"), [(b"+5", "CW"), (b"-5", "CCW"), (b"-0.0", "CCW")])
def test_a_sign_may_be_the_direction(sent: bytes, direction: str) -> None:
    item = read(TURN, sent)
    assert isinstance(item, Message)
    assert (item.direction, item.value) == (direction, sent[1:].decode())
    assert encode(TURN, serial="", counter=None, value=item.value, unit=None, direction=direction) == sent + b"\n"


def test_a_tab_may_stand_between_fields_and_nowhere_else() -> None:
    tabs = line(more='[[fields]]\nis = "angle"\n', separator="\\t")
    item = read(tabs, b"5\t60")
    assert isinstance(item, Message)
    assert item.angle == "60"
    assert read(POINT, b"5\t60") == Rejected(b"5\t60\n", "link.control-character")  # the control


def test_a_message_that_is_neither_peak_nor_live_is_none() -> None:
    kinds = line(more='[[fields]]\nis = "message"\nwords = { pk = "peak", lv = "live" }\n')
    live, peak = read(kinds, b"5;lv"), read(kinds, b"5;pk")
    assert isinstance(live, Message)
    assert isinstance(peak, Message)
    assert (live.live, peak.live) == (True, False)
    for sent in (b"PK", b"p", b"pk ", b"peak", b"pklv"):
        assert read(kinds, b"5;" + sent) == Rejected(b"5;" + sent + b"\n", "link.field", ("message", sent.decode()))
    assert read(kinds, b"5;") == Rejected(b"5;\n", "link.field-empty", ("message",))


def test_flags_are_a_sign_each_in_any_order() -> None:
    flags = line(more=FLAGS)
    found = {}
    for sent in (b"", b"O", b"B", b"OB", b"BO"):
        item = read(flags, b"5;" + sent)
        assert isinstance(item, Message)
        found[sent] = item.flags
    both = ("overload", "low battery")
    assert found == {b"": (), b"O": both[:1], b"B": both[1:], b"OB": both, b"BO": both}
    for sent in (b"OO", b"X", b"OX", b"o"):
        assert isinstance(read(flags, b"5;" + sent), Rejected)


def test_words_stand_for_units() -> None:
    text = LINE.replace("{separator}", ";").replace('unit = "N.m"\n', "") + VALUE
    units = parse_profile(text + '[[fields]]\nis = "unit"\nwords = { 1 = "N.m", 2 = "ft.lb" }\n')
    item = read(units, b"5;2")
    assert isinstance(item, Message)
    assert (item.unit, item.unit_fixed) == ("ft.lb", False)
    assert isinstance(read(units, b"5;ft.lb"), Rejected)
    assert encode(units, serial="", counter=None, value="5", unit="N.m", direction=None) == b"5;1\n"
    with pytest.raises(ProfileError) as caught:
        encode(units, serial="", counter=None, value="5", unit="in.lb", direction=None)
    assert caught.value.words == ("text", "unit", "in.lb")


WIDE = columns('is = "serial"\nwidth = 6', 'is = "skip"\nwidth = 2', 'is = "value"\nwidth = 6')
TAIL = columns('is = "value"\nwidth = 5', 'is = "angle"\nwidth = 4\noptional = true\nempty = true')
ZEROS = columns('is = "value"\nwidth = 6', 'is = "counter"\nwidth = 4\nempty = true', number="")


def test_columns_are_cut_by_their_width() -> None:
    item = read(WIDE, b"AB-1  ??  12.5")
    assert isinstance(item, Message)
    assert (item.serial, item.value) == ("AB-1", "12.5")
    raw = encode(WIDE, serial="AB-1", counter=None, value="12.5", unit=None, direction=None)
    assert raw == b"AB-1      12.5\n"


@pytest.mark.parametrize("body", [b"AB-1  ??  12.", b"AB-1  ??  12.55", b"", b"AB-1  "])
def test_another_length_is_no_message(body: bytes) -> None:
    # A value that lost its last digit would read as a lower one.
    assert read(WIDE, body) == Rejected(body + b"\n", "link.body-length", (str(len(body)), "14"))


@pytest.mark.parametrize("body", [b" AB-1 ??  12.5", b"AB-1  ??12.5  ", b"AB-1  ??1 2.5 ", b"AB 1  ??  12.5"])
def test_a_text_stands_left_and_a_number_right(body: bytes) -> None:
    item = read(WIDE, body)
    assert isinstance(item, Rejected)
    assert item.why == "link.field"


def test_the_last_columns_may_be_left_off_whole() -> None:
    assert value(TAIL, b" 12.5") == "12.5"
    assert value(TAIL, b" 12.5  60") == "12.5"
    assert value(TAIL, b" 12.5    ") == "12.5"
    assert read(TAIL, b" 12.5 60") == Rejected(b" 12.5 60\n", "link.body-length", ("8", "5, 9"))
    assert encode(TAIL, serial="", counter=None, value="12.5", unit=None, direction=None) == b" 12.5\n"


def test_columns_without_blanks_are_filled_with_zeros() -> None:
    item = read(ZEROS, b"0012.50417")
    assert isinstance(item, Message)
    assert (item.value, item.counter) == ("0012.5", 417)
    assert read(ZEROS, b"  12.50417") == Rejected(b"  12.50417\n", "link.field", ("value", "  12.5"))
    item = read(ZEROS, b"0012.5    ")
    assert isinstance(item, Message)
    assert item.counter is None
    assert encode(ZEROS, serial="", counter=417, value="12.5", unit=None, direction=None) == b"0012.50417\n"


def test_what_does_not_fit_its_column_is_refused() -> None:
    with pytest.raises(ProfileError) as caught:
        encode(ZEROS, serial="", counter=None, value="1234.56", unit=None, direction=None)
    assert caught.value.words == ("text", "value", "1234.56")


def test_a_checksum_may_stand_last_without_a_mark() -> None:
    text = LINE.replace("{separator}", ";") + VALUE
    last = parse_profile(text + '[checksum]\nkind = "sum-8"\nplace = "before end"\nwritten = "hex"\n')
    raw = encode(last, serial="", counter=None, value="7.1", unit=None, direction=None)
    assert raw == b"7.196\n"  # 37 + 2E + 31 = 96
    (item,) = Receiver(last, synced=True).feed(raw)
    assert isinstance(item, Message)
    assert item.value == "7.1"
    assert Receiver(last, synced=True).feed(b"7.195\n") == [Rejected(b"7.195\n", "link.checksum", ("96", "95"))]
    assert Receiver(last, synced=True).feed(b"6\n") == [Rejected(b"6\n", "link.checksum", ("00", "6"))]
