"""Whole tables: what their rows mean, every fault at once with its cell, and the sheet that comes of them."""

import sys
from dataclasses import replace
from types import FrameType
from typing import Any

import pytest

from bridge.words import say
from specs.errors import SheetErrors, SpecError, TableErrors
from specs.model import Sheet
from specs.parse import parse
from specs.tables.columns import (
    ROLES,
    TableMap,
    guess,
    guessed_header,
    header_unit,
    lacks,
    parse_map,
)
from specs.tables.delimited import grid
from specs.tables.drafting import Said, WrenchAsked, checked, drafted, wrenches
from specs.tables.positions import positions_of
from specs.tables.records import Records, records
from specs.unsaid import unsaid

HEAD = (("id", "made"), ("revision", "1"), ("title", "T"), ("source", "S"), ("class", "C"))
SAID = Said(HEAD, "TODO: wrench", "TODO: order")
MAP = TableMap(
    (
        *(("group", "Joint"), ("positions", "Qty"), ("pattern", "Order"), ("thread", "Thread"), ("stage", "Pass")),
        *(("target", "Torque (ft-lb)"), ("tolerance", "Tol"), ("note", "Notes")),
    )
)
ROW = "Joint;Qty;Order;Thread;Pass;Torque (ft-lb);Tol;Notes\n"


def read(text: str, table_map: TableMap = MAP) -> Records:
    """The records of a text."""
    return checked(records(grid(text)[0], table_map))


def sheet(text: str, table_map: TableMap = MAP, said: Said = SAID) -> Sheet:
    """The sheet of a text; it can be read again from its own text."""
    draft, made = drafted(read(text, table_map), said)
    assert parse(draft.text()) == made
    return made


def faults(text: str, table_map: TableMap = MAP) -> list[tuple[str, str]]:
    """Cell and code of each fault; each can be said."""
    with pytest.raises(TableErrors) as caught:
        sheet(text, table_map)
    assert all(say(fault.code, *fault.args) for fault in caught.value.faults)
    return [(fault.path, fault.code.partition(".")[2]) for fault in caught.value.faults]


def limits(made: Sheet) -> list[tuple[str, str, str]]:
    """Stage, target as written, and both limits in the target's unit."""
    from specs.bands import torque_band

    found = []
    for stage in made.stages:
        assert stage.limits is not None
        unit = stage.target.unit if stage.target else "ft·lb"
        band = torque_band(stage.limits, None, unit)
        found.append((stage.id, str(stage.target), f"{band.low} {band.high}"))
    return found


def test_rows_are_stages_in_their_order() -> None:
    """By hand: 27 ± 15 % is 22.95 … 31.05; 60 ± 10 % is 54 … 66; 35.5 ± 3 is 32.5 … 38.5."""
    made = sheet(
        "Pump P-2, torques\n;;;;;;;\n"
        + ROW
        + "Cover studs;8;star;5/8-11 UNC;1;27;15 %;\nCover studs;;;;2;60;10 %;Slowly.\n"
        ";;;;;;;\nPort plugs;2;row;;Final;35,5;± 3 ft·lb;\nTotal;10;;;;;;\n"
    )
    assert limits(made) == [
        ("CS1", "27 ft·lb", "22.95 31.05"),
        ("CS2", "60 ft·lb", "54 66"),
        ("PP1", "35.5 ft·lb", "32.5 38.5"),
    ]
    assert [(stage.text, stage.note) for stage in made.stages] == [
        ("Pass 1", None),
        ("Pass 2", "Slowly."),
        ("Final", None),
    ]
    assert (made.groups["CS"].order, made.groups["CS"].thread) == (tuple("15372648"), "5/8-11 UNC")
    assert read(ROW + "Total;10;;;;;;\nA;1;;;1;5;1%;").left_out == (2,)


