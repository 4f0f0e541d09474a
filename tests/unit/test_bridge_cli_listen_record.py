"""The capture file of one port: readable again after each line, never written over, never short in silence."""

from decimal import Decimal
from pathlib import Path
from typing import TextIO

import pytest

from bridge.cli import listen_record
from bridge.cli.listen_hearing import LinkTold, Read, Silence
from bridge.cli.listen_record import Record
from bridge.errors import BadInput
from drivers.capture import Bytes, LinkEntry
from drivers.load import load_capture
from drivers.reading import LinkChange, LinkState, Rejected
from drivers.stretches import Ended, Stretch

UP = LinkTold(Decimal("0.001"), LinkChange(LinkState.UP))
LINE = Stretch(Decimal("1.5"), b"A1,1,20.1,ft.lb,CW\r\n", Ended.LINE)
NOISE = Stretch(Decimal("2.25"), bytes(range(256)), Ended.QUIET)


def test_what_is_kept_can_be_read_after_each_line(tmp_path: Path) -> None:
    path = tmp_path / "heard.jsonl"
    record = Record(path, "line-basic", "A1", "a note")
    assert not path.exists()  # nothing came yet: no file is left behind by a port that cannot be opened
    wanted: list[object] = []
    for told, entry in (
        (UP, LinkEntry(UP.t, "W1", LinkState.UP)),
        (LINE, Bytes(LINE.t, "W1", LINE.data)),
        (NOISE, Bytes(NOISE.t, "W1", NOISE.data)),
    ):
        record.keep(told)
        wanted.append(entry)
        found = load_capture(path)  # while it is still open: handed over line by line
        assert (found.wrenches["W1"].profile, found.wrenches["W1"].serial, found.note) == ("line-basic", "A1", "a note")
        assert list(found.entries) == wanted
    record.keep(Silence(Decimal(20), Decimal(10), None))
    record.keep(Read(Decimal(20), Rejected(b"x", "link.field-empty", ("unit",))))
    record.close()
    record.close()
    assert record.made
    assert list(load_capture(path).entries) == wanted


@pytest.mark.parametrize("what", ["file", "folder", "dangling link"])
def test_nothing_is_written_over(what: str, tmp_path: Path) -> None:
    path = tmp_path / "heard.jsonl"
    if what == "file":
        path.write_text("precious", encoding="utf-8")
    elif what == "folder":
        path.mkdir()
    else:
        path.symlink_to(tmp_path / "nowhere")
    with pytest.raises(BadInput, match="not written over"):
        Record(path, None, None, "")


def test_a_file_that_came_meanwhile_is_not_written_over(tmp_path: Path) -> None:
    path = tmp_path / "heard.jsonl"
    record = Record(path, None, None, "")
    path.write_text("precious", encoding="utf-8")
    with pytest.raises(BadInput, match="not written over"):
        record.keep(LINE)
    record.close()
    assert path.read_text(encoding="utf-8") == "precious"


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="could not be written"):
        Record(tmp_path / "nowhere" / "heard.jsonl", None, None, "").keep(LINE)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system has no device that is always full")
def test_a_full_disk_is_told(tmp_path: Path) -> None:
    class Full(Record):
        def _make(self) -> TextIO:
            return Path("/dev/full").open("w", encoding="utf-8")

    record = Full(tmp_path / "heard.jsonl", None, None, "")
    with pytest.raises(BadInput, match="could not be written to its end"):
        record.keep(LINE)
    with pytest.raises(BadInput, match="could not be written to its end"):
        record.close()
    record.close()


def test_a_file_does_not_grow_past_what_can_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(listen_record, "LONGEST_FILE", 250)
    path = tmp_path / "heard.jsonl"
    record = Record(path, None, None, "")
    record.keep(LINE)
    record.keep(LINE)
    with pytest.raises(BadInput, match="has reached 250 bytes"):
        record.keep(LINE)
    record.close()
    assert path.stat().st_size <= 250
    assert list(load_capture(path).entries)
