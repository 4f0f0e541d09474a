"""The capture file is read strictly and written so that it reads back the same."""

import json
from contextlib import suppress
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.capture import (
    WORDS,
    Bytes,
    Capture,
    CaptureWrench,
    Entry,
    LinkEntry,
    MemoryEntry,
    PersonEntry,
    encode_capture,
    encode_entry,
    parse_capture,
)
from drivers.errors import CaptureError
from drivers.reading import LinkState

HEADER = '{"capture": 1, "wrenches": {"W1": {"profile": "line-basic", "serial": "A1023"}}, "note": "n"}'
T = Decimal("12.345")


def entries(*lines: str) -> list[Entry]:
    return list(parse_capture([HEADER, *lines]).entries)


def entry(line: str) -> Entry:
    (found,) = entries(line)
    return found


def refused(*lines: str) -> CaptureError:
    with pytest.raises(CaptureError) as caught:
        list(parse_capture(lines).entries)
    assert caught.value.words[0] == str(caught.value.line)
    return caught.value


def test_the_header_names_the_lanes() -> None:
    header = json.loads(HEADER)
    header["wrenches"]["W1b"] = {"profile": "line-basic", "serial": "A1024", "role": "W1"}
    capture = parse_capture([json.dumps(header)])
    assert capture.note == "n"
    assert dict(capture.wrenches) == {
        "W1": CaptureWrench("line-basic", "A1023"),
        "W1b": CaptureWrench("line-basic", "A1024", "W1"),
    }
    header["wrenches"]["W1b"]["on"] = ["UR", "DR"]
    assert parse_capture([json.dumps(header)]).wrenches["W1b"].on == ("UR", "DR")
    assert list(capture.entries) == []


@pytest.mark.parametrize("on", ["UR", [], [3], [""], None])
def test_where_a_wrench_works_is_a_list_of_texts(on: object) -> None:
    header = json.loads(HEADER)
    header["wrenches"]["W1"]["on"] = on
    assert refused(json.dumps(header)).words[-1] == "a list with at least one text"


def test_the_note_may_be_left_off() -> None:
    assert parse_capture([HEADER.replace(', "note": "n"', "")]).note == ""


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ('{"t": 12.345, "wrench": "W1", "text": "12.5\\r\\n"}', Bytes(T, "W1", b"12.5\r\n")),
        ('{"t": 12.345, "wrench": "W1", "text": "N·m"}', Bytes(T, "W1", b"N\xc2\xb7m")),
        ('{"t": 12.345, "wrench": "W1", "hex": "00fFa0"}', Bytes(T, "W1", b"\x00\xff\xa0")),
        ('{"t": 12.345, "wrench": "W1", "link": "lost"}', LinkEntry(T, "W1", LinkState.LOST)),
        ('{"t": 12.345, "wrench": "W1", "link": "up"}', LinkEntry(T, "W1", LinkState.UP)),
        (
            '{"t": 12.345, "wrench": "W1", "memory": "begin", "newest_first": true}',
            MemoryEntry(T, "W1", "begin", newest_first=True),
        ),
        ('{"t": 12.345, "wrench": "W1", "memory": "end"}', MemoryEntry(T, "W1", "end")),
        ('{"t": 12.345, "person": "says", "step": "C2/C.6"}', PersonEntry(T, "step", "C2/C.6")),
        ('{"t": 12.345, "person": "says", "stray": true}', PersonEntry(T, "stray")),
        ('{"t": 12.345, "person": "says", "stray": "C2/C.6"}', PersonEntry(T, "stray", "C2/C.6")),
        ('{"t": 12.345, "person": "says", "redo": true}', PersonEntry(T, "redo")),
        ('{"t": 12.345, "person": "says", "redo": "C2/C.6"}', PersonEntry(T, "redo", "C2/C.6")),
        ('{"t": 12.345, "person": "says", "loosened": "C.5"}', PersonEntry(T, "loosened", "C.5")),
        ('{"t": 12.345, "person": "says", "replaced": "C.5"}', PersonEntry(T, "replaced", "C.5")),
        ('{"t": 12.345, "person": "says", "moved": "C.5"}', PersonEntry(T, "moved", "C.5")),
        ('{"t": 12.345, "person": "says", "still": "C.5"}', PersonEntry(T, "still", "C.5")),
        (
            '{"t": 12.345, "person": "Orla Venn", "done": "L1/C.5"}',
            PersonEntry(T, "done", "L1/C.5", person="Orla Venn"),
        ),
        ('{"t": 12.345, "person": "says", "value": "0.18 mm", "step": "R1"}', PersonEntry(T, "value", "R1", "0.18 mm")),
        ('{"t": 12.345, "person": "says", "dropped": "W1"}', PersonEntry(T, "dropped", "W1")),
        (
            '{"t": 12.345, "person": "says", "display": "ft·lb", "wrench": "W1"}',
            PersonEntry(T, "display", "ft·lb", lane="W1"),
        ),
        (
            '{"t": 12.345, "person": "says", "step": "C2/C.6", "wrench": "W1"}',
            PersonEntry(T, "step", "C2/C.6", lane="W1"),
        ),
    ],
)
def test_each_kind_of_entry_is_read_and_written_back(line: str, expected: Entry) -> None:
    assert entry(line) == expected
    assert entry(encode_entry(expected)) == expected


