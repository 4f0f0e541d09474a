"""The player: acts in order, in time, into the right port."""

import asyncio
import random
from dataclasses import replace
from decimal import Decimal
from importlib.resources import files

import pytest

from drivers.errors import LinkError, LinkReason
from drivers.load import builtin_profile
from drivers.sim.acts import Act, Answer, Download, LinkUp, LoseLink, Pull, Say, UnitKey, Wait
from drivers.sim.faults import Faults
from drivers.sim.hand import PulledPeak
from drivers.sim.memory import SimMemory
from drivers.sim.player import DRAIN_STEPS, Lane, Player
from drivers.sim.wrench import Instrument, Scale, SimWrench
from drivers.wire.encode import framed
from drivers.wire.parse import parse_profile

SCALES = (
    Scale("ft.lb", Decimal("1.3558179483314004"), Decimal("0.1")),  # from memory, exact since 1959
    Scale("N.m", Decimal(1), Decimal("0.1")),
)
LARGE = Instrument("A1023", SCALES, low_nm=15.0, high_nm=203.4, checksum=False)
HIT_TWICE = (PulledPeak(1.5, 100.0, 30.0, 30.0), PulledPeak(2.75, 110.0, 2.0, 32.0))


class Stage:
    """Time that only counts, ports that only note, and one list of all that happened."""

    def __init__(self) -> None:
        self.t_s = 0.0
        self.happened: list[tuple[float, str, bytes | str | Say]] = []

    async def sleep(self, seconds: float) -> None:
        self.t_s += seconds
        await asyncio.sleep(0)

    async def hear(self, said: Say) -> None:
        self.note("person", said)

    def note(self, who: str, what: bytes | str | Say) -> None:
        self.happened.append((self.t_s, who, what))


class NotingPort:
    """A port whose program never reads more than `unread` says."""

    def __init__(self, stage: Stage, name: str, unread: int = 0) -> None:
        self.stage, self.name, self.unread, self.plugged = stage, name, unread, True
        self.asked = b""

    def plug(self) -> None:
        self.plugged = True
        self.stage.note(self.name, "plugged")

    def unplug(self) -> None:
        self.plugged = False
        self.stage.note(self.name, "unplugged")

    async def write(self, data: bytes) -> None:
        if not self.plugged:
            raise LinkError(LinkReason.GONE, self.name)
        self.stage.note(self.name, data)

    def waiting(self) -> int:
        return self.unread

    def received(self) -> bytes:
        return self.asked


def lane(stage: Stage, name: str, serial: str = "A1023", unread: int = 0) -> Lane:
    profile = parse_profile((files("drivers") / "profiles" / "line-basic.toml").read_text(encoding="utf-8"))
    return Lane(SimWrench(profile, replace(LARGE, serial=serial)), NotingPort(stage, name, unread))


async def played(
    *acts: Act, faults: Faults | None = None, unread: int = 0
) -> list[tuple[float, str, bytes | str | Say]]:
    stage = Stage()
    lanes = {"W1": lane(stage, "W1", unread=unread), "W2": lane(stage, "W2", serial="B2048")}
    player = Player(lanes, random.Random(7), sleep=stage.sleep, listener=stage.hear, faults=faults or Faults())
    await player.play(acts)
    return stage.happened


async def test_peaks_come_at_their_times_into_their_port() -> None:
    assert await played(Wait(10.0), Pull("W1", HIT_TWICE), Pull("W2", HIT_TWICE[:1])) == [
        (11.5, "W1", b"A1023,000001,73.8,ft.lb,CW\r\n"),
        (12.75, "W1", b"A1023,000002,81.1,ft.lb,CW\r\n"),
        (14.25, "W2", b"B2048,000001,73.8,ft.lb,CW\r\n"),
    ]


async def test_a_peak_below_the_threshold_takes_its_time_but_sends_nothing() -> None:
    low = (PulledPeak(2.0, 10.0, 5.0, 5.0), PulledPeak(4.0, 100.0, 5.0, 5.0))
    assert [t for t, _, _ in await played(Pull("W1", low))] == [4.0]


