"""What `audit --pdf` writes: the record of a job on paper."""

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bridge.cli.new_file import write_new
from bridge.cli.sheet_print import printed
from bridge.words import say

if TYPE_CHECKING:
    from bridge.audit.summary import Audit
    from bridge.core.job import Job
    from bridge.trail.reader import Reader


def print_job(job: "Job", found: "Audit", reader: "Reader", file: Path) -> None:
    """Raises `BadInput` where the file is there, `TrailTrouble` for a trail that cannot be read."""
    from bridge.reports.filled_paper import filled_pdf
    from bridge.reports.filling import filled_job

    practice = job.started.origin == "practice" or reader.mode() == "practice"
    paper = filled_job(job, found, reader.events(job=job.id))
    write_new(file, filled_pdf(paper, printed(datetime.now(UTC)), practice=practice))
    click.echo(say("paper.written", str(file)), err=True)
