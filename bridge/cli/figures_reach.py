"""`witnessmark figures links|unplug|fuzz`: what links and decoders bear, with an exit code for what is not reached."""

import json
import sys
from collections.abc import Callable
from dataclasses import asdict
from typing import TYPE_CHECKING

import click

from bridge import words
from bridge.cli.stopping import run_loop
from bridge.errors import FINDINGS, NOTHING_TO_DECIDE

if TYPE_CHECKING:
    from bridge.figures.links import Load

QUIET_S = 5.0  # what has not arrived so long after everything else is lost
PATIENCE_S = 120.0  # the same for what is to be recorded: one commit of a backlog takes seconds
reach = click.Group("reach")  # its commands are those of `figures`


@reach.command("links", help=words.say("reach.command-links"))
@click.option("--serial", type=click.IntRange(0, 250), default=64, show_default=True, help=words.say("reach.serial"))
@click.option("--ble", type=click.IntRange(0, 250), default=64, show_default=True, help=words.say("reach.ble"))
@click.option("--rate", type=click.IntRange(1, 500), default=50, show_default=True, help=words.say("reach.rate"))
@click.option("--seconds", type=click.IntRange(1, 120), default=10, show_default=True, help=words.say("reach.seconds"))
@click.option("--record", "recorded", is_flag=True, help=words.say("reach.record"))
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def links(serial: int, ble: int, rate: int, seconds: int, recorded: bool, as_json: bool) -> int:
    """Exit code 1 where a figure is missed, 3 where there is nothing to measure it with."""
    from bridge.figures.links import PROFILES, REACH, Load, carry
    from drivers.sim.pacing import Pace

    load = Load(serial, ble, Pace(PROFILES, rate, seconds), quiet_s=PATIENCE_S if recorded else QUIET_S)
    if recorded:
        return _record(load, as_json=as_json)
    found = run_loop(carry(load, _progress("reach.progress")))
    verdict = {"whole": found.whole, "reached": found.reached}
    if _plain(asdict(found) | verdict, as_json=as_json):
        return _code(reached=found.reached)
    for kind, came in (("reach.of-serial", found.serial), ("reach.of-ble", found.ble)):
        lost = (str(number) for number in (came.lost, came.again, came.disordered, came.phantom))
        click.echo(words.say("reach.arrived", words.say(kind), str(came.sent), str(came.arrived), *lost))
    click.echo(words.say("reach.set-aside", str(found.rejected), str(found.lost_links), str(found.held)))
    click.echo(words.say("reach.cpu", f"{100 * found.cpu:.1f}", f"{100 * REACH:.0f}"))
    click.echo(words.say("reach.pace", f"{found.wall_s:.1f}", f"{found.late_ms:.0f}", *_machine()))
    return _code(reached=found.reached)


def _record(load: "Load", *, as_json: bool) -> int:
    from bridge.figures.recording import record

    found = run_loop(record(load, _progress("reach.progress-recorded")))
    if _plain(asdict(found) | {"reached": found.reached}, as_json=as_json):
        return _code(reached=found.reached)
    came = found.readings
    lost = (str(number) for number in (came.lost, came.again, came.disordered, came.phantom))
    click.echo(words.say("reach.recorded", str(came.sent), str(came.arrived), *lost))
    click.echo(words.say("reach.decided", str(found.assigned), words.say(f"reach.intact-{str(found.intact).lower()}")))
    click.echo(words.say("reach.set-aside", str(found.rejected), str(found.lost_links), str(found.held)))
    rate = f"{came.arrived / found.wall_s:.0f}"
    click.echo(words.say("reach.behind", f"{found.wall_s:.1f}", f"{found.behind_s:.1f}", rate, *_machine()))
    return _code(reached=found.reached)


@reach.command("unplug", help=words.say("reach.command-unplug"))
@click.option("--cycles", type=click.IntRange(0), default=500, show_default=True, help=words.say("reach.cycles"))
@click.option("--drops", type=click.IntRange(0), default=50, show_default=True, help=words.say("reach.drops"))
@click.option("--seed", type=int, default=1, show_default=True, help=words.say("reach.seed"))
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def unplug(cycles: int, drops: int, seed: int, as_json: bool) -> int:
    """Exit code 1 where a figure is missed, 3 where there is nothing to measure it with."""
    from bridge.figures import unplug as figure

    found = {}
    if cycles:
        found["serial"] = run_loop(figure.unplug(cycles, seed, _progress("reach.progress-cycles")))
    if drops:
        found["ble"] = run_loop(figure.drop(drops, seed, _progress("reach.progress-drops")))
    reached = all(each.reached for each in found.values())
    if _plain({kind: asdict(each) | {"reached": each.reached} for kind, each in found.items()}, as_json=as_json):
        return _code(reached=reached)
    for kind, each in found.items():
        numbers = (each.cycles, each.whole, each.recorded, each.awaited)
        click.echo(words.say("reach.cycled", words.say(f"reach.of-{kind}"), *map(str, numbers)))
        wrong = (each.phantom, each.late, each.told_not_recorded, each.doubled, each.disordered)
        click.echo(words.say("reach.phantoms", *map(str, wrong)))
        intact = words.say(f"reach.intact-{str(each.intact).lower()}")
        left = (each.losses, each.returns, each.descriptors, each.threads)
        click.echo(words.say("reach.left", *map(str, left), intact))
    return _code(reached=reached)


@reach.command("fuzz", help=words.say("reach.command-fuzz"))
@click.option("--inputs", type=click.IntRange(1), default=1_000_000, show_default=True, help=words.say("reach.inputs"))
@click.option("--seed", type=int, default=1, show_default=True, help=words.say("reach.seed"))
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def fuzz(inputs: int, seed: int, as_json: bool) -> int:
    """Exit code 1 for a finding."""
    from bridge.figures.fuzz import fuzz as measure

    found = measure(inputs, seed, _progress("reach.progress-inputs"))
    reached = all(each.reached for each in found)
    if _plain({"seed": seed, "reached": reached, "profiles": [asdict(each) for each in found]}, as_json=as_json):
        return _code(reached=reached)
    from bridge.cli.figures_drawing import draw_fuzz

    draw_fuzz(found)
    return _code(reached=reached)


def _progress(code: str) -> Callable[[int, int], None]:
    """Shows how far it is and how long it may still take, on a terminal."""
    from time import monotonic

    if not sys.stderr.isatty():
        return lambda _done, _total: None
    begun = monotonic()

    def show(done: int, total: int) -> None:
        left = (monotonic() - begun) * (total - done) / done if done else 0.0
        click.echo(f"\r{words.say(code, str(done), str(total), f'{left:.0f}')}   ", nl=done == total, err=True)

    return show


def _plain(found: dict[str, object], *, as_json: bool) -> bool:
    """Print it for another program, if that is asked for; whether it was."""
    if as_json:
        click.echo(json.dumps(found, ensure_ascii=False))
    return as_json


def _machine() -> tuple[str, str]:
    """How many cores there are, and how many programs wanted one in the last minute."""
    import os

    return str(os.cpu_count() or 1), f"{os.getloadavg()[0]:.1f}"


def _code(*, reached: bool) -> int:
    return NOTHING_TO_DECIDE if reached else FINDINGS
