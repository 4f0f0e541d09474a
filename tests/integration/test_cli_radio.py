"""Radio wrenches as somebody types their addresses: a job, a look, a record, a list; the commands run as processes."""

import asyncio
import json
import os
import signal
import sys
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from bridge.cli.capture_job import Wanted, run
from bridge.cli.capture_lane import Lane
from bridge.cli.main import outcome
from bridge.core.commands import Command
from bridge.core.events import Assigned, Body, BytesRejected, JobStarted, PersonAdded, ReadingTaken, WrenchAdded
from bridge.errors import BadInput
from bridge.service.bench import Bench
from bridge.trail.reader import Reader
from drivers.errors import LinkError
from drivers.links.replay import replay
from drivers.load import builtin_profile, load_capture
from drivers.reading import Arrival, Message
from drivers.sim.bluez.acts import perform
from drivers.sim.bluez.air import on_air
from drivers.sim.bluez.names import TORQUE_VALUES
from drivers.sim.bluez.peripheral import advert_wrench, radio_wrench
from drivers.sim.bluez.service import BluetoothService
from drivers.sim.driver import SimLink
from drivers.wire.encode import encode
from specs.expand import expand
from specs.load import find

NOTIFIES, ADVERTISES = "02:00:00:00:0A:01", "02:00:00:00:0A:02"
LIMIT_S = 60
BASE = ("capture", "practice-cover", "--asset", "Pump P-2", "--person", "Orla Venn", "--json")
BOTH = ("--wrench", f"W1=A1@{NOTIFIES.lower()}", "--wrench", f"W2=A2@{ADVERTISES}")


def said(profile: str, serial: str, counter: int, value: str, unit: str) -> bytes:
    """A message of such a wrench."""
    return encode(
        builtin_profile(profile), serial=serial, counter=counter, value=value, unit=unit, direction="CW", angle=None
    )


STOOD = said("line-advert", "A2", 6, "16.0", "in.lb")


@pytest.fixture
async def air(program: Callable[[str], str]) -> AsyncIterator[BluetoothService]:
    program("dbus-daemon")
    async with on_air(radio_wrench(NOTIFIES, mtu=23), advert_wrench(ADVERTISES, says=STOOD)) as service:
        yield service


class Running:
    """A command as a process."""

    def __init__(self, process: asyncio.subprocess.Process) -> None:
        self.process = process

    async def until(self, key: str, value: object = None) -> dict[str, object]:
        """The next JSON line with that key, and that value where one is asked for."""
        assert self.process.stdout is not None
        async with asyncio.timeout(LIMIT_S):
            while line := await self.process.stdout.readline():
                found: dict[str, object] = json.loads(line)
                if key in found and value in (None, found[key]):
                    return found
        raise AssertionError(f"the process ended before {key}")

    async def link(self, state: str, *lanes: str) -> None:
        """Links of all those lanes are told to be so."""
        wanted = set(lanes)
        while wanted:
            body = (await self.until("kind", "link"))["body"]
            assert isinstance(body, dict)
            if body["state"] == state:
                wanted.discard(body["lane"])

    async def end(self, sent: int | None = None) -> tuple[int | None, str, str]:
        """Exit code, and what more it says."""
        if sent is not None:
            self.process.send_signal(sent)
        async with asyncio.timeout(LIMIT_S):
            out, err = await self.process.communicate()
        return self.process.returncode, out.decode(), err.decode()


@asynccontextmanager
async def started(*arguments: str) -> AsyncIterator[Running]:
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        *("-W", "error", "-m", "bridge.cli", *arguments),
        stdin=asyncio.subprocess.DEVNULL,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.PIPE,
    )
    try:
        yield Running(process)
    finally:
        if process.returncode is None:
            process.kill()
        await process.communicate()


async def ended(*arguments: str) -> tuple[int | None, str, str]:
    """A command that ends by itself."""
    async with started(*arguments) as running:
        return await running.end()


async def register(trail: Path, due_on: str = "2099-01-01") -> None:
    """A fitter and two radio wrenches."""
    bench = await Bench.open(trail, mode="work", program="test")
    bodies: list[Body] = [PersonAdded("Orla Venn", ("fitter",))]
    for serial, unit, low, high, profile in (
        ("A1", "ft·lb", "8 ft·lb", "75 ft·lb", "line-radio"),
        ("A2", "in·lb", "8 in·lb", "75 in·lb", "line-advert"),
    ):
        bodies.append(WrenchAdded(serial, serial, unit, low, high, profile, "C-1", "2019-01-01", due_on))
    for number, body in enumerate(bodies):
        (answer,) = await bench.submit(Command(f"{number}", body))
        assert answer.refused is None
    await bench.close()


