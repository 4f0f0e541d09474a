"""Workbooks to cells: against workbooks made by openpyxl and by hand, and bombs that are refused before they go off."""

from datetime import date
from io import BytesIO
from pathlib import Path
from zipfile import ZIP_DEFLATED, ZipFile

import pytest
from defusedxml import DTDForbidden
from openpyxl import Workbook
from openpyxl.styles import Font

from bridge.cli import table_file
from bridge.cli.table_file import MOST_TAGS, MOST_UNPACKED, read_table, worksheets
from bridge.words import say
from specs.errors import SpecError, TableErrors
from specs.tables.cells import MOST_COLUMNS, MOST_ROWS, Cell
from specs.tables.columns import TableMap
from specs.tables.drafting import checked
from specs.tables.records import records


def saved(folder: Path, book: Workbook) -> Path:
    """The workbook in a file."""
    path = folder / "table.xlsx"
    book.save(path)
    return path


def texts(path: Path, worksheet: str | None = None) -> list[list[str]]:
    """The texts of a table."""
    return [[cell.text for cell in row] for row in read_table(path, worksheet).grid.rows]


def cells(path: Path) -> dict[str, Cell]:
    """Cells that are not blank, by their name."""
    return {cell.ref: cell for row in read_table(path).grid.rows for cell in row if cell.text or cell.trouble}


def refused(path: Path) -> str:
    """Code of the refusal, which can be said."""
    with pytest.raises(SpecError) as caught:
        read_table(path)
    assert say(caught.value.code, *caught.value.words).isprintable()
    return caught.value.code.removeprefix("table.")


def test_what_is_hidden_or_struck_through_is_refused_with_its_cell(tmp_path: Path) -> None:
    """A row, a column that is read, a cell; a hidden column that nothing is read from does no harm."""
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (("Joint", "Qty", "Nm", "Mine"), ("Cover", 8, 90, "x"), ("Foot", 4, 20, "y"), ("Lid", 4, 20, "z")):
        sheet.append(row)
    sheet.row_dimensions[3].hidden = True
    sheet.column_dimensions["C"].hidden = sheet.column_dimensions["D"].hidden = True
    sheet["C4"].font = Font(strike=True)
    table_map = TableMap((("group", "Joint"), ("positions", "Qty"), ("target", "Nm")), "N·m", "5 %")
    with pytest.raises(TableErrors) as caught:
        checked(records(read_table(saved(tmp_path, book)).grid, table_map))
    assert [(fault.path, fault.code.removeprefix("table."), fault.args) for fault in caught.value.faults] == [
        *(("C1", "column-hidden", ("C",)), ("A3", "row-hidden", ("3",)), ("C4", "cell-struck", ("20",)))
    ]
    assert all(say(fault.code, *fault.args) for fault in caught.value.faults)


def test_cells_are_as_a_person_sees_them(tmp_path: Path) -> None:
    """Numbers to fifteen digits, percent and words of their format beside them, texts with plain blanks."""
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for ref, value, form in (
        ("A1", "Cover\nstuds ", None),
        ("B1", 90, None),
        ("C1", 27.5, None),
        ("D1", 0.1 + 0.2, None),
        ("E1", 0.15, "0%"),
        ("F1", 66, '0" in·lb"'),
        ("G1", 9, '"±"0.0 "N·m";-0'),
        ("A3", True, None),
        ("B3", 1e-7, None),
        ("C3", "=1+1", None),
        ("D3", date(2026, 5, 8), None),
        ("E3", 0.625, "# ?/?"),
        ("F3", 12345, "0,"),
        ("G3", "#REF!", None),
    ):
        sheet[ref] = value
        if form is not None:
            sheet[ref].number_format = form
    found = cells(saved(tmp_path, book))
    assert {ref: cell.text for ref, cell in found.items() if cell.trouble is None} == {
        "A1": "Cover studs",
        "B1": "90",
        "C1": "27.5",
        "D1": "0.3",
        "E1": "15 %",
        "F1": "66 in·lb",
        "G1": "± 9 N·m",
        "A3": "yes",
        "B3": "0.0000001",
    }
    assert {ref: cell.trouble.code for ref, cell in found.items() if cell.trouble} == {
        "C3": "table.cell-uncounted",
        "D3": "table.cell-date",
        "E3": "table.cell-format",
        "F3": "table.cell-format",
        "G3": "table.cell-error",
    }
    assert all(say(cell.trouble.code, *cell.trouble.args) for cell in found.values() if cell.trouble)
    assert found["B1"].number
    assert not found["A1"].number