def test_what_is_not_said_is_a_todo_that_is_reported() -> None:
    """Wrench, order of more than two positions; nothing else is made up."""
    made = sheet(ROW + "Cover;8;;;1;27;15 %;\nDrain;2;;;1;9;15 %;\n")
    assert [advice.path for advice in unsaid(made)] == ["wrenches.W1.title", "groups.C.cautions", "wrenches.W1"]
    said = replace(
        SAID,
        patterns={"Cover": "star"},
        wrenches={WrenchAsked(None, "ft·lb"): (("title", "large"), ("range", ("15 ft·lb", "150 ft·lb")))},
    )
    assert unsaid(sheet(ROW + "Cover;8;;;1;27;15 %;\nDrain;2;;;1;9;15 %;\n", said=said)) == ()


WIDE = TableMap(
    (("group", "Joint"), ("positions", "Qty"), ("pass", "Pass 1 (Nm)"), ("pass", "Final (Nm)"), ("wrench", "Tool")),
    tolerance="10 %",
)
WIDE_TEXT = "Joint,Qty,Pass 1 (Nm),Final (Nm),Tool\nCover,8,37,81,large\nDrain,1,,12,small\n"


def test_a_wide_table_has_a_column_for_each_pass() -> None:
    """Group by group, or pass by pass where a person said so; a blank cell is no stage."""
    assert [stage.id for stage in sheet(WIDE_TEXT, WIDE).stages] == ["C1", "C2", "D1"]
    by_pass = sheet(WIDE_TEXT.replace("Drain,1,,12", "Drain,1,5,12"), replace(WIDE, pass_by_pass=True))
    assert [(stage.id, stage.text) for stage in by_pass.stages] == [
        *(("C1", "Pass 1 (Nm)"), ("D1", "Pass 1 (Nm)"), ("C2", "Final (Nm)"), ("D2", "Final (Nm)"))
    ]
    assert wrenches(read(WIDE_TEXT, WIDE)) == {
        WrenchAsked("large", "N·m"): ("Cover",),
        WrenchAsked("small", "N·m"): ("Drain",),
    }


def test_every_fault_of_a_table_at_once() -> None:
    """One in each row, with the cell that has it."""
    text = ROW + (
        "Cover;8;star;;1;27 N·m;15 %;\n"
        "Cover;9;star;;2;60;15 %;\n"
        "Drain;2;row;;1;90 lb;10 %;\n"
        ";2;row;;1;90;10 %;\n"
        "Plug;1;row;;1;;10 %;\n"
        "Plug;1;row;;2;1,200;10 %;\n"
        "Plug;1;row;;3;90;10;\n"
        "Plug;1;row;;4;90 / 122 N·m;;\n"
        "Plug;1;row;;5;90 / 132 N·m;;\n"
        "Nut;1;row;;1;81-99;10 %;\n"
        "Notes below the table;;;;;;;\n"
        "Total;12;;;;90;;\n"
    )
    assert faults(text) == [
        ("F2", "unit-clash"),
        ("B3", "group-differs"),
        ("F4", "unit-unknown"),
        ("A5", "group-empty"),
        ("F6", "torque-empty"),
        ("F7", "number-thousands"),
        ("G8", "tolerance-unit"),
        ("F9", "tolerance-missing"),
        ("F10", "units-disagree"),
        ("G11", "said-twice"),
        ("F12", "torque-empty"),
        ("F13", "tolerance-missing"),
    ]


def test_faults_of_the_sheet_have_their_cell() -> None:
    """What only the sheet can see: a tolerance wider than its target, a grade that is no text, a wrong order."""
    assert faults(ROW + "Cover;8;star;;1;27;30 ft·lb;\n") == [("F2", "tolerance-wide")]
    assert faults(ROW + "Cover;8;spiral;;1;27;15 %;\n") == [("C2", "choice-unknown")]
    assert faults(ROW + "Cover;4;1-3-2;;1;27;15 %;\n") == [("C2", "order-missing")]
    assert faults(ROW + "Cover;0;;;1;27;15 %;\n") == [("B2", "not-whole")]
    with pytest.raises(TableErrors) as caught:
        drafted(read(ROW + "Cover;8;;;1;27;15 %;\nDrain;;;;1;9;1 %;\n"), SAID)
    assert [(fault.path, fault.code) for fault in caught.value.faults] == [("A3", "sheet.key-missing")]


