"""`witnessmark revise`: move an unfinished job to a corrected revision of its sheet."""

import json
import os
from typing import TYPE_CHECKING

import click

from bridge import config, words
from bridge.errors import NOTHING_TO_DECIDE

if TYPE_CHECKING:
    from bridge.cli.revise_job import Moved


@click.command("revise", help=f"{words.say('revise.command')}\n\n{words.say('revise.arguments')}")
@click.argument("name", metavar="JOB")
@click.argument("sheet", metavar="SHEET")
@click.option("--by", "person", help=words.say("revise.option-by"))
@click.option("--reason", help=words.say("revise.option-reason"))
@click.option("--look", is_flag=True, help=words.say("revise.option-look"))
@click.option("--trail", metavar="FILE", help=words.say("record.option-audit-trail"))
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def revise(
    name: str, sheet: str, person: str | None, reason: str | None, look: bool, trail: str | None, as_json: bool
) -> int:
    """Raises `BadInput`, `SpecError`, `TrailTrouble`; without `--look` a person and a reason are needed."""
    from bridge.cli.revise_job import Wanted, plain, run

    place = config.build(os.environ, trail=trail).trail
    moved = run(Wanted(place, name, sheet, person, reason, look))
    if as_json:
        click.echo(json.dumps(plain(moved), ensure_ascii=False))
    else:
        _show(moved)
    return NOTHING_TO_DECIDE


def _show(moved: "Moved") -> None:
    from specs.compare_steps import Became

    click.echo(words.say("revise.looked" if moved.looked else "revise.moved", moved.job, moved.before, moved.after))
    for line in moved.differs:
        click.echo(f"  {line}")
    for remark in moved.remarks:
        click.echo(remark)
    for became in Became:
        steps = moved.steps[became]
        if steps:
            shown = ", ".join(steps[:12]) + (" …" if len(steps) > 12 else "")
            counted = words.say(f"revise.step-{became.value.replace(' ', '-')}", str(len(steps)))
            click.echo(f"  {counted}" + ("" if became is Became.EQUAL else f": {shown}"))
    for change in moved.verdicts:
        click.echo("  " + words.say("revise.verdict", str(change.n), change.step or "", change.was, change.now))
    if not moved.looked:
        click.echo(words.say("revise.due", str(moved.due), str(moved.open)))
