"""No room: nothing half done, a sentence that says what to free, and recording goes on once there is room."""

import os
import resource
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from decimal import Decimal
from pathlib import Path

import pytest

from bridge.core.events import Event, SheetStored, Tick
from bridge.errors import TrailTrouble
from bridge.trail.clock import SystemClock
from bridge.trail.errors import Failure, NotRecorded
from bridge.trail.reader import Reader
from bridge.trail.verify import verify
from bridge.trail.writer import Writer

BIG = Event(SheetStored("ab" * 32, "skerrivane-p2", "3", "# sheet\n" * 2000))


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    place = tmp_path / "disk"
    place.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=14m", "tmpfs", str(place)]
    if sys.platform != "linux" or os.geteuid() != 0:
        pytest.skip("mount of a small tmpfs needs root on Linux")
    if subprocess.run(command, capture_output=True, check=False).returncode != 0:
        pytest.skip("mount of a small tmpfs is not allowed here")
    try:
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)


def opened(path: Path) -> Writer:
    return Writer.open(path, mode="work", program="0.1.0", clock=SystemClock())


def fill(writer: Writer) -> tuple[int, NotRecorded]:
    """Append until it is refused: events acknowledged, and the refusal."""
    for _ in range(1000):
        try:
            writer.append([BIG, Event(Tick(Decimal(1)))])
        except NotRecorded as trouble:
            return writer.size, trouble
    raise AssertionError("the disk never filled")


def test_a_full_disk_refuses_and_goes_on_when_there_is_room(small_disk: Path) -> None:
    path = small_disk / "bench.trail"
    (small_disk / "ballast").write_bytes(bytes(8 << 20))
    with opened(path) as writer:
        size, trouble = fill(writer)
        assert trouble.failure is Failure.FULL
        assert "Free at least 8 MB" in str(trouble)
        with Reader.open(path) as reader:
            assert sum(1 for _ in reader.events()) == size
        with pytest.raises(NotRecorded):
            writer.recover([BIG, Event(Tick(Decimal(1)))])
        (small_disk / "ballast").unlink()
        stored = writer.recover([BIG, Event(Tick(Decimal(1)))])
        assert [each.seq for each in stored] == [size + 1, size + 2]
        writer.append([Event(Tick(Decimal(2)))])
        assert writer.size == size + 3
    report = verify(path)
    assert report.intact
    assert report.events == size + 3


def test_a_full_disk_makes_no_trail_and_is_read_all_the_same(small_disk: Path) -> None:
    with opened(small_disk / "bench.trail") as writer:
        writer.append([BIG])
    with (small_disk / "ballast").open("wb", buffering=0) as ballast, suppress(OSError):
        while ballast.write(bytes(4096)):
            pass
    with pytest.raises(NotRecorded) as caught:
        opened(small_disk / "new.trail")
    assert caught.value.failure is Failure.FULL
    assert "new.trail" not in os.listdir(small_disk)
    assert not list(small_disk.glob("*.being-made*"))
    with pytest.raises(TrailTrouble):
        opened(small_disk / "bench.trail")
    with Reader.open(small_disk / "bench.trail") as reader:
        assert [each.seq for each in reader.events()] == [1, 2]
    assert verify(small_disk / "bench.trail").intact
    (small_disk / "ballast").unlink()
    with opened(small_disk / "bench.trail") as writer:
        assert writer.append([Event(Tick(Decimal(1)))])[0].seq == 3


LIMITED = """
import resource, sys
from decimal import Decimal
from bridge.core.events import Event, Tick
from bridge.trail.clock import SystemClock
from bridge.trail.errors import NotRecorded
from bridge.trail.writer import Writer

with Writer.open(sys.argv[1], mode="work", program="0.1.0", clock=SystemClock()) as writer:
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, resource.RLIM_INFINITY))
    events = [Event(Tick(Decimal(1)))] * 3
    try:
        while True:
            writer.append(events)
    except NotRecorded as trouble:
        print(writer.size, trouble.failure, trouble)
    resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    print([each.seq for each in writer.recover(events)])
    writer.append(events)
"""


def test_a_limit_on_the_size_of_files_refuses_and_goes_on_without_it(tmp_path: Path) -> None:
    path = tmp_path / "bench.trail"
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[1] == resource.RLIM_INFINITY
    done = subprocess.run([sys.executable, "-c", LIMITED, str(path)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    refused, recovered = done.stdout.splitlines()
    size = int(refused.split()[0])
    assert size > 10
    assert refused.split()[1] == Failure.WRITE
    assert "limit on the size of files" in refused
    assert recovered == str([size + 1, size + 2, size + 3])
    report = verify(path)
    assert report.intact
    assert report.events == size + 6