def test_units_come_from_one_place() -> None:
    """Header, cell, column of units, or the person's word; `lb` alone is refused in each with the nearest two."""
    plain = TableMap(
        (("group", "Joint"), ("positions", "Qty"), ("target", "Torque"), ("unit", "Unit")), tolerance="5 %"
    )
    rows = "Joint;Qty;Torque;Unit\nA;1;9;{}\n"
    assert limits(sheet(rows.format("in-lbs"), plain))[0][1] == "9 in·lb"
    assert faults(rows.format("lb"), plain) == [("D2", "unit-unknown"), ("C2", "unit-missing")]
    assert faults(rows.format(""), plain) == [("C2", "unit-missing")]
    assert limits(sheet(rows.format(""), replace(plain, unit="N·m")))[0][1] == "9 N·m"
    assert faults(rows.replace("9", "9 N·m").format("ft-lb"), plain) == [("C2", "unit-clash")]
    bad = TableMap((("group", "Joint"), ("positions", "Qty"), ("target", "Torque (lb)")), tolerance="5 %")
    assert ("C1", "unit-unknown") in faults("Joint;Qty;Torque (lb)\nA;1;9\n", bad)


def test_ends_in_columns_of_their_own() -> None:
    both = TableMap(
        (("group", "Joint"), ("positions", "Qty"), ("min", "Min (Nm)"), ("max", "Max (Nm)"), ("target", "Nm"))
    )
    made = sheet("Joint;Qty;Min (Nm);Nm;Max (Nm)\nA;1;81;90;99\n", replace(both, unit="N·m"))
    assert limits(made) == [("A1", "90 N·m", "81 99")]
    assert faults("Joint;Qty;Min (Nm);Nm;Max (Nm)\nA;1;81;110 Nm;99\n", both) == [("D2", "target-outside")]
    assert faults("Joint;Qty;Min (Nm);Nm;Max (Nm)\nA;1;81-99;90 Nm;\n", both) == [("C2", "unreadable")]


def test_a_blank_group_is_that_above_only_where_a_person_said_so() -> None:
    text = ROW + "Cover;8;star;;1;27;15 %;\n;;;;2;60;15 %;\n"
    assert faults(text) == [("A3", "group-empty")]
    assert [stage.group for stage in sheet(text, replace(MAP, group_from_above=True)).stages] == ["C", "C"]


def test_a_table_of_another_form() -> None:
    with pytest.raises(SpecError) as caught:
        read("a;b\nc;d\n")
    assert caught.value.code == "table.form-other"
    assert faults(ROW) == [("A1", "no-rows")]
    with pytest.raises(SpecError) as caught:
        read(ROW.replace("Notes", "Notes;tol") + "Cover;8;star;;1;27;15 %;;\n")
    assert (caught.value.code, caught.value.words[1:]) == ("table.header-twice", ("G1", "I1"))


def test_ids_are_given_once() -> None:
    """Initials; a second group of the same ones has a number, and its stages a dash."""
    made = sheet(ROW + "Cover studs;1;;;1;27;15 %;\ncasing screws;1;;;1;27;15 %;\n§;1;;;1;27;15 %;\n")
    assert [stage.id for stage in made.stages] == ["CS1", "CS2-1", "G1"]


def test_groups_that_share_initials_cost_no_more_than_their_number() -> None:
    """Lines that are run, counted: twice the groups, about twice the lines; pairs looked at would be four times."""

    def lines_run(count: int) -> int:
        table = read(ROW + "".join(f"Gland {chr(97 + n % 26)}{n};1;;;1;27;15 %;\n" for n in range(count)))
        counted = 0

        def trace(frame: FrameType, event: str, _: object) -> Any:
            nonlocal counted
            counted += event == "line" and "drafting" in frame.f_code.co_filename
            return trace

        before = sys.gettrace()
        sys.settrace(trace)
        try:
            draft, _ = drafted(table, SAID)
        finally:
            sys.settrace(before)
        assert len({name for name, _ in draft.groups}) == count
        return counted

    assert lines_run(400) < 2.5 * lines_run(200)


