"""`witnessmark explain`: why one reading of a job stands where it does, read from the trail alone."""

import os

import click

from bridge import config, words
from bridge.cli.cautions import show_cautions
from bridge.cli.recorded_job import chosen, folded
from bridge.errors import FINDINGS, NOTHING_TO_DECIDE, BadInput


@click.command("explain", help=f"{words.say('explain.command-explain')}\n\n{words.say('explain.argument-explain')}")
@click.argument("name", metavar="JOB")
@click.argument("n", metavar="N", type=int)
@click.option("--trail", metavar="FILE", help=words.say("record.option-audit-trail"))
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def explain(name: str, n: int, trail: str | None, as_json: bool) -> int:
    """Exit code 1 while a question about the reading is open."""
    from bridge.audit.explained import Explained, explained, last_reading
    from bridge.trail.reader import Reader

    place = str(config.build(os.environ, trail=trail).trail)
    with Reader.open(place) as reader:
        job = folded(reader, place, chosen(reader, place, name))
    found = explained(job, n)
    if found is None:
        last = last_reading(job)
        if last == 0:
            raise BadInput("explain.no-readings", job.id)
        raise BadInput("explain.no-reading", job.id, str(n), str(last))
    if as_json:
        from bridge.cli.wording import explained_json

        click.echo(explained_json(found))
    else:
        from bridge.cli.explain_drawing import draw_explained
        from bridge.cli.practice_mark import draw_marked

        show_cautions(*job.plan.sheet.cautions)
        if job.started.origin == "practice":
            draw_marked(lambda: draw_explained(found, job.plan_of(n), job.id))
        else:
            draw_explained(found, job.plan_of(n), job.id)
    return FINDINGS if isinstance(found, Explained) and found.row.question is not None else NOTHING_TO_DECIDE
