"""A bench killed at any moment: every answer that was given is in the trail, once, with its verdict beside it."""

import subprocess
import sys
from pathlib import Path
from random import Random

from bridge.core.events import Assigned, ReadingTaken
from bridge.trail.reader import Reader
from bridge.trail.verify import verify

CYCLES = 4
PROGRAM = """
import asyncio, os, sys
from bridge.core.commands import Command
from bridge.core.events import Binding, PersonAdded, ReadingTaken, WrenchAdded
from bridge.service.bench import Bench
from bridge.service.start import resume_job, start_job
from specs.expand import expand
from specs.parse import parse

SHEET = '''sheet = 1
id = "try"
revision = "1"
title = "Try"
source = "Invented for tests."
class = "B"
[wrenches.W1]
title = "large"
unit = "ft·lb"
range = ["15 ft·lb", "150 ft·lb"]
[groups.C]
title = "Cover"
wrench = "W1"
positions = 200
pattern = "row"
[[stages]]
id = "C1"
group = "C"
do = "torque"
target = "27 ft·lb"
tolerance = "15 %"
'''
BOUND = (Binding("W1", "W1", "A1023", "line-basic", "port"),)

async def main(path):
    bench = await Bench.open(path, mode="work", program="0.1.0")
    if bench.unfinished:
        await resume_job(bench, bench.unfinished[0].job, BOUND, "Orla Venn")
    else:
        wrench = WrenchAdded("A1023", "large", "ft·lb", "15 ft·lb", "150 ft·lb", "line-basic", due_on="2999-01-01")
        await bench.submit(Command("p", PersonAdded("Orla Venn", ("fitter",))), Command("w", wrench))
        await start_job(bench, expand(parse(SHEET)), "Pump P-2", ["Orla Venn"], BOUND)
    os.write(1, b"open\\n")
    t = bench.now()
    for i in range(180):
        t += 10
        body = ReadingTaken(0, "W1", t, f"{os.getpid()}-{i}".encode().hex(), "27.0", "ft.lb", direction="CW")
        if sys.argv[2] == "early":
            os.write(1, f"ack 0 {body.raw}\\n".encode())
            sys.stdin.read()
        (answer,) = await bench.submit(Command(f"{os.getpid()}-{i}", body))
        os.write(1, f"ack {answer.events[0].seq} {answer.events[0].event.body.raw}\\n".encode())
    sys.stdin.read()

asyncio.run(main(sys.argv[1]))
"""


def killed_after(path: Path, lines: int, how: str = "after") -> dict[str, int]:
    """Raw bytes and seq of each reading that was answered before the kill."""
    command = [sys.executable, "-c", PROGRAM, str(path), how]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        read = [process.stdout.readline() for _ in range(lines)]
        process.kill()
        read += process.stdout.readlines()
    acks = [line.split() for line in read if line.startswith("ack ") and line.endswith("\n")]
    return {raw: int(seq) for _, seq, raw in acks}


def held(path: Path) -> dict[str, list[int]]:
    """Seqs of each reading in the trail; each with its assignment behind it."""
    report = verify(path)
    assert report.intact, report
    found: dict[str, list[int]] = {}
    taken: list[int] = []
    assigned = set()
    with Reader.open(path) as reader:
        for stored in reader.events():
            body = stored.event.body
            if isinstance(body, ReadingTaken):
                found.setdefault(body.raw, []).append(stored.seq)
                taken.append(body.n)
            elif isinstance(body, Assigned):
                assigned.add(body.n)
    assert taken == list(range(1, len(taken) + 1))
    assert assigned == set(taken)
    return found


def test_no_answered_reading_is_lost_or_doubled_by_kill_9(tmp_path: Path) -> None:
    path, random = tmp_path / "bench.db", Random(17)
    answered: dict[str, int] = {}
    for _ in range(CYCLES):
        answered |= killed_after(path, random.randint(2, 40))
        trail = held(path)
        assert {raw: [seq] for raw, seq in answered.items()} == {raw: trail.get(raw, []) for raw in answered}
    assert len(answered) > CYCLES


def test_control_an_early_answer_is_found_out(tmp_path: Path) -> None:
    path = tmp_path / "bench.db"
    early = killed_after(path, 2, "early")
    assert len(early) == 1
    assert not early.keys() & held(path).keys()