@pytest.mark.parametrize("text", ["8", "8x", "8 ×", "8 pcs", "8 pcs.", "8 off", "8 No.", "1–8", "1 to 8", "1-8"])
def test_a_count_of_positions(text: str) -> None:
    """Eight, however it is written."""
    assert positions_of(text) == 8


def test_names_of_positions() -> None:
    assert positions_of("A, B;C") == ("A", "B", "C")
    assert positions_of("1, 2") == ("1", "2")
    assert positions_of("P-1, P-2") == ("P-1", "P-2")


@pytest.mark.parametrize(
    "text",
    [
        "eight",
        "A1-A8",
        "2-8",
        "2 x 4",
        "3..8",
        "8.0",
        "8,0",
        "1,200",
        "A1",
        "M1 M2",
        "A,,B",
        "A, 2-4",
        "A1-A4, A9",
        "8 lb",
        "٨",
    ],
)
def test_what_is_neither_a_count_nor_names(text: str) -> None:
    """Each of them has been one position or several that nobody meant."""
    with pytest.raises(SpecError) as caught:
        positions_of(text)
    assert (caught.value.code, caught.value.words) == ("table.positions-unclear", (text,))
    assert faults(ROW + f"Cover;{text};;;1;27;15 %;\n") == [("B2", "positions-unclear")]


def test_faults_of_cells_and_of_the_sheet_together() -> None:
    """Counts that only the sheet refuses, an order of a group without a count, and a unit that no cell may have."""
    text = ROW + (
        "A;0;;;1;27;15 %;\nB;99999;;;1;27;15 %;\nC;eight;star;;1;27;15 %;\nD;4;;;1;30 lb;15 %;\nE;4;1-3-2;;1;27;1 %;\n"
    )
    assert faults(text) == [
        ("B2", "not-whole"),
        ("B3", "not-whole"),
        ("B4", "positions-unclear"),
        ("F5", "unit-unknown"),
        ("C6", "order-missing"),
    ]


def test_a_group_is_the_same_in_any_case() -> None:
    """One group with the name that comes first; what its rows say must agree."""
    made = sheet(ROW + "Cover;8;;;1;27;15 %;\ncover;;;;2;60;15 %;\nCOVER;8;;;3;90;15 %;\n")
    assert [(name, group.title, len(group.positions)) for name, group in made.groups.items()] == [("C", "Cover", 8)]
    assert [stage.id for stage in made.stages] == ["C1", "C2", "C3"]
    assert faults(ROW + "Cover;8;;;1;27;15 %;\ncover;4;;;2;60;15 %;\n") == [("B3", "group-differs")]


def test_a_mapping_is_kept_as_it_is() -> None:
    for table_map in (MAP, WIDE, replace(MAP, unit="N·m", worksheet='T "1"', group_from_above=True, pass_by_pass=True)):
        kept = parse_map(table_map.text())
        assert sorted(kept.columns) == sorted(table_map.columns)
        assert replace(kept, columns=()) == replace(table_map, columns=())


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("", ["sheet.key-missing", "sheet.key-missing"]),
        ("table = 2\n[columns]\ngroup = 'a'\ntarget = 'b'", ["table.map-format"]),
        ("table = 1\n[columns]\ngroup = 'a'", ["table.role-missing"]),
        ("table = 1\n[columns]\ngroup = 'a'\ntarget = 'A'", ["table.header-two-roles"]),
        ("table = 1\n[columns]\ngroup = 'a'\ntarget = 'b'\npass = ['c']", ["table.role-clash"]),
        ("table = 1\n[columns]\ngroup = 'a'\ntarget = 'b'\ncolour = 'c'", ["sheet.key-unknown"]),
        ("table = 1\n[columns]\ngroup = 'a'\ntarget = 'b'\n[missing]\nunit = 'lb'\ntolerance = '5'", None),
        ("table =", ["sheet.syntax"]),
    ],
)
def test_a_mapping_with_faults(text: str, codes: list[str] | None) -> None:
    with pytest.raises(SheetErrors) as caught:
        parse_map(text)
    found = [fault.code for fault in caught.value.faults]
    assert found == (codes or ["sheet.unit-unknown", "table.tolerance-unit"])


