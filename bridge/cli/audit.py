"""`witnessmark audit`: what the record of a job holds and what it lacks, read from the trail alone."""

import os
from pathlib import Path

import click

from bridge import config, words
from bridge.cli.cautions import show_cautions
from bridge.cli.recorded_job import chosen, folded
from bridge.errors import FINDINGS, NOTHING_TO_DECIDE


@click.command("audit", help=f"{words.say('record.command-audit')}\n\n{words.say('record.argument-audit')}")
@click.argument("name", metavar="JOB")
@click.option("--trail", metavar="FILE", help=words.say("record.option-audit-trail"))
@click.option("--pdf", type=click.Path(path_type=Path, dir_okay=False), help=words.say("paper.option-audit-pdf"))
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def audit(name: str, trail: str | None, as_json: bool, pdf: Path | None = None) -> int:
    """Exit code 1 with any finding beyond notes. Raises `BadInput` for a paper that is there already."""
    from bridge.audit import summary
    from bridge.audit.finding import NOTE
    from bridge.trail.reader import Reader

    place = str(config.build(os.environ, trail=trail).trail)
    with Reader.open(place) as reader:
        listed = chosen(reader, place, name)
        job = folded(reader, place, listed)
        found = summary.audit(job, str(reader.head()), listed.started_utc[:10])
        if pdf is not None:
            from bridge.cli.audit_print import print_job

            print_job(job, found, reader, pdf)
    if as_json:
        from bridge.cli.wording import audit_json

        click.echo(audit_json(found))
    else:
        from bridge.cli.outcome_drawing import draw_audit
        from bridge.cli.practice_mark import draw_marked

        show_cautions(*job.plan.sheet.cautions)
        if job.started.origin == "practice":
            draw_marked(lambda: draw_audit(found))
        else:
            draw_audit(found)
    return FINDINGS if any(finding.severity != NOTE for finding in found.findings) else NOTHING_TO_DECIDE