def bodies(trail: Path) -> list[object]:
    with Reader.open(trail) as reader:
        return [stored.event.body for stored in reader.events()]


async def test_a_job_on_radio_wrenches(air: BluetoothService, tmp_path: Path) -> None:
    """Connected once, kept through a loss; an advertised reading counts once, one of unknown age serves no step."""
    trail = tmp_path / "bench.trail"
    await register(trail)
    async with started(*BASE, *BOTH, "--trail", str(trail)) as job:
        await job.link("up", "W1", "W2")
        assert air.count("Connect") == 1  # tried and kept, not connected a second time
        assert air.radio.notify(NOTIFIES, said("line-radio", "A1", 1, "20.1", "ft.lb"))
        first = (await job.until("kind", "assigned"))["body"]
        await perform(air, "drop", NOTIFIES)
        await job.link("lost", "W1")
        await job.link("up", "W1")
        assert air.count("Connect") == 2
        assert air.radio.notify(NOTIFIES, said("line-radio", "A1", 2, "20.2", "ft.lb"))
        await job.until("kind", "assigned")
        air.radio.say(ADVERTISES, said("line-advert", "A2", 7, "16.2", "in.lb"))
        await job.until("kind", "assigned")
        for _ in range(5):
            air.radio.advertise()
            await air.flushed()
        code, _, _ = await job.end(signal.SIGTERM)
    assert code == 1
    recorded = bodies(trail)
    assert [body.value for body in recorded if isinstance(body, ReadingTaken)] == ["20.1", "20.2", "16.2"]
    assert len({body.n for body in recorded if isinstance(body, Assigned)}) == 3
    (kept,) = [body for body in recorded if isinstance(body, BytesRejected)]
    assert (kept.lane, kept.raw, kept.reason.code) == ("W2", STOOD.hex(), "link.standing")
    assert isinstance(first, dict)
    assert (first["step"], first["verdict"]) == ("C1/C.1", "within")
    (job_started,) = [body for body in recorded if isinstance(body, JobStarted)]
    assert [binding.link for binding in job_started.bindings] == [NOTIFIES, ADVERTISES]
    assert not air.radio.connected(NOTIFIES)


async def test_a_job_is_refused_where_its_radio_cannot_be_used(air: BluetoothService, tmp_path: Path) -> None:
    trail = tmp_path / "bench.trail"
    await register(trail)
    before = len(bodies(trail))
    place = ("--trail", str(trail))
    code, _, err = await ended(*BASE, *BOTH, "--settings", "W1=9600", *place)
    assert (code, "has no port to be set" in err, err.count("\n")) == (2, True, 1)
    code, _, err = await ended(*BASE, *BOTH[:2], "--wrench", f"W2=A2@{NOTIFIES}", *place)
    assert (code, f"Port {NOTIFIES} is named twice" in err) == (2, True)
    await perform(air, "adapter-off")
    code, _, err = await ended(*BASE, *BOTH, *place)
    assert (code, "while Bluetooth is off" in err) == (3, True)
    await perform(air, "adapter-on")
    await perform(air, "refuse", "StartNotify")
    code, _, err = await ended(*BASE, *BOTH, *place)
    assert (code, NOTIFIES in err) == (3, True)
    assert not air.radio.connected(NOTIFIES)
    assert air.radio.discovering == set()
    assert len(bodies(trail)) == before


async def test_a_job_that_is_refused_lets_go_of_its_wrenches(air: BluetoothService, tmp_path: Path) -> None:
    trail = tmp_path / "bench.trail"
    await register(trail, due_on="2020-01-01")
    code, _, err = await ended(*BASE, *BOTH, "--trail", str(trail))
    assert (code, "wrench-out-of-date" in err, air.count("Connect")) == (2, True, 1)
    assert not air.radio.connected(NOTIFIES)


