"""`witnessmark capture`: a live job on real wrenches, recorded as it happens."""

from pathlib import Path

import click

from bridge import words
from bridge.cli.cautions import show_cautions


@click.command("capture", help=words.say("screen.command-capture"))
@click.argument("name", metavar="SHEET")
@click.option("--trail", type=click.Path(path_type=Path), help=words.say("screen.option-capture-trail"))
@click.option("--asset", help=words.say("screen.option-asset"))
@click.option("--person", "people", multiple=True, required=True, help=words.say("screen.option-person"))
@click.option("--wrench", "wrenches", multiple=True, metavar="W1=SERIAL@PORT", help=words.say("screen.option-wrench"))
@click.option("--on", "places", multiple=True, metavar="W1/2=ASSEMBLY", help=words.say("capture.option-on"))
@click.option("--settings", multiple=True, metavar="W1=SETTINGS", help=words.say("capture.option-settings"))
@click.option(
    "--set-aside", "aside", multiple=True, metavar="WHAT=SERIAL:REASON", help=words.say("screen.option-aside")
)
@click.option("--resume", default="ask", metavar="JOB|ask|new", help=words.say("screen.option-resume"))
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def capture(
    name: str,
    trail: Path | None,
    asset: str | None,
    people: tuple[str, ...],
    wrenches: tuple[str, ...],
    places: tuple[str, ...],
    settings: tuple[str, ...],
    aside: tuple[str, ...],
    resume: str,
    as_json: bool,
) -> int:
    """Raises `BadInput`, `SheetErrors`, `LinkError`, `TrailTrouble`; nothing is recorded before all is checked."""
    import os

    from bridge.cli.capture_job import Wanted, run
    from bridge.cli.capture_lane import check_lanes, lane, set_aside, with_places, with_settings
    from bridge.cli.screen_keys import is_terminal
    from bridge.cli.sheet_check import remarks
    from bridge.cli.stopping import run_loop
    from bridge.config import build
    from specs.advice import STOPS
    from specs.expand import expand
    from specs.load import find

    plan = expand(find(name))
    lanes = tuple(lane(text) for text in wrenches)
    check_lanes(lanes, tuple(plan.sheet.wrenches))
    lanes = with_settings(with_places(lanes, places), settings)
    place = build(os.environ, trail=trail).trail
    if not as_json:
        show_cautions(*plan.sheet.cautions)
        for remark in remarks(name):
            if remark.severity == STOPS:
                click.echo(words.say("capture.sheet-stops", remark.text()), err=True)
    style = "json" if as_json else "screen" if is_terminal() else "lines"
    return run_loop(run(Wanted(plan, name, place, asset, people, lanes, resume, style, tuple(map(set_aside, aside)))))