def test_a_merged_range_says_its_text_in_each_cell(tmp_path: Path) -> None:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for ref, value in (("A1", "Joint"), ("B1", "Nm"), ("A2", "Cover"), ("B2", 90), ("B4", 60), ("C4", "end")):
        sheet[ref] = value
    sheet.merge_cells("A2:A4")
    sheet.merge_cells("B2:B3")
    found = cells(saved(tmp_path, book))
    assert {ref: (cell.text, cell.merged_from) for ref, cell in found.items() if cell.row > 1} == {
        "A2": ("Cover", None),
        "A3": ("Cover", "A2"),
        "A4": ("Cover", "A2"),
        "B2": ("90", None),
        "B3": ("90", "B2"),
        "B4": ("60", None),
        "C4": ("end", None),
    }


def test_worksheets_by_name(tmp_path: Path) -> None:
    book = Workbook()
    assert book.active is not None
    book.active.title = "Torques"
    book.active["A1"] = "first"
    book.create_sheet("Notes")["A1"] = "second"
    path = saved(tmp_path, book)
    assert worksheets(path) == ("Torques", "Notes")
    assert (texts(path, "Torques"), texts(path, "Notes")) == ([["first"]], [["second"]])
    assert refused(path) == "worksheet-which"
    with pytest.raises(SpecError) as caught:
        read_table(path, "Sums")
    assert caught.value.words == ("Sums", "Torques, Notes")


def test_texts_are_no_workbooks(tmp_path: Path) -> None:
    path = tmp_path / "table.xlsx"  # the bytes decide, not the name
    path.write_text("a;b\nc;d\n", encoding="utf-8")
    assert texts(path) == [["a", "b"], ["c", "d"]]
    assert worksheets(path) == ()


# A workbook by hand: as little as one needs.
TYPES = (
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="xml" ContentType="application/xml"/>'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Override PartName="/xl/workbook.xml" '
    'ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>'
    '<Override PartName="/xl/s.xml" '
    'ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>'
)
MAIN = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
BOOK = f'<workbook {MAIN} xmlns:r="{OFFICE}"><sheets><sheet name="T" sheetId="1" r:id="r1"/></sheets></workbook>'
RELS = (
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    f'<Relationship Id="r1" Type="{OFFICE}/worksheet" Target="s.xml"/></Relationships>'
)


