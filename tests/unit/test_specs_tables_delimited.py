"""Bytes to cells: encodings and delimiters against Python's own, and what is refused by name."""

import csv
from io import StringIO

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.words import say
from specs.errors import SpecError
from specs.tables.cells import MOST_COLUMNS, MOST_ROWS, letters
from specs.tables.delimited import DELIMITERS, decode, grid

TEXT = "Joint;Torque\nCover – studs;27,5 N·m\n"


def refused(data: bytes) -> tuple[str, tuple[str, ...]]:
    """Code and words of the refusal, which can be said."""
    with pytest.raises(SpecError) as caught:
        grid(decode(data)[0])
    assert say(caught.value.code, *caught.value.words)
    return caught.value.code.removeprefix("table."), caught.value.words


@pytest.mark.parametrize(
    ("codec", "name"),
    [("utf-8", "UTF-8"), ("utf-8-sig", "UTF-8"), ("utf-16", "UTF-16"), ("cp1252", "Windows-1252")],
)
def test_encodings(codec: str, name: str) -> None:
    """Each gives the same text, with its name."""
    text, found = decode(TEXT.encode(codec))
    assert (text.removeprefix("\ufeff"), found) == (TEXT, name)
    assert decode(b"\xfe\xff" + TEXT.encode("utf-16-be")) == (TEXT, "UTF-16")


def test_encodings_that_are_refused_by_name() -> None:
    assert refused(TEXT.encode("utf-16-le")) == ("encoding-nul", ())
    assert refused(TEXT.encode("utf-32")) == ("encoding-unknown", ("UTF-32",))
    assert refused(b"\xef\xbb\xbfa;b\n\xff;c\n") == ("encoding-broken", ("UTF-8", "8"))
    assert refused(b"\xff\xfea") == ("encoding-broken", ("UTF-16", "3"))
    assert refused(b"a;b\n\x81;c\n") == ("encoding-none", ("5",))


def test_text_saved_in_two_encodings_is_refused_at_its_cell() -> None:
    """`·` and `–` of UTF-8 read as Windows-1252 and saved as UTF-8; a word with its own sign is none."""
    table, _ = grid(decode(TEXT.encode().decode("cp1252").encode())[0])
    assert [cell.ref for row in table.rows for cell in row if cell.trouble] == ["A2", "B2"]
    table, _ = grid("Château;Âge\nÃlvaro;câble\n")
    assert not any(cell.trouble for row in table.rows for cell in row)


fields = st.text(st.characters(exclude_categories=["C", "Z"]) | st.sampled_from(' ";,\n'), max_size=8)


@given(st.lists(st.lists(fields, min_size=3, max_size=3), min_size=2, max_size=6), st.sampled_from(DELIMITERS))
def test_rows_are_those_of_the_csv_module(rows: list[list[str]], delimiter: str) -> None:
    """Written by Python's own writer under a line that settles the delimiter."""
    out = StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="\r\n").writerows(rows)
    if not any(text.strip() for row in rows for text in row):
        return
    table, found = grid(f"sep={delimiter}\r\n{out.getvalue()}")
    assert found == delimiter
    shown = [[" ".join(text.split()) for text in row] for row in rows]
    while not any(shown[-1]):
        shown.pop()
    assert [[cell.text for cell in row] for row in table.rows[1:]] == shown


@pytest.mark.parametrize("delimiter", DELIMITERS)
def test_the_delimiter_is_found(delimiter: str) -> None:
    """Decimal commas and commas in notes do not mislead."""
    rows = [["Joint", "Torque", "Note"], ["Cover", "27,5", "slowly, evenly"], ["Drain", "8", "new seal"]]
    out = StringIO()
    csv.writer(out, delimiter=delimiter).writerows(rows)
    table, found = grid(out.getvalue())
    assert found == delimiter
    assert [[cell.text for cell in row] for row in table.rows] == rows


def test_what_is_no_table() -> None:
    assert refused(b"one column\nonly\n") == ("delimiter-none", ())
    assert refused(b"a;b,c\nd;e,f\n") == ("delimiter-unsure", (";", ","))
    assert refused(b'a;"b\n') == ("quotes-open", ())
    assert refused(b"sep=;\n") == ("empty", ())
    assert refused(b"a;b\n" * (MOST_ROWS + 1)) == ("rows-many", (str(MOST_ROWS),))
    assert refused(b";".join([b"a"] * (MOST_COLUMNS + 1))) == (
        "columns-many",
        (str(MOST_COLUMNS + 1), str(MOST_COLUMNS)),
    )
    assert len(grid("a;b\n" * MOST_ROWS)[0].rows) == MOST_ROWS


def test_a_long_cell_is_refused_at_its_place() -> None:
    table, _ = grid("a;b\nc;" + "d" * 2001 + "\n")
    assert [cell.ref for row in table.rows for cell in row if cell.trouble] == ["B2"]


def test_columns_are_named_as_in_a_spreadsheet() -> None:
    assert [letters(column) for column in (1, 26, 27, 52, 53, 702, 703)] == ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]


@given(st.binary(max_size=60))
def test_any_bytes_raise_only_ours(data: bytes) -> None:
    said: tuple[str, tuple[str, ...]] = ("read", ())
    try:
        grid(decode(data)[0])
    except SpecError as error:
        said = (error.code, error.words)
    assert said[0] == "read" or say(said[0], *said[1])
