"""Whatever a sheet holds, reading it raises only faults that can be said."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.words import say
from specs.errors import Fault, SheetErrors
from specs.parse import parse

EVERY_KEY = (Path(__file__).resolve().parents[2] / "fixtures" / "sheets" / "every-key.toml").read_text(encoding="utf-8")

PIECES = [
    *('"', "'", '"""', "'''", "\\", "[", "]", "[[", "{", "}", "=", ",", ".", "\n", "\r", "\0", "#", " ", "-"),
    *("1.5", "1e999", "nan", "0x" + "f" * 50, "true", "1979-05-27", "[[stages]]", "[groups.C]", "\ud800", "\ufeff"),
    *(
        '"27 ft·lb"',
        '"5 %"',
        '"1 degC"',
        "%",
        "²",
        "٣",
        '"9999999999 h"',
        "{}",
        "[]",
        "[[]]",
        "\\u0000",
        "positions = 9",
    ),
]


def only_ours(text: str) -> None:
    """Reads the text, which may raise nothing but faults in the order of their lines that can be said."""
    faults: tuple[Fault, ...] = ()
    try:
        parse(text)
    except SheetErrors as error:
        faults = error.faults or (Fault(None, "", "sheet.faults"),)  # without any, saying it fails
    assert all(say(fault.code, *fault.args).isprintable() for fault in faults)
    assert [fault.line or 0 for fault in faults] == sorted(fault.line or 0 for fault in faults)


@given(st.text(max_size=200) | st.lists(st.sampled_from(PIECES), max_size=30).map("".join))
def test_any_text_raises_only_ours(text: str) -> None:
    only_ours(text)


@given(st.data())
def test_a_mutated_sheet_raises_only_ours(data: st.DataObject) -> None:
    text = EVERY_KEY
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(text)))
        length = data.draw(st.integers(0, 20))
        text = text[:start] + data.draw(st.sampled_from(["", *PIECES])) + text[start + length :]
    only_ours(text)


VALUES = [
    *(
        "1",
        "-1",
        "1.5",
        "nan",
        "true",
        "[]",
        "{}",
        "[1, 2]",
        '["a", "b"]',
        "[[1]]",
        "{a = 1}",
        "1979-05-27",
        "07:32:00",
    ),
    *('""', '" "', '"x"', '"1"', '"1 %"', '"1 N·m"', '"-1 deg"', '"1 mm"', '"1 K"', '"1 °C"', '"1 h"', '"C"', '"Q0"'),
    *('["-1 %", "+1 %"]', '["1 N·m", "2 N·m"]', '"1 m*m"', '"1 dB"', '"1 degF"', '"1 delta_degC"', f"0x{'f' * 3900}"),
]


@pytest.mark.parametrize("value", VALUES)
def test_any_value_of_any_key_raises_only_ours(value: str) -> None:
    """Each key of the sheet takes each kind of value in turn."""
    lines = EVERY_KEY.split("\n")
    for number, line in enumerate(lines):
        key, sign, _ = line.partition(" = ")
        if sign:
            only_ours("\n".join([*lines[:number], f"{key} = {value}", *lines[number + 1 :]]))


@pytest.mark.parametrize(
    "first", ["1 °C", "1 K", "1 degF", "1 dB", "1 bar", "1 %", "1 delta_degC", "1 N·m", "1 m**2", "1 pH"]
)
@pytest.mark.parametrize("second", ["9 °C", "9 K", "9 degF", "9 dBm", "9 psi", "9 ppm", "9 ft·lb", "9 mm^2", "9 mm"])
def test_any_two_units_of_a_measure_raise_only_ours(first: str, second: str) -> None:
    only_ours(EVERY_KEY.replace("200 µm", first).replace("0.30 mm", second))


@pytest.mark.parametrize("sign", ["\ufeff", "\u202e", "\u0085", "\U000e0041"])
@pytest.mark.parametrize("key", ["unit", "target", "max", "range", "add", "group", "note", "id", "kind", "thread"])
def test_unseen_signs_never_reach_the_screen(key: str, sign: str) -> None:
    """A sign that turns or hides text is never said back as it stands."""
    only_ours(
        "\n".join(f'{key} = "1 f{sign}t"' if line.startswith(f"{key} =") else line for line in EVERY_KEY.split("\n"))
    )
