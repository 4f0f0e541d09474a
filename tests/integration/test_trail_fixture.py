"""A trail of every released schema lies in `fixtures/trails/` and is read and checked for ever.

Schema 1 was made by `make_story` below; its program version and its SQLite are those of the day.
"""

import shutil
from decimal import Decimal
from itertools import count
from pathlib import Path

import pytest

from bridge.core.events import KIND_OF as KINDS
from bridge.core.events import (
    Assigned,
    Binding,
    BytesRejected,
    CertificatePoint,
    ClockJumped,
    Disposed,
    Event,
    JobResumed,
    JobSigned,
    JobStarted,
    LinkSeen,
    MemoryMarked,
    Overridden,
    PersonAdded,
    ReadingTaken,
    Reason,
    Said,
    SheetStored,
    StorageFaulted,
    Tick,
    TrailOpened,
    WrenchAdded,
    WrenchChecked,
    WrenchQuarantined,
)
from bridge.core.events_links import LinkHealth, WrenchProven
from bridge.core.events_sheet import SheetRevised
from bridge.trail.chain import Head
from bridge.trail.reader import Reader
from bridge.trail.verify import verify
from bridge.trail.writer import Writer

TRAILS = Path(__file__).parents[2] / "fixtures" / "trails"
SCHEMA_1 = TRAILS / "schema-1.trail"
LATER = {LinkHealth, SheetRevised, WrenchProven}  # kinds that came after schema 1
HEAD_1 = Head.parse((TRAILS / "schema-1.head").read_text(encoding="ascii").strip())


class Steady:
    """A second goes by each time it is asked for the wall time."""

    second = 0

    def utc(self) -> str:
        self.second += 1
        return f"2031-05-06T07:{self.second // 60:02d}:{self.second % 60:02d}.000000Z"

    def mono(self) -> str:
        return f"{1000 + self.second}.5"

    def boot(self) -> str:
        return "7f1a9f0e-0000-4000-8000-000000000001"


def story() -> list[list[Event]]:
    """One event of every kind but the first, in the batches in which they are recorded."""
    bound = Binding("W1", "W1", "A1023", "line-basic", "capture", "ft·lb", "C-77", "2031-12-31")
    because = (Reason("core.order", ("C1/C.1", "27 ft·lb")),)
    whole = {"person": "Orla Venn", "job": "skerrivane-p2-1"}
    pulled = {**whole, "wrench": "A1023"}

    def at(second: str) -> Decimal:
        return Decimal(second)

    def taken(n: int, t: str, value: str) -> Event:
        raw = f"A1023,{n:06d},{value},ft.lb,CW\r\n".encode("ascii").hex()
        return Event(ReadingTaken(n, "W1", at(t), raw, value, "ft.lb", counter=n, direction="CW"), **pulled)

    def given(n: int, step: str, verdict: str, newton_metres: str, replaces: int | None = None) -> Event:
        words = ("due", step, "order", verdict, "0.98", None, because, "ft·lb", newton_metres)
        return Event(Assigned(n, n, *words, replaces=replaces), **pulled)

    points = (CertificatePoint("20 ft·lb", "2.0"), CertificatePoint("150 ft·lb", "1.5"))
    wrench = WrenchAdded(
        "A1023", "large wrench", "ft·lb", "15 ft·lb", "150 ft·lb", "line-basic", "C-77", None, None, points
    )
    return [
        [Event(PersonAdded("Orla Venn", ("fitter",))), Event(PersonAdded("Piet Karsholm", ("fitter", "authority")))],
        [Event(wrench), Event(SheetStored("ab" * 32, "skerrivane-p2", "3", 'sheet = 1\nid = "skerrivane-p2"\n'))],
        [Event(JobStarted("ab" * 32, "Pump P-2", ("Orla Venn",), (bound,), "live", at("10.000")), **whole)],
        [Event(LinkSeen("W1", at("10.250"), "up", Reason("link.up")), **whole)],
        [taken(1, "12.5", "27.1"), given(1, "C1/C.1", "within", "36.7426")],
        [taken(2, "15.5", "34.0"), given(2, "C1/C.5", "over", "46.0978")],
        [Event(BytesRejected(3, "W1", at("16"), "ff00", Reason("wire.no-number", ("«ÿ\x00»",))), **whole)],
        [Event(Said(at("17"), "dropped", "W1", reason="fell off the plate"), **whole)],
        [Event(WrenchQuarantined("A1023", Reason("wrench.dropped"))), Event(WrenchChecked("A1023", "20 ft·lb: 20.1"))],
        [
            Event(
                Disposed(at("20"), "C1/C.5", "loosen and redo", "Piet Karsholm", "over by 10 %"),
                "Piet Karsholm",
                None,
                whole["job"],
            )
        ],
        [Event(Overridden(at("21"), "wait", "W", "tide"), **whole), Event(Tick(at("22")), **whole)],
        [
            Event(MemoryMarked("W1", at("23"), "begin", True), **whole),
            Event(MemoryMarked("W1", at("24"), "end"), **whole),
        ],
        [given(2, "C1/C.5", "unproven", "46.0978", replaces=11)],
        [Event(ClockJumped(-3600)), Event(StorageFaulted(Reason("trail.full", ("bench.trail", "8")), 4))],
        [Event(JobResumed(at("30"), (bound,), 660), **whole)],
        [Event(JobSigned(at("31"), "fitter", "left for the night"), **whole)],
    ]


def make_story(path: Path) -> Head:
    numbers = count(1)
    ids = (f"00000000-0000-4000-8000-{number:012d}" for number in numbers)
    with Writer.open(path, mode="work", program="0.1.0", clock=Steady(), ids=ids.__next__) as writer:
        for events in story():
            writer.append(events)
        return writer.head


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    return Path(shutil.copy(SCHEMA_1, tmp_path / "bench.trail"))


def test_schema_1_is_intact_and_ends_in_the_head_kept_beside_it(kept: Path) -> None:
    report = verify(kept, known=[HEAD_1])
    assert report.intact, report
    assert report.head == HEAD_1


def test_schema_1_holds_the_story(kept: Path) -> None:
    with Reader.open(kept) as reader:
        events = [each.event for each in reader.events()]
        (job,) = reader.jobs()
        assert reader.mode() == "work"
        assert reader.connection.execute("SELECT n, verdict FROM reading_row").fetchall() == [
            (1, "within"),
            (2, "unproven"),
        ]
    assert isinstance(events[0].body, TrailOpened)
    assert events[1:] == [event for batch in story() for event in batch]
    assert {type(event.body) for event in events} == set(KINDS) - LATER
    assert (job.asset, job.signed) == ("Pump P-2", len(events))


def test_schema_1_is_written_on(kept: Path) -> None:
    with Writer.open(kept, mode="work", program="9", clock=Steady()) as writer:
        writer.append([Event(Tick(Decimal(1)))])
        assert writer.size == HEAD_1.size + 1
    assert verify(kept, known=[HEAD_1]).intact


def test_the_same_story_gives_the_same_records_today(kept: Path, tmp_path: Path) -> None:
    make_story(tmp_path / "new.trail")
    with Reader.open(kept) as old, Reader.open(tmp_path / "new.trail") as new:
        assert list(old.records(after=1)) == list(new.records(after=1))
