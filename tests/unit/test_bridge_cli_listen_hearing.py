"""What is heard of a port is told once, counted, and silence is never kept quiet; times are given."""

from decimal import Decimal

from bridge.cli.listen_hearing import Hearing, LinkTold, Read, Silence, Told
from drivers.load import builtin_profile
from drivers.reading import LinkChange, LinkState, Message, Rejected
from drivers.stretches import Ended, Stretch
from drivers.wire.receive import Receiver

LINE = b"A1023,000417,112.50,ft.lb,CW\r\n"
UP = LinkChange(LinkState.UP)
GONE = LinkChange(LinkState.LOST, "link.gone", ("P",))


def hearing(*, profile: bool = False, most_lines: int | None = None) -> Hearing:
    receiver = Receiver(builtin_profile("line-basic"), serial="A1023") if profile else None
    return Hearing(Decimal(0), quiet_s=Decimal("0.2"), silence_s=Decimal(10), receiver=receiver, most_lines=most_lines)


def silences(heard: Hearing, until: int) -> list[tuple[int, LinkState | None]]:
    told: list[Told] = []
    for second in range(until + 1):
        told += heard.tick(Decimal(second))
    return [(int(each.seconds), each.link) for each in told if isinstance(each, Silence)]


def test_silence_is_told_from_the_start_and_ever_again() -> None:
    assert silences(hearing(), 9) == []
    assert silences(hearing(), 2500) == [(s, None) for s in (10, 20, 40, 80, 160, 320, 640, 1240, 1840, 2440)]


def test_silence_says_whether_the_link_is_up() -> None:
    heard = hearing()
    heard.link(Decimal(1), UP)
    assert silences(heard, 10) == [(10, LinkState.UP)]
    heard.link(Decimal(11), GONE)
    assert silences(heard, 20) == [(20, LinkState.LOST)]


def test_a_byte_begins_the_silence_anew() -> None:
    heard = hearing()
    assert silences(heard, 12) == [(10, None)]
    heard.chunk(Decimal(15), LINE)
    assert heard.due == Decimal(25)
    assert silences(heard, 24) == []
    assert silences(heard, 25) == [(10, None)]
    heard.chunk(Decimal(26), b"")  # the control: a chunk of nothing is no byte
    assert silences(heard, 35) == [(20, None)]


def test_after_a_long_sleep_silence_is_told_once() -> None:
    heard = hearing()
    (told,) = heard.tick(Decimal(75))
    assert told == Silence(Decimal(75), Decimal(75), None)
    assert heard.due == Decimal(80)


def test_each_line_is_followed_by_what_it_gives() -> None:
    heard = hearing(profile=True)
    heard.link(Decimal(0), UP)
    told = heard.chunk(Decimal(1), LINE + b"what?\r\n" + LINE[:-4] + b"XX\r\n")
    kinds = [type(each.item) if isinstance(each, Read) else type(each) for each in told]
    assert kinds == [Stretch, Message, Stretch, Rejected, Stretch, Rejected]
    assert (heard.bytes, heard.lines, heard.readings, heard.rejected) == (67, 3, 1, 2)


def test_without_a_profile_nothing_is_read() -> None:
    heard = hearing()
    assert [type(each) for each in heard.chunk(Decimal(1), LINE)] == [Stretch]
    assert (heard.readings, heard.rejected) == (0, 0)


def test_a_line_cut_by_a_loss_is_joined_to_nothing() -> None:
    heard = hearing(profile=True)
    heard.link(Decimal(0), UP)
    assert heard.chunk(Decimal(1), LINE[:20]) == []
    told = heard.link(Decimal(2), GONE)
    assert [type(each) for each in told] == [Stretch, Read, LinkTold]
    assert isinstance(told[1], Read)
    assert isinstance(told[1].item, Rejected)
    assert told[1].item.why == "link.cut-off"
    heard.link(Decimal(3), UP)
    rest = heard.chunk(Decimal(4), LINE[20:])
    assert isinstance(rest[1], Read)
    assert isinstance(rest[1].item, Rejected)


def test_the_end_tells_what_was_begun() -> None:
    heard = hearing()
    heard.chunk(Decimal(1), b"abc")
    assert [each.data for each in heard.end(Decimal(2)) if isinstance(each, Stretch)] == [b"abc"]
    assert heard.end(Decimal(2)) == []


def test_no_more_lines_than_were_asked_for() -> None:
    heard = hearing(profile=True, most_lines=2)
    told = heard.chunk(Decimal(1), LINE * 5)
    assert sum(isinstance(each, Stretch) for each in told) == 2
    assert (heard.full, heard.lines, heard.readings) == (True, 2, 2)
    assert not hearing(most_lines=3).full
    assert heard.end(Decimal(2)) == []


def test_the_next_tick_is_the_sooner_of_pause_and_silence() -> None:
    heard = hearing()
    assert heard.due == Decimal(10)
    heard.chunk(Decimal(3), b"abc")
    assert heard.due == Decimal("3.2")


def test_each_packet_of_a_radio_wrench_is_a_line() -> None:
    heard = Hearing(Decimal(0), quiet_s=Decimal("0.2"), silence_s=Decimal(10), packets=True)
    told = [*heard.chunk(Decimal(1), b"A\r\nB"), *heard.chunk(Decimal(1), b"\r\n")]
    assert told == [Stretch(Decimal(1), b"A\r\nB", Ended.PACKET), Stretch(Decimal(1), b"\r\n", Ended.PACKET)]
    assert (heard.lines, heard.bytes) == (2, 6)
    # The control: without, the lines are put together.
    plain = hearing()
    told = [*plain.chunk(Decimal(1), b"A\r\nB"), *plain.chunk(Decimal(1), b"\r\n")]
    assert [each.data for each in told if isinstance(each, Stretch)] == [b"A\r\n", b"B\r\n"]


def test_what_was_said_before_anybody_listened_is_told_and_is_no_traffic() -> None:
    heard = hearing(profile=True)
    (told,) = heard.chunk(Decimal(1), LINE, standing=True)
    assert isinstance(told, Read)
    assert told.item == Rejected(LINE, "link.standing", (LINE.decode().strip(),))
    assert (heard.lines, heard.readings, heard.rejected) == (0, 0, 1)
