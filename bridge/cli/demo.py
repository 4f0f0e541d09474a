"""`witnessmark demo`: a made-up job from the first pull to the record, on simulated wrenches that speak into real ports
or by an emulated radio.
"""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bridge import words
from bridge.cli.cautions import show_cautions
from bridge.errors import DeviceTrouble
from drivers.errors import DriverError

if TYPE_CHECKING:
    from bridge.practice.operator import Slips
    from specs.model import Plan

SHEET = "practice-cover"
SEED = 7
ASSET = "Ferry Skerrivane, pump P-2 (practice)"
PULL_S = 0.06  # of real time a wait, so that an eye can follow; the job's own time runs much faster


@click.command("demo", help=words.say("screen.command-demo"))
@click.option("--keep", type=click.Path(path_type=Path, file_okay=False), help=words.say("screen.option-keep"))
@click.option("--seed", type=int, default=SEED, show_default=True, help=words.say("screen.option-seed"))
@click.option("--plain", is_flag=True, help=words.say("screen.option-plain"))
@click.option("--ble", is_flag=True, help=words.say("practice.option-ble"))
def demo(keep: Path | None, seed: int, plain: bool, ble: bool) -> int:
    """The exit code is that of the audit. Raises `DriverError` where no port, `DeviceTrouble` where no radio is."""
    from tempfile import mkdtemp

    from bridge.cli.audit import audit
    from bridge.cli.practice_job import Trial, run
    from bridge.cli.screen_keys import is_terminal
    from bridge.cli.stopping import run_loop
    from drivers.sim.hand import CAREFUL
    from specs.expand import expand
    from specs.load import find

    if ble:
        _radio_ready()
    plan = expand(find(SHEET))
    folder = Path(mkdtemp(prefix="witnessmark-demo-")) if keep is None else keep
    folder.mkdir(parents=True, exist_ok=True)
    trail = folder / "practice.trail"
    show_cautions(*plan.sheet.cautions)
    click.echo(words.say("practice.demo-begins-ble" if ble else "practice.demo-begins", plan.sheet.title))
    style = "screen" if is_terminal() and not plain else "lines"
    trial = Trial(plan, trail, CAREFUL, seed, planted(plan, lost=ble), ASSET, style, PULL_S, ble)
    worked = run_loop(run(trial))
    click.echo()
    sys.stdout.flush()
    if audit.callback is None:
        raise TypeError("the audit is not a command")
    code: int = audit.callback(worked.job, str(trail), False)
    click.echo(words.say("practice.demo-ends", str(trail)))
    click.echo(words.say("practice.demo-next", worked.job, str(trail)))
    return code


def planted(plan: "Plan", *, lost: bool = False) -> "Slips":
    """One place hit twice, one left out at first, one pulled too far where a new part puts it right.

    `lost`: and in the middle of a stage the wrench is carried out of reach and back.
    """
    from bridge.practice.operator import Slips
    from specs.model import Do

    pulled = [visit for visit in plan.visits if visit.stage.do is Do.TORQUE and visit.end - visit.first > 3]
    by_group = {visit.stage.group: visit for visit in reversed(pulled)}  # the first visit of each group
    double, *_ = pulled
    again = [visit for visit in pulled if visit.stage.group == double.stage.group]
    skip = again[1] if len(again) > 1 else pulled[-1]
    last_group = list(plan.sheet.groups)[-1]
    over = by_group.get(last_group, pulled[-1])
    return Slips(
        double=frozenset({plan.steps[double.first + 3].id}),
        skip=frozenset({plan.steps[skip.end - 1].id}),
        over=frozenset({plan.steps[over.first + 2].id}),
        lost=frozenset({plan.steps[skip.first + 2].id} if lost else ()),
    )


def _radio_ready() -> None:
    """Raises `DeviceTrouble` where what the emulated radio stands on is not installed, before anything is done."""
    from drivers.registry import needing
    from drivers.sim.bluez.daemon import find_program

    try:
        for module in ("drivers.links.ble", "drivers.sim.bluez.service"):
            needing("ble", module)
        find_program()
    except DriverError as error:
        raise DeviceTrouble(error.code, *error.words) from error
