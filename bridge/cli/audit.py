"""`witnessmark audit`: what the record of a job holds and what it lacks, read from the trail alone."""

import os
from typing import TYPE_CHECKING

import click

from bridge import config, words
from bridge.cli.cautions import show_cautions
from bridge.errors import FINDINGS, NOTHING_TO_DECIDE, BadInput, TrailTrouble

if TYPE_CHECKING:
    from collections.abc import Callable

    from bridge.audit.summary import Audit
    from bridge.core.job import Job
    from bridge.trail.jobs import TrailJob
    from bridge.trail.reader import Reader


@click.command("audit", help=f"{words.say('record.command-audit')}\n\n{words.say('record.argument-audit')}")
@click.argument("name", metavar="JOB")
@click.option("--trail", metavar="FILE", help=words.say("record.option-audit-trail"))
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def audit(name: str, trail: str | None, as_json: bool) -> int:
    """Exit code 1 with any finding beyond notes."""
    from bridge.audit import summary
    from bridge.audit.finding import NOTE
    from bridge.trail.reader import Reader

    place = str(config.build(os.environ, trail=trail).trail)
    with Reader.open(place) as reader:
        listed = _chosen(reader, place, name)
        job = _folded(reader, place, listed)
        found = summary.audit(job, str(reader.head()), listed.started_utc[:10])
    if as_json:
        from bridge.cli.wording import audit_json

        click.echo(audit_json(found))
    else:
        from bridge.cli.outcome_drawing import draw_audit

        show_cautions(*job.plan.sheet.cautions)
        if job.started.origin == "practice":
            _draw_practice(draw_audit, found)
        else:
            draw_audit(found)
    return FINDINGS if any(finding.severity != NOTE for finding in found.findings) else NOTHING_TO_DECIDE


def _draw_practice(draw: "Callable[[Audit], None]", found: "Audit") -> None:
    """The same with PRACTICE on every line, so that no part of it passes for work."""
    from contextlib import redirect_stdout
    from io import StringIO

    drawn = StringIO()
    with redirect_stdout(drawn):
        draw(found)
    for line in drawn.getvalue().splitlines():
        click.echo(f"{words.say('capture.practice')} | {line}".rstrip())


def _chosen(reader: "Reader", place: str, name: str) -> "TrailJob":
    """The job of that id, that beginning of one, or the last. Raises `BadInput`."""
    jobs = list(reader.jobs())
    if not jobs:
        raise BadInput("record.audit-no-jobs", place)
    if not name.strip():
        raise BadInput("record.audit-no-job", place, name, jobs[-1].id)
    if name == "last":
        return jobs[-1]
    found = [job for job in jobs if job.id == name] or [job for job in jobs if job.id.startswith(name)]
    if not found:
        raise BadInput("record.audit-no-job", place, name, jobs[-1].id)
    if len(found) > 1:
        raise BadInput("record.audit-many-jobs", name, ", ".join(job.id for job in found[:5]))
    return found[0]


def _folded(reader: "Reader", place: str, listed: "TrailJob") -> "Job":
    """The job folded from its events, on the sheet that the trail holds. Raises `TrailTrouble`."""
    from bridge.core.events import JobStarted, SheetStored
    from bridge.core.job import Job
    from specs.expand import expand
    from specs.parse import parse

    stored = (event.event.body for event in reader.events(kinds={"sheet stored"}))
    text = next((body.text for body in stored if isinstance(body, SheetStored) and body.digest == listed.sheet), None)
    if text is None:
        raise TrailTrouble("record.audit-no-sheet", place, listed.id)
    job: Job | None = None
    for item in reader.events(job=listed.id):
        if job is not None:
            job.fold(item.seq, item.event)
        elif isinstance(item.event.body, JobStarted):
            job = Job(expand(parse(text)), listed.id, item.event.body)
    if job is None:
        raise BadInput("record.audit-no-job", place, listed.id, listed.id)
    return job