async def test_a_job_that_is_refused_closes_its_links(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    trail = tmp_path / "bench.trail"
    await register(trail, due_on="2020-01-01")
    links = [SimLink("W1"), SimLink("W2")]
    left = iter(links)
    monkeypatch.setattr("bridge.cli.capture_job.link_for", lambda *_: next(left))
    plan = expand(find("practice-cover"))
    lanes = (Lane("W1", "A1", "P1"), Lane("W2", "A2", "P2"))
    with pytest.raises(BadInput):
        await run(Wanted(plan, "practice-cover", trail, "Pump P-2", ("Orla Venn",), lanes, "ask", "json"))
    for link in links:
        with pytest.raises(LinkError):
            await link.write(b"?")


async def test_listening_records_each_packet_as_an_entry(air: BluetoothService, tmp_path: Path) -> None:
    path = tmp_path / "heard.jsonl"
    options = ("--profile", "line-radio", "--serial", "A1", "--record", str(path), "--json")
    message = said("line-radio", "A1", 1, "20.1", "ft.lb")
    async with started("wrench", "listen", NOTIFIES, *options) as heard:
        assert (await heard.until("link"))["link"] == "up"
        air.radio.notify(NOTIFIES, message)
        reading = (await heard.until("reading"))["reading"]
        await perform(air, "drop", NOTIFIES)
        assert (await heard.until("link", "lost"))["why"]
        await heard.until("link", "up")
        code, out, err = await heard.end(signal.SIGINT)
    assert code == 0
    assert isinstance(reading, dict)
    assert reading["value"] == "20.1"
    assert f"All of it is in {path}" in err
    assert f"Heard at {NOTIFIES}, by radio" in load_capture(path).note
    entries = [json.loads(line) for line in path.read_text("utf-8").splitlines()[1:]]
    packets = [message[at : at + 20].decode() for at in range(0, len(message), 20)]
    assert [entry["text"] for entry in entries if "text" in entry] == packets
    assert len(packets) == 2
    assert [entry["link"] for entry in entries if "link" in entry] == ["up", "lost", "up"]
    played = [each.item for each in replay(load_capture(path)) if isinstance(each, Arrival)]
    assert [item.value for item in played if isinstance(item, Message)] == ["20.1"]
    assert json.loads(out.splitlines()[-1])["end"]["lines"] == 2


async def test_a_raw_look_at_a_characteristic(air: BluetoothService) -> None:
    async with started("wrench", "listen", NOTIFIES, "--values", TORQUE_VALUES.upper(), "--lines", "1") as heard:
        await air.called("StartNotify")
        await air.flushed()
        assert air.radio.notify(NOTIFIES, b"\x01\x02")
        code, out, _ = await heard.end()
    assert code == 0
    assert out.splitlines()[1].split(maxsplit=2)[1:] == ["␁␂", "01 02"]


async def test_advertisements_are_listened_to_and_what_stood_is_not_recorded(
    air: BluetoothService, tmp_path: Path
) -> None:
    path = tmp_path / "heard.jsonl"
    options = ("--profile", "line-advert", "--serial", "A2", "--record", str(path), "--json")
    news = said("line-advert", "A2", 7, "16.2", "in.lb")
    async with started("wrench", "listen", ADVERTISES, *options) as heard:
        rejected = await heard.until("rejected")
        air.radio.say(ADVERTISES, news)
        await heard.until("reading")
        code, _, _ = await heard.end(signal.SIGINT)
    assert (code, rejected["code"], rejected["raw"]) == (0, "link.standing", STOOD.hex())
    entries = [json.loads(line) for line in path.read_text("utf-8").splitlines()[1:]]
    assert [entry["text"] for entry in entries if "text" in entry] == [news.decode()]


async def test_without_a_profile_it_says_what_notifies(air: BluetoothService, tmp_path: Path) -> None:
    code, out, _ = await ended("wrench", "listen", NOTIFIES)
    lines = out.splitlines()
    assert (code, lines[0]) == (0, f"{NOTIFIES} is called `Example wrench`.")
    # Titles as Bluetooth's assigned numbers have them: 0x2A19 and 0x180F (from the library's tables).
    values, declared, battery = lines[2:]
    assert values.startswith(TORQUE_VALUES)
    assert declared.strip() == "declares its format as 19000027010000"
    assert battery.endswith("Battery Level, of the service Battery Service  (read, notify)")
    code, out, _ = await ended("wrench", "listen", NOTIFIES, "--json")
    found = json.loads(out)["notifying"]
    assert [each["handle"] for each in found] == sorted(each["handle"] for each in found)
    assert [each["declares"] for each in found] == ["19000027010000", None]
    assert air.count("StartNotify") == 0
    assert not air.radio.connected(NOTIFIES)
    code, out, _ = await ended("wrench", "listen", ADVERTISES)
    assert (code, "no characteristic that notifies" in out) == (0, True)
    record = tmp_path / "heard.jsonl"
    code, _, err = await ended("wrench", "listen", NOTIFIES, "--record", str(record))
    assert (code, "Nothing is recorded" in err, record.exists()) == (2, True, False)


@pytest.mark.parametrize("more", [(), ("--profile", "line-radio"), ("--values", TORQUE_VALUES)])
async def test_a_wrench_that_is_not_heard_is_waited_for_no_longer_than_was_said(
    air: BluetoothService, more: tuple[str, ...]
) -> None:
    """Looking for it has a limit of its own, which is longer and ends with other words."""
    air.radio.faults.off_air.add(NOTIFIES)
    code, _, err = await ended("wrench", "listen", NOTIFIES, "--for", "0.3", *more)
    assert (code, err.splitlines()[-1].startswith(f"{NOTIFIES} was not there within 0.3 s")) == (3, True)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((NOTIFIES, "--profile", "line-basic"), "does not say where on one to listen"),
        ((NOTIFIES, "--profile", "line-radio", "--settings", "9600 8N1"), "has no port to be set"),
        ((NOTIFIES, "--settings", "9600 8N1"), "has no port to be set"),
        ((NOTIFIES, "--values", "battery"), "`battery` is no characteristic"),
        (("/dev/ttyUSB0", "--values", "2a19"), "is no radio wrench"),
    ],
)
def test_what_cannot_be_is_one_sentence(
    arguments: tuple[str, ...], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert outcome(["wrench", "listen", *arguments]) == 2
    err = capsys.readouterr().err
    assert says in err
    assert err.count("\n") == 1


async def test_devices_that_are_heard_and_what_may_read_them(air: BluetoothService, tmp_path: Path) -> None:
    place = ("devices", "--names", str(tmp_path))
    code, out, _ = await ended(*place, "--radio", "0.3")
    assert code == 0
    lines = [line.strip() for line in out.splitlines()]
    (first,) = (at for at, line in enumerate(lines) if line.startswith(f"{NOTIFIES}  Example wrench, heard with -6"))
    second = lines.index("could be read by line-advert")
    assert lines[first + 1] == "has the service 0000180a-0000-1000-8000-00805f9b34fb (Device Information)"
    assert "could be read by line-radio" in lines[first:]
    assert lines[second - 1].startswith("sends data of the company ffff (")
    code, out, _ = await ended(*place, "--radio", "0.3", "--json")
    ble = json.loads(out)["ble"]
    assert (ble["looked_at"], ble["trouble"]) == (True, None)
    assert {each["address"]: each["profiles"] for each in ble["found"]} == {
        NOTIFIES: ["line-radio"],
        ADVERTISES: ["line-advert"],
    }
    assert air.count("Connect") == 0
    air.radio.faults.off_air.update((NOTIFIES, ADVERTISES))
    code, out, _ = await ended(*place, "--radio", "0.1")
    assert (code, "No radio device is heard" in out) == (0, True)


@pytest.mark.parametrize(
    ("act", "says"), [("adapter-off", "Bluetooth is off"), ("adapter-gone", "adapter"), ("crash", "does not run")]
)
async def test_a_radio_that_cannot_be_asked_ends_with_3(
    air: BluetoothService, tmp_path: Path, act: str, says: str
) -> None:
    await perform(air, act)
    place = ("devices", "--names", str(tmp_path))
    code, out, err = await ended(*place, "--radio")
    assert (code, says in out, "Traceback" in err) == (3, True, False)
    code, out, _ = await ended(*place, "--radio", "--json")
    ble = json.loads(out)["ble"]
    assert (code, ble["looked_at"], ble["found"], says in ble["trouble"]) == (3, False, [], True)
    assert (await ended(*place))[0] == 0  # nobody asked for it


@pytest.mark.parametrize("seconds", ["soon", "0", "nan", "1e9"])
def test_a_time_to_listen_is_one(seconds: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert outcome(["devices", f"--radio={seconds}"]) == 2
    assert f"`{seconds}` is no time to listen" in capsys.readouterr().err


def test_the_extra_that_is_missing_ends_with_3(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for module in [name for name in sys.modules if name.startswith("drivers.links.ble")]:
        monkeypatch.delitem(sys.modules, module)
    for module in ("bleak", "bleak.backends.device", "bleak.exc", "bleak.args.bluez"):
        monkeypatch.setitem(sys.modules, module, None)
    assert outcome(["devices", "--names", str(tmp_path), "--radio"]) == 3
    assert "install the extra `ble`" in capsys.readouterr().out
    assert outcome(["wrench", "listen", NOTIFIES]) == 2
    assert "install the extra `ble`" in capsys.readouterr().err
    assert outcome(["demo", "--ble"]) == 3
    assert "install the extra `ble`" in capsys.readouterr().err
    assert os.listdir(tmp_path) == []