ENTRY_WRONG = [
    ("", None),
    ("[1]", "link.capture-json"),
    ("12", "link.capture-json"),
    ("{", "link.capture-json"),
    ('{"t": 1, "wrench": "W1", "text": "a"} x', "link.capture-json"),
    ("[" * 50_000, "link.capture-json"),
    ('{"t": 1e9999999999999999999, "wrench": "W1", "text": "a"}', "link.capture-json"),
    ('{"t": NaN, "wrench": "W1", "text": "a"}', "link.capture-constant"),
    ('{"t": Infinity, "wrench": "W1", "text": "a"}', "link.capture-constant"),
    ('{"t": 1, "t": 1, "wrench": "W1", "text": "a"}', "link.capture-twice"),
    ('{"t": 1, "wrench": "W1", "text": "a", "extra": 1}', "link.capture-key"),
    ('{"wrench": "W1", "text": "a"}', "link.capture-missing"),
    ('{"t": 1, "text": "a"}', "link.capture-missing"),
    ('{"t": true, "wrench": "W1", "text": "a"}', "link.capture-value"),
    ('{"t": "1", "wrench": "W1", "text": "a"}', "link.capture-value"),
    ('{"t": -1, "wrench": "W1", "text": "a"}', "link.capture-value"),
    ('{"t": 1e12, "wrench": "W1", "text": "a"}', "link.capture-value"),
    ('{"t": 1e999, "wrench": "W1", "text": "a"}', "link.capture-value"),
    ('{"t": 0.0000000001, "wrench": "W1", "text": "a"}', "link.capture-value"),
    ('{"t": 1e-999999, "wrench": "W1", "text": "a"}', "link.capture-value"),
    ('{"t": 1, "wrench": "W9", "text": "a"}', "link.capture-value"),
    ('{"t": 1, "wrench": 1, "text": "a"}', "link.capture-value"),
    ('{"t": 1, "wrench": "W1", "text": 5}', "link.capture-value"),
    ('{"t": 1, "wrench": "W1", "text": "\\ud800"}', "link.capture-value"),
    ('{"t": 1, "wrench": "W1", "hex": "0"}', "link.capture-value"),
    ('{"t": 1, "wrench": "W1", "hex": "0g"}', "link.capture-value"),
    ('{"t": 1, "wrench": "W1", "hex": "00 01"}', "link.capture-value"),
    ('{"t": 1, "wrench": "W1", "hex": "００"}', "link.capture-value"),
    ('{"t": 1, "wrench": "W1", "link": "down"}', "link.capture-value"),
    ('{"t": 1, "wrench": "W1", "link": ["up"]}', "link.capture-value"),
    ('{"t": 1, "wrench": "W1", "memory": "middle"}', "link.capture-value"),
    ('{"t": 1, "wrench": "W1", "memory": "begin", "newest_first": 1}', "link.capture-value"),
    ('{"t": 1, "wrench": "W1", "link": "up", "newest_first": true}', "link.capture-key"),
    ('{"t": 1, "wrench": "W1"}', "link.capture-one-of"),
    ('{"t": 1, "wrench": "W1", "text": "a", "hex": "00"}', "link.capture-one-of"),
    ('{"t": 1, "person": "says"}', "link.capture-one-of"),
    ('{"t": 1, "person": "says", "shouted": "C.5"}', "link.capture-one-of"),
    ('{"t": 1, "person": "says", "moved": "C.5", "still": "C.5"}', "link.capture-one-of"),
    ('{"t": 1, "person": "says", "value": "0.18 mm"}', "link.capture-one-of"),
    ('{"t": 1, "person": "says", "value": "0.18 mm", "step": "R1", "done": "R1"}', "link.capture-one-of"),
    ('{"t": 1, "person": "says", "display": "N.m"}', "link.capture-missing"),
    ('{"t": 1, "person": "says", "display": "N.m", "wrench": "W9"}', "link.capture-value"),
    ('{"t": 1, "person": "says", "dropped": "W9"}', "link.capture-value"),
    ('{"t": 1, "person": "says", "dropped": "W1", "wrench": "W1"}', "link.capture-key"),
    ('{"t": 1, "person": "says", "stray": false}', "link.capture-value"),
    ('{"t": 1, "person": "says", "moved": true}', "link.capture-value"),
    ('{"t": 1, "person": "says", "moved": ""}', "link.capture-value"),
    ('{"t": 1, "person": "", "moved": "C.5"}', "link.capture-value"),
    ('{"t": 1, "person": "says", "moved": "C.5", "text": "a"}', "link.capture-key"),
]