@pytest.mark.parametrize(
    ("header", "role", "unit"),
    [
        ("Joint", "group", None),
        ("Qty.", "positions", None),
        ("No. of bolts", "positions", None),
        ("Torque (ft-lb)", "target", "ft·lb"),
        ("Torque [N·m]", "target", "N·m"),
        ("Torque, Nm", "target", "N·m"),
        ("Torque (foot-pounds)", "target", "ft·lb"),
        ("Torque, Newton meters", "target", "N·m"),
        ("Torque in-lb", "target", "in·lb"),
        ("Min torque (ft lb)", "min", "ft·lb"),
        ("Pass 2 (Nm)", "pass", "N·m"),
        ("Target (final)", "target", None),
        ("Pass", "stage", None),
        ("Thread size", "thread", None),
        ("Colour", None, None),
    ],
)
def test_headers_are_guessed_for_a_person_to_confirm(header: str, role: str | None, unit: str | None) -> None:
    assert guess(header) == role
    assert header_unit(header) == unit


@pytest.mark.parametrize("header", ["Torque (lb)", "Torque [nm]", "Torque (ft)", "Torque (lbs)", "Torque (pounds)"])
def test_a_header_with_half_a_unit_is_refused(header: str) -> None:
    with pytest.raises(SpecError) as caught:
        header_unit(header)
    assert caught.value.code == "sheet.unit-unknown"


def test_the_header_row_is_guessed() -> None:
    assert guessed_header(grid("Pump;\n;\nJoint;Torque\nA;5\n")[0]) == 3
    assert guessed_header(grid("A;5\nB;6\n")[0]) is None


def test_a_mapping_lacks_nothing_else() -> None:
    assert lacks((("group", "a"), ("pass", "b"), ("pass", "c"))) == []
    assert {code for code, _ in lacks((("group", "a"), ("group", "b"), ("target", "c")))} == {"table.role-twice"}
    assert len(set(ROLES)) == len(ROLES)


COMMAS = TableMap((("group", "Joint"), ("positions", "Qty"), ("target", "Torque (Nm)"), ("tolerance", "Tol (%)")))


def test_a_row_that_a_decimal_comma_has_moved() -> None:
    """27,5 without quotes is 27 and a tolerance of 5; a blank cell at the end of a row moves nothing."""
    head = "Joint,Qty,Torque (Nm),Tol (%)\n"
    assert faults(f"{head}Cover,8,27,5,10\nFoot,4,30,5,10\n", COMMAS) == [("E2", "header-none"), ("E3", "header-none")]
    assert limits(sheet(f'{head}Cover,8,"27,5",10,\nFoot,4,30,5\n', COMMAS))[0][1] == "27.5 N·m"


@pytest.mark.parametrize(
    ("rows", "found"),
    [
        ("A;1;27,5;10\nB;1;1.500;10\n", [("C3", "number-thousands")]),
        ("A;1;27.5;10\nB;1;1,500;10\n", [("C3", "number-thousands")]),
        ("A;1;27;10\nB;1;1.500;10\n", [("C3", "number-thousands")]),
        ("A;1;27,5;2.5\nB;1;1.500;10\n", [("C3", "number-thousands")]),
        ("A;1;12;100\nB;1;12 Nm ±12;\n", [("C2", "reaches-nought"), ("C3", "reaches-nought")]),
    ],
)
def test_numbers_that_could_be_two_and_limits_at_nought(rows: str, found: list[tuple[str, str]]) -> None:
    """The signs of the other numbers count only where all of them are the same."""
    head = "Joint;Qty;Torque (Nm);Tol (%)\n"
    assert faults(head + rows, COMMAS) == found
    assert limits(sheet(head + "A;1;27,5;10\nB;1;1,500;10\n", COMMAS))[1][1] == "1.500 N·m"
    assert limits(sheet(head + "A;1;12 Nm ±11;\n", COMMAS))[0][2] == "1 23"
