"""`witnessmark practice`: a sheet worked on simulated wrenches, by a simulated hand or from the keyboard."""

import json
import os
from dataclasses import asdict
from pathlib import Path

import click

from bridge import words
from bridge.cli.cautions import show_cautions
from bridge.errors import NOTHING_TO_DECIDE, BadInput

HANDS = ("careful", "hurried")


@click.command("practice", help=words.say("screen.command-practice"))
@click.argument("name", metavar="SHEET")
@click.option("--hand", type=click.Choice(HANDS), help=words.say("screen.option-hand"))
@click.option("--seed", type=int, default=1, show_default=True, help=words.say("screen.option-seed"))
@click.option("--trail", type=click.Path(path_type=Path), help=words.say("screen.option-practice-trail"))
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def practice(name: str, hand: str | None, seed: int, trail: Path | None, as_json: bool) -> int:
    """Raises `SheetErrors`, `BadInput`, `TrailTrouble`, `DriverError`."""
    from bridge.cli.practice_job import Trial, run
    from bridge.cli.screen_keys import is_terminal
    from bridge.cli.stopping import run_loop
    from bridge.config import build
    from drivers.sim.hand import HANDS as KNOWN
    from specs.expand import expand
    from specs.load import find

    plan = expand(find(name))
    if hand is None and not is_terminal():
        raise BadInput("practice.no-keyboard")
    place = trail or build(os.environ).trail.with_name("practice.trail")
    place.parent.mkdir(parents=True, exist_ok=True)
    if not as_json:
        show_cautions(*plan.sheet.cautions)
        click.echo(words.say("practice.teaches"), err=True)
    style = "json" if as_json else "screen" if hand is None else "lines"
    chosen = None if hand is None else KNOWN[hand]
    worked = run_loop(run(Trial(plan, place, chosen, seed, None, words.say("practice.asset"), style)))
    if as_json:
        scores = [asdict(score) for score in worked.scores]
        click.echo(json.dumps({"practice": {"job": worked.job, "hand": hand, "seed": seed, "groups": scores}}))
        return NOTHING_TO_DECIDE
    for line in worked.lines():
        click.echo(line)
    click.echo(words.say("practice.kept", str(place), worked.job))
    return NOTHING_TO_DECIDE