@pytest.mark.parametrize(("line", "code"), ENTRY_WRONG)
def test_a_wrong_entry_is_refused_with_its_line(line: str, code: str | None) -> None:
    if code is None:
        assert entries(line) == []
        return
    error = refused(HEADER, '{"t": 1, "wrench": "W1", "text": "a"}', line)
    assert (error.line, error.code) == (3, code)


HEADER_WRONG = [
    ("{}", "link.capture-no-header"),
    ('{"t": 1, "wrench": "W1", "text": "a"}', "link.capture-no-header"),
    ('{"capture": 2, "wrenches": {}}', "link.capture-value"),
    ('{"capture": true, "wrenches": {}}', "link.capture-value"),
    ('{"capture": 1}', "link.capture-missing"),
    ('{"capture": 1, "wrenches": {}}', "link.capture-value"),
    ('{"capture": 1, "wrenches": []}', "link.capture-value"),
    ('{"capture": 1, "wrenches": {"W1": "line-basic"}}', "link.capture-value"),
    ('{"capture": 1, "wrenches": {"W1": {"serial": "A1"}}}', "link.capture-missing"),
    ('{"capture": 1, "wrenches": {"W1": {"profile": "line-basic"}}}', "link.capture-missing"),
    ('{"capture": 1, "wrenches": {" ": {"profile": "line-basic", "serial": "A1"}}}', "link.capture-value"),
    ('{"capture": 1, "wrenches": {"W1": {"profile": "p", "serial": "A1", "colour": "red"}}}', "link.capture-key"),
    ('{"capture": 1, "wrenches": {"W1": {"profile": "p", "serial": "A1"}}, "by": "me"}', "link.capture-key"),
    ('{"capture": 1, "wrenches": {"W1": {"profile": "p", "serial": "A1"}}, "note": 7}', "link.capture-value"),
    (
        '{"capture": 1, "wrenches": {"W1": {"profile": "p", "serial": "A1"}, "W1": {"profile": "p", "serial": "A1"}}}',
        "link.capture-twice",
    ),
]


@pytest.mark.parametrize(("line", "code"), HEADER_WRONG)
def test_a_wrong_header_is_refused_before_any_entry(line: str, code: str) -> None:
    with pytest.raises(CaptureError) as caught:
        parse_capture([line])
    assert (caught.value.line, caught.value.code) == (1, code)