def by_hand(folder: Path, sheet: str, head: str = "", more: dict[str, bytes] | None = None) -> Path:
    """A workbook whose worksheet holds that XML."""
    path = folder / "table.xlsx"
    with ZipFile(path, "w", ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", TYPES)
        archive.writestr("xl/workbook.xml", BOOK)
        archive.writestr("xl/_rels/workbook.xml.rels", RELS)
        archive.writestr("xl/s.xml", f"{head}<worksheet {MAIN}>{sheet}</worksheet>")
        for name, data in (more or {}).items():
            archive.writestr(name, data)
    return path


def data(rows: str) -> str:
    """The rows of a worksheet."""
    return f"<sheetData>{rows}</sheetData>"


def test_a_workbook_by_hand(tmp_path: Path) -> None:
    """Rows and cells without names stand after one another; a formula with its value is that value."""
    rows = (
        '<row><c t="inlineStr"><is><t>Joint</t></is></c><c><v>90</v></c></row>'
        '<row r="3"><c r="B3"><f>A1*2</f><v>27.5</v></c><c><f>A1</f></c></row>'
    )
    found = cells(by_hand(tmp_path, data(rows)))
    assert {ref: cell.text for ref, cell in found.items()} == {"A1": "Joint", "B1": "90", "B3": "27.5", "C3": ""}
    assert found["C3"].trouble is not None


def test_content_decides_the_size_not_what_the_sheet_claims(tmp_path: Path) -> None:
    """A dimension of the whole sheet and styled blanks down to its end are no rows; a value there is."""
    claim = '<dimension ref="A1:XFD1048576"/>'
    last = '<row r="1048576"><c r="XFD1048576"{0}</row>'
    one = '<row r="1"><c r="A1"><v>1</v></c></row>'
    assert texts(by_hand(tmp_path, claim + data(one + last.format("/>")))) == [["1"]]
    assert refused(by_hand(tmp_path, claim + data(one + last.format("><v>1</v></c>")))) == "rows-many"
    wide = f'<row r="1"><c r="{"BM"}1"><v>1</v></c></row>'
    assert MOST_COLUMNS == 64  # BM is column 65
    assert refused(by_hand(tmp_path, data(wide))) == "columns-many"
    assert refused(by_hand(tmp_path, data(f'<row r="{MOST_ROWS + 1}"><c><v>1</v></c></row>'))) == "rows-many"
    assert len(texts(by_hand(tmp_path, data(f'<row r="{MOST_ROWS}"><c><v>1</v></c></row>')))) == MOST_ROWS


ENTITIES = (
    "<!DOCTYPE w ["
    '<!ENTITY a0 "aaaaaaaaaa">' + "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 12)) + "]>"
)
CELL = '<c t="inlineStr"><is><t>&a11;</t></is></c>'
MERGE = data('<row r="1"><c r="A1"><v>1</v></c></row>') + '<mergeCells><mergeCell ref="A1:XFD1048576"/></mergeCells>'


