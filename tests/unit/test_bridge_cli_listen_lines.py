"""What is heard, as lines for people and for programs."""

import json
from decimal import Decimal

import pytest

from bridge.cli.listen_hearing import LinkTold, Read, Silence, Told
from bridge.cli.listen_lines import json_line, people_lines, shown_text
from drivers.reading import LinkChange, LinkState, MemoryEdge, Message, Rejected
from drivers.stretches import Ended, Stretch

T = Decimal("12.345")


def test_text_and_hex_stand_side_by_side() -> None:
    lines = list(people_lines(Stretch(T, b"A1023,000417,112.50\r\n", Ended.LINE)))
    assert lines == [
        "    12.345  A1023,000417,112  41 31 30 32 33 2c 30 30 30 34 31 37 2c 31 31 32",
        "            .50␍␊             2e 35 30 0d 0a",
    ]


def test_no_byte_of_a_wrench_moves_the_cursor() -> None:
    text = shown_text(bytes(range(256)))
    assert len(text) == 256
    assert text.isprintable()
    assert text[0x20:0x7F] == bytes(range(0x20, 0x7F)).decode()
    assert text[0x80:] == "·" * 128


@pytest.mark.parametrize(
    ("told", "line"),
    [
        (
            Read(T, Message(b"x", "112.50", "ft.lb", serial="A1023", counter=417, direction="CW", angle="30")),
            "reading: 112.50 ft.lb, CW, 30 deg, counter 417, wrench A1023",
        ),
        (
            Read(T, Message(b"x", "1", "N.m", memory=True, time="31")),
            "reading: 1 N.m, its time 31, from its memory",
        ),
        (Read(T, MemoryEdge("begin", b"#M2")), "memory begins"),
        (
            Read(T, MemoryEdge("end", why="link.memory-quiet", args=("1",))),
            "memory ends: The wrench stopped sending its memory in the middle; readings that had come: 1.",
        ),
        (
            Read(T, Message(b"x", "1", live=True, flags=("overload",))),
            "reading: 1 (no unit sent), a sample while pulling, no peak, overload",
        ),
        (Read(T, Rejected(b"x", "link.checksum", ("5C", "5D"))), "rejected: The checksum of the bytes is 5C, but"),
        (LinkTold(T, LinkChange(LinkState.UP)), "12.345  LINK UP"),
        (LinkTold(T, LinkChange(LinkState.LOST, "link.gone", ("P",))), "12.345  LINK LOST: P is gone"),
        (Silence(T, Decimal("12.3"), LinkState.UP), "nothing heard for 12 s; the link is up"),
        (Silence(T, Decimal("0.5"), None), "nothing heard for 0.5 s; the port is still being opened"),
        (Silence(T, Decimal(60), LinkState.LOST), "nothing heard for 60 s; the link is lost"),
    ],
)
def test_a_line_for_people(told: Told, line: str) -> None:
    (found,) = people_lines(told)
    assert line in found


def test_a_line_for_programs() -> None:
    told: list[Told] = [
        Stretch(T, b"a\r\n", Ended.LINE),
        Read(T, Message(b"a", "1.0", "Nm", counter=4)),
        Read(T, Rejected(b"a", "link.field-empty", ("unit",))),
        LinkTold(T, LinkChange(LinkState.UP)),
        LinkTold(T, LinkChange(LinkState.LOST, "link.gone", ("P",))),
        Silence(T, Decimal(10), None),
    ]
    found = [json.loads(json_line(each)) for each in told]
    assert {each.pop("t") for each in found} == {12.345}
    assert found[0] == {"text": "a␍␊", "hex": "610d0a", "ended": "line"}
    assert found[1]["reading"]["value"] == "1.0"  # exact, as sent
    assert (found[1]["reading"]["unit"], found[1]["reading"]["counter"], found[1]["reading"]["raw"]) == ("Nm", 4, "61")
    assert found[2] == {"rejected": "The unit is empty.", "code": "link.field-empty", "raw": "61"}
    assert found[3] == {"link": "up", "why": None}
    assert found[4]["link"] == "lost"
    assert "unplugged" in found[4]["why"]
    assert found[5] == {"silent_s": 10.0, "link": "opening"}


def test_programs_are_told_of_memory() -> None:
    reading = json.loads(json_line(Read(T, Message(b"x", "1", "N.m", memory=True, time="31"))))["reading"]
    assert (reading["memory"], reading["time"]) == (True, "31")
    edge = MemoryEdge("end", why="link.memory-count", args=("3", "2"))
    assert json.loads(json_line(Read(T, edge))) == {
        "t": 12.345,
        "memory": "end",
        "why": "The wrench told of 3 readings in its memory, and 2 came.",
    }
