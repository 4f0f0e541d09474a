"""Messages of a load differ from each other and are read as what they say."""

import pytest

from drivers.errors import DriverError
from drivers.load import builtin_profile, builtin_profiles
from drivers.reading import Message
from drivers.sim.pacing import Pace, Paced, parse_pace
from drivers.sim.series import MOST, lead, message, series, value
from drivers.wire.profile import Packets
from drivers.wire.receive import Receiver

# A load is sent through ports and as whole lines; packets are no stream.
STREAMS = [name for name in builtin_profiles() if not isinstance(builtin_profile(name).framing, Packets)]


@pytest.mark.parametrize("name", STREAMS)
def test_each_message_is_read_back_and_no_two_are_alike(name: str) -> None:
    profile = builtin_profile(name)
    sent = list(series(profile, "P0007", 300))
    assert len(set(sent)) == 300
    items = Receiver(profile).feed(lead(profile) + b"".join(sent))
    assert [item.raw for item in items] == sent
    assert [item.value.rstrip("0") for item in items if isinstance(item, Message)] == [
        value(number).rstrip("0") for number in range(300)
    ]
    assert all(item.counter == number for number, item in enumerate(items) if isinstance(item, Message))


def test_the_last_that_may_be_asked_for_is_like_no_other() -> None:
    """The shortest counter of all profiles still holds its number."""
    profile = builtin_profile("packet-crc8")
    assert message(profile, "P0000", MOST - 1) not in set(series(profile, "P0000", 10))


def test_a_pace_reads_back() -> None:
    pace = Pace(("line-basic", "frame-lrc"), 50, 10)
    assert parse_pace(str(pace)) == pace
    assert (pace.count, pace.profile(3)) == (500, "frame-lrc")


@pytest.mark.parametrize("text", ["", "line-basic", "line-basic 50", "line-basic 0 10", "line-basic x 1", "a 60001 1"])
def test_what_is_no_pace_is_refused(text: str) -> None:
    with pytest.raises(DriverError) as caught:
        parse_pace(text)
    assert caught.value.code == "sim.pace-form"


class HandClock:
    """Stands still but for sleeps."""

    def __init__(self) -> None:
        self.now = 0.0

    async def sleep(self, seconds: float) -> None:
        self.now += seconds


async def test_wrenches_send_in_turn_and_each_at_its_moment() -> None:
    clock = HandClock()
    paced = Paced("P", 3, lambda: clock.now, clock.sleep)
    paced.prepare("line-basic 10 2")
    sent: list[tuple[float, int, bytes]] = []

    async def send(place: int, data: bytes) -> None:
        sent.append((clock.now, place, data.strip()))

    assert await paced.send(send) < 0.005
    assert [place for _, place, _ in sent] == [0, 1, 2] * 20
    assert [at for at, _, _ in sent] == pytest.approx([number / 30 for number in range(60)], abs=0.005)
    for place in range(3):
        wanted = [data.strip() for data in series(builtin_profile("line-basic"), f"P{place:04d}", 20)]
        assert [data for _, at, data in sent if at == place] == wanted


async def test_who_is_late_catches_up_and_says_how_late() -> None:
    clock = HandClock()
    paced = Paced("P", 1, lambda: clock.now, clock.sleep)
    paced.prepare("line-basic 10 1")
    sent: list[float] = []

    async def send(place: int, data: bytes) -> None:
        sent.append(clock.now)
        clock.now += 0.35 if len(sent) == 3 else 0.0

    assert await paced.send(send) == pytest.approx(0.35, abs=0.01)
    assert len(sent) == 10
    assert sent[-1] == pytest.approx(0.9, abs=0.01)