@pytest.mark.parametrize(
    ("sheet", "head", "more", "code"),
    [
        ("", "", {"xl/media/a.bin": b"\0" * (MOST_UNPACKED + 1)}, "workbook-large"),
        (data(f"<row>{CELL}</row>"), ENTITIES, None, "workbook-entities"),
        (data("<row><c/></row>" * MOST_TAGS), "", None, "workbook-tags"),
        (data("<row>" * 15_000 + "</row>" * 15_000), "", None, "workbook-deep"),
        (data('<row spans="/>">' * 9000 + "</row>" * 9000), "", None, "workbook-deep"),
        ("", "", {f"xl/{n}": b"" for n in range(1001)}, "workbook-parts"),
        (f'<sheetData x="{"a" * 20_001}"/>', "", None, "workbook-long"),
        (f"<!--{'a' * 20_001}-->{data('')}", "", None, "workbook-long"),
        (f"<?x {'a' * 20_001}?>{data('')}", "", None, "workbook-long"),
        ("", "", {"xl/sharedStrings.xml": b"<sst>" + b"<si/>" * MOST_TAGS}, "workbook-tags"),
    ],
)
def test_a_bomb_is_refused(
    tmp_path: Path, sheet: str, head: str, more: dict[str, bytes] | None, code: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By what its list and its tags say: nothing of it is parsed."""
    path = by_hand(tmp_path, sheet, head, more)
    parsed: list[object] = []
    monkeypatch.setattr("openpyxl.load_workbook", parsed.append)
    assert refused(path) == code
    assert parsed == []


def test_a_merged_range_of_the_whole_sheet_is_one_cell(tmp_path: Path) -> None:
    assert texts(by_hand(tmp_path, MERGE)) == [["1"]]


def test_merged_ranges_over_each_other_are_refused(tmp_path: Path) -> None:
    """Thousands of them over a whole sheet would be millions of cells; one over all of it is a merged title."""
    one = '<mergeCell ref="A1:B2"/>'
    rows = '<row r="1"><c r="A1"><v>1</v></c></row><row r="2"><c r="B2"><v>2</v></c></row>'
    assert texts(by_hand(tmp_path, f"{data(rows)}<mergeCells>{one}</mergeCells>")) == [["1", "1"], ["1", "1"]]
    assert refused(by_hand(tmp_path, f"{data(rows)}<mergeCells>{one}{one}</mergeCells>")) == "merged-overlap"


def test_tags_just_below_the_bounds_are_read(tmp_path: Path) -> None:
    """The control: as many and as deep as may be."""
    deep = "<x>" * 60 + "</x>" * 60
    rows = '<row r="1"><c r="A1"><v>1</v></c></row>' + "<row/>" * (MOST_TAGS - 200)
    assert texts(by_hand(tmp_path, f"{data(rows)}<extLst>{deep}</extLst>")) == [["1"]]


def test_a_doctype_in_another_encoding_is_seen(tmp_path: Path) -> None:
    text = f'<?xml version="1.0" encoding="UTF-16"?>{ENTITIES}<worksheet {MAIN}/>'
    path = by_hand(tmp_path, "", more={"xl/other.xml": text.encode("utf-16")})
    assert refused(path) == "workbook-entities"


def test_the_list_of_sizes_cannot_lie(tmp_path: Path) -> None:
    """A part that unpacks to more than its entry says is cut there and refused, not unpacked further."""
    path = by_hand(tmp_path, "", more={"xl/lie.bin": b"\0" * 2_000_000})
    raw = bytearray(path.read_bytes())
    size = (2_000_000).to_bytes(4, "little")
    assert raw.count(size) >= 1
    path.write_bytes(bytes(raw).replace(size, (10).to_bytes(4, "little")))
    assert refused(path) == "workbook-broken"


def test_entities_are_refused_by_the_parser_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second guard, with the first one off: openpyxl and our own look parse nothing that defines an entity."""
    path = by_hand(tmp_path, data(f"<row>{CELL}</row>"), ENTITIES)
    monkeypatch.setattr(table_file, "_check_archive", lambda data, name: None)
    assert refused(path) == "workbook-broken"


def test_our_own_look_parses_no_document_type(tmp_path: Path) -> None:
    """The third guard, alone: not even a document type that defines nothing."""
    path = by_hand(tmp_path, data("<row/>"), "<!DOCTYPE worksheet>")
    with pytest.raises(DTDForbidden):
        table_file._shape(path.read_bytes(), "xl/s.xml")


@pytest.mark.parametrize(
    ("data_", "code"),
    [
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 512, "workbook-old"),
        (b"PK\x03\x04" + b"\0" * 100, "workbook-broken"),
    ],
)
def test_what_is_no_workbook(tmp_path: Path, data_: bytes, code: str) -> None:
    path = tmp_path / "table.xlsx"
    path.write_bytes(data_)
    assert refused(path) == code


def test_an_archive_that_is_no_workbook(tmp_path: Path) -> None:
    path = tmp_path / "table.xlsx"
    with ZipFile(path, "w") as archive:
        archive.writestr("content.xml", "<a/>")
    assert refused(path) == "workbook-other"
    with ZipFile(path, "w") as archive:
        archive.writestr("xl/workbook.xml", "<a/>")
    assert refused(path) == "workbook-broken"


def test_damaged_workbooks_raise_only_ours(tmp_path: Path) -> None:
    """A byte changed at every hundredth place of a workbook: read or refused, never anything else."""
    book = Workbook()
    assert book.active is not None
    book.active.append(["Joint", "Torque", 90])
    stream = BytesIO()
    book.save(stream)
    whole = stream.getvalue()
    path = tmp_path / "table.xlsx"
    outcomes = set()
    for place in range(0, len(whole), 101):
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 0x55]) + whole[place + 1 :])
        try:
            read_table(path)
            outcomes.add("read")
        except SpecError as error:
            outcomes.add(error.code)
    assert "read" in outcomes
    assert "table.workbook-broken" in outcomes