async def test_the_unit_key_changes_what_is_sent() -> None:
    (happened,) = await played(UnitKey("W1"), Pull("W1", HIT_TWICE[:1]))
    assert happened[2] == b"A1023,000001,100.0,N.m,CW\r\n"
    (back,) = await played(UnitKey("W1"), UnitKey("W1", "ft.lb"), Pull("W1", HIT_TWICE[:1]))
    assert back[2] == b"A1023,000001,73.8,ft.lb,CW\r\n"


async def test_out_of_reach_the_readings_wait_for_a_download() -> None:
    away = (LoseLink("W1"), Pull("W1", HIT_TWICE), LinkUp("W1"))
    newest_first = await played(*away, Download("W1", newest_first=True, clear=True), Download("W1"))
    assert [what for _, _, what in newest_first] == [
        "unplugged",
        "plugged",
        b"A1023,000002,81.1,ft.lb,CW\r\n",
        b"A1023,000001,73.8,ft.lb,CW\r\n",
    ]
    twice = await played(*away, Download("W1"), Download("W1"))
    assert [what for _, _, what in twice[2:4]] == [what for _, _, what in twice[4:]]


async def test_a_link_is_lost_after_its_bytes_were_read() -> None:
    ((soon, _, _),) = await played(LoseLink("W1"))
    ((late, _, _),) = await played(LoseLink("W1"), unread=5)
    assert late == pytest.approx(soon * DRAIN_STEPS)  # a program that does not read holds it up only so long


async def test_what_a_person_says_reaches_the_listener() -> None:
    said = Say("step", "C2/C.6")
    assert await played(Wait(1.0), said) == [(1.0, "person", said)]


async def test_without_a_listener_nobody_hears() -> None:
    stage = Stage()
    await Player({}, random.Random(0), sleep=stage.sleep).play([Say("stray"), Wait(2.0)])
    assert stage.t_s == 2.0


async def test_faults_strike_on_the_way() -> None:
    pieces = await played(Pull("W1", HIT_TWICE[:1]), faults=Faults(split=1, repeat=1))
    line = b"A1023,000001,73.8,ft.lb,CW\r\n"
    assert b"".join(what for _, _, what in pieces if isinstance(what, bytes)) == line * 2
    assert len(pieces) > 8
    assert pieces == await played(Pull("W1", HIT_TWICE[:1]), faults=Faults(split=1, repeat=1))


@pytest.mark.parametrize("act", [Pull("W3", HIT_TWICE), LoseLink("W3"), LinkUp("W3"), UnitKey("W3"), Download("W3")])
async def test_a_lane_that_is_not_there_is_named(act: Act) -> None:
    with pytest.raises(ValueError, match="'W3'; there are W1, W2"):
        await played(act)


async def test_a_download_into_a_port_that_is_gone_is_told() -> None:
    with pytest.raises(LinkError):
        await played(LoseLink("W1"), Pull("W1", HIT_TWICE), Download("W1"))


async def test_a_wrench_answers_what_the_program_asked_it() -> None:
    stage = Stage()
    sim = SimWrench(builtin_profile("line-memory"), replace(LARGE, serial="LM-7", keeps_all=True, checksum=True))
    port = NotingPort(stage, "W1")
    player = Player({"W1": Lane(sim, port, SimMemory(sim))}, random.Random(7), sleep=stage.sleep)
    await player.play([Pull("W1", HIT_TWICE[:1]), Answer("W1")])
    sent = [data for _, _, data in stage.happened]
    assert len(sent) == 1  # the pull alone: nothing was asked
    port.asked = framed(sim.profile, b"?M00000")
    await player.play([Answer("W1")])
    again = [data for _, _, data in stage.happened][1:]
    assert again == [framed(sim.profile, b"#M1"), sent[0], framed(sim.profile, b"#E")]
    bare = Player({"W1": Lane(sim, port)}, random.Random(7), sleep=stage.sleep)
    await bare.play([Answer("W1")])  # a wrench whose memory nobody can ask for
    assert len(stage.happened) == 4
