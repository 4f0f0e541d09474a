"""A capture through the whole pipeline: what is recorded, and that the same input gives the same trail."""

import json
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

from bridge.core.events import JobStarted, LinkSeen, ReadingTaken, Said, SheetStored
from bridge.core.job import Job
from bridge.errors import BadInput
from bridge.service import replaying
from bridge.trail.clock import SystemClock
from bridge.trail.reader import Reader
from bridge.trail.verify import verify
from bridge.trail.writer import Writer
from drivers.capture import Capture, parse_capture
from drivers.load import load_capture
from specs.expand import expand
from specs.load import load
from specs.model import Sheet


@pytest.fixture
def sheet(root: Path) -> Sheet:
    return load(root / "fixtures" / "sheets" / "interleaved.toml")


@pytest.fixture
def writer(tmp_path: Path) -> Iterator[Writer]:
    with Writer.open(tmp_path / "t.db", mode="work", program="0", clock=SystemClock()) as opened:
        yield opened


def captured(*entries: dict[str, object], **lanes: Mapping[str, object]) -> Capture:
    wrenches = lanes or {"W1": {"profile": "line-basic", "serial": "K4101"}}
    return parse_capture([json.dumps({"capture": 1, "wrenches": wrenches}), *map(json.dumps, entries)])


def pull(t: int, lane: str = "W1", value: str = "44.2") -> dict[str, object]:
    return {"t": t, "wrench": lane, "text": f"K4101,{t:06d},{value},ft.lb,CW\r\n"}


def test_same_input_same_head(sheet: Sheet, root: Path) -> None:
    heads = set()
    for _ in range(2):
        capture = load_capture(root / "fixtures" / "captures" / "jobs" / "wrong-scale.jsonl")
        heads.add(str(replaying.replay(sheet, capture, program="0").head))
    assert len(heads) == 1
    other = load_capture(root / "fixtures" / "captures" / "jobs" / "right-order.jsonl")
    assert str(replaying.replay(sheet, other, program="0").head) not in heads


def test_what_is_recorded(sheet: Sheet, writer: Writer) -> None:
    lost = {"t": 3, "wrench": "W1", "link": "lost"}
    said = {"t": 4, "person": "Orla Venn", "loosened": "A.1"}
    says = {"t": 5, "person": "says", "stray": True}
    done = replaying.replay(sheet, captured(pull(1), lost, said, says), program="0", writer=writer)
    assert done.head == writer.head
    writer.settle()
    with Reader.open(writer.path) as reader:
        events = [stored.event for stored in reader.events()]
    bodies = [event.body for event in events]
    assert [body.text for body in bodies if isinstance(body, SheetStored)] == [sheet.text]
    (started,) = (body for body in bodies if isinstance(body, JobStarted))
    assert (started.origin, started.people, started.bindings[0].serial) == ("replay", ("Orla Venn",), "K4101")
    (reading,) = (event for event in events if isinstance(event.body, ReadingTaken))
    assert (reading.wrench, reading.job) == ("K4101", done.job.id)
    assert [event.person for event in events if isinstance(event.body, Said)] == ["Orla Venn", None]
    assert [body.state for body in bodies if isinstance(body, LinkSeen)] == ["lost"]
    assert verify(writer.path).intact


def test_the_trail_folds_to_the_same_job(sheet: Sheet, writer: Writer, root: Path) -> None:
    """Live fold and later fold agree row by row, also over more than one commit's worth."""
    capture = captured(*(pull(20 * n + 20) for n in range(replaying.COMMIT + 10)))
    done = replaying.replay(sheet, capture, program="0", writer=writer)
    with Reader.open(writer.path) as reader:
        (first, *rest) = reader.events(job=done.job.id)
    assert isinstance(first.event.body, JobStarted)
    folded = Job(expand(sheet), done.job.id, first.event.body)
    for stored in rest:
        folded.fold(stored.seq, stored.event)
    assert folded.rows == done.job.rows
    assert folded.ledger.states == done.job.ledger.states


def test_two_jobs_of_one_trail_have_ids_of_their_own(sheet: Sheet, writer: Writer) -> None:
    first = replaying.replay(sheet, captured(pull(1)), program="0", writer=writer)
    assert replaying.replay(sheet, captured(pull(1)), program="0", writer=writer).job.id != first.job.id


def test_a_second_lane_in_one_role(sheet: Sheet) -> None:
    lanes = {
        "W1": {"profile": "line-basic", "serial": "K4101"},
        "second": {"profile": "line-basic", "serial": "K4101", "role": "W1"},
    }
    done = replaying.replay(sheet, captured(pull(10), pull(30, "second"), **lanes), program="0")
    assert [row.step for _, row in done.job.rows.values()] == ["A1/A.1", "A1/A.2"]
    assert done.job.bindings["second"].role == "W1"


def test_preparing_records_nothing(sheet: Sheet, writer: Writer) -> None:
    before = writer.head
    prepared = replaying.prepare(sheet, captured(pull(1)))
    assert writer.head == before
    replaying.record(prepared, writer)
    assert writer.head != before


def test_where_a_wrench_works_has_to_be_on_the_sheet(sheet: Sheet) -> None:
    lane = {"profile": "line-basic", "serial": "K4101", "on": ["UR"]}
    with pytest.raises(BadInput, match="no assembly of the sheet"):
        replaying.replay(sheet, captured(pull(1), W1=lane), program="0")