@pytest.mark.parametrize("lines", [[], [""], ["", "  ", "\n"]])
def test_an_empty_capture_is_refused(lines: list[str]) -> None:
    assert refused(*lines).code == "link.capture-empty"


def test_time_may_stand_still_but_not_run_back() -> None:
    line = '{"t": %s, "wrench": "W1", "text": "a"}'
    assert len(entries(line % "1", line % "1.0", line % "1.000000001")) == 3
    error = refused(HEADER, line % "1.5", line % "1.499999999")
    assert (error.line, error.code) == (3, "link.capture-backwards")


def test_time_is_exact() -> None:
    found = entry('{"t": 0.1234567890e1, "wrench": "W1", "text": "a"}')
    assert str(found.t) == "1.234567890"
    assert str(entry('{"t": 1e3, "wrench": "W1", "text": "a"}').t) == "1000"
    assert str(entry('{"t": 0.1, "wrench": "W1", "text": "a"}').t) == "0.1"  # no float: 0.1000000000000000055…


def test_lines_and_files_are_capped() -> None:
    long = '{"t": 1, "wrench": "W1", "text": "%s"}' % ("a" * 1_048_576)
    assert refused(HEADER, long).code == "link.capture-line-long"
    line = '{"t": 1, "wrench": "W1", "text": "%s"}' % ("a" * 60_000)
    error = refused(HEADER, *[line] * 1_200)
    assert error.code == "link.capture-long"
    assert error.line > 1_100


def test_entries_are_read_as_they_are_asked_for() -> None:
    capture = parse_capture([HEADER, '{"t": 1, "wrench": "W1", "link": "up"}', "broken"])
    assert next(capture.entries) == LinkEntry(Decimal(1), "W1", LinkState.UP)
    with pytest.raises(CaptureError):
        next(capture.entries)


TEXTS = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=12)
LANES = st.sampled_from(["W1", "W2"])
TIMES = st.decimals(0, 10**9, places=6)
PEOPLE = st.builds(
    lambda t, word, about, person: PersonEntry(t, word, about, person=person),
    TIMES,
    st.sampled_from([word for word in WORDS if word not in {"value", "dropped", "display"}]),
    TEXTS,
    TEXTS,
)
ENTRIES = st.one_of(
    st.builds(Bytes, TIMES, LANES, st.binary(max_size=40)),
    st.builds(Bytes, TIMES, LANES, st.just(b"A1,1,5,N.m,CW\r\n")),
    st.builds(LinkEntry, TIMES, LANES, st.sampled_from(list(LinkState))),
    st.builds(MemoryEntry, TIMES, LANES, st.sampled_from(["begin", "end"]), st.booleans()),
    PEOPLE,
    st.builds(lambda t, about, value: PersonEntry(t, "value", about, value), TIMES, TEXTS, TEXTS),
    st.builds(lambda t, lane: PersonEntry(t, "dropped", lane), TIMES, LANES),
    st.builds(lambda t, about, lane: PersonEntry(t, "display", about, lane=lane), TIMES, TEXTS, LANES),
)


@given(items=st.lists(ENTRIES, max_size=8), note=st.text(st.characters(exclude_categories=["Cs"]), max_size=20))
def test_what_is_written_reads_back_the_same(items: list[Entry], note: str) -> None:
    items.sort(key=lambda item: item.t)
    wrenches = {"W1": CaptureWrench("line-basic", "A1"), "W2": CaptureWrench("line-basic", "B2", "W1", ("UR",))}
    lines = list(encode_capture(Capture(wrenches, note, iter(items))))
    assert not any("\n" in line for line in lines)
    back = parse_capture(lines)
    assert (dict(back.wrenches), back.note, list(back.entries)) == (wrenches, note, items)


@given(line=st.text(max_size=60))
def test_no_line_gives_another_error(line: str) -> None:
    for lines in ([line], [HEADER, line], [HEADER, '{"t": 1, "wrench": "W1", ' + line]):
        with suppress(CaptureError):
            assert len(list(parse_capture(lines).entries)) <= 1
