"""`witnessmark replay`: a capture through the real pipeline, as lines for a program or a table for a person."""

from pathlib import Path

import click

from bridge import words
from bridge.cli.cautions import show_cautions
from bridge.errors import FINDINGS, NOTHING_TO_DECIDE


@click.command("replay", help=f"{words.say('record.command-replay')}\n\n{words.say('record.argument-replay')}")
@click.argument("sheet_name", metavar="SHEET")
@click.argument("capture_name", metavar="CAPTURE")
@click.option("--trail", metavar="FILE", help=words.say("record.option-replay-trail"))
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def replay(sheet_name: str, capture_name: str, trail: str | None, as_json: bool) -> int:
    """Exit code 1 with any finding beyond notes."""
    from contextlib import ExitStack
    from importlib.metadata import version

    from bridge.audit.finding import NOTE
    from bridge.audit.findings import closing
    from bridge.audit.outcome import last_line, reading_rows
    from bridge.cli.wording import last_json, row_json
    from bridge.service import replaying
    from bridge.trail.clock import SystemClock
    from bridge.trail.writer import Writer
    from drivers.load import load_capture
    from specs.load import find

    program = version("witnessmark")
    sheet, capture = find(sheet_name), load_capture(Path(capture_name))
    prepared = replaying.prepare(sheet, capture)
    with ExitStack() as stack:
        writer = None
        if trail is not None:
            opened = Writer.open(trail, mode="work", program=program, clock=SystemClock())
            writer = stack.enter_context(opened)
        done = replaying.record(prepared, writer) if writer else replaying.record_nowhere(prepared, program)
    rows, last = reading_rows(done.job), last_line(done.job, str(done.head))
    if as_json:
        for row in rows:
            click.echo(row_json(row))
        click.echo(last_json(last))
    else:
        from bridge.cli.outcome_drawing import draw_closing, draw_counts, draw_findings, draw_rows

        show_cautions(*sheet.cautions)
        draw_rows(rows)
        draw_counts(last)
        draw_findings(last.findings)
        draw_closing(closing(last.findings, done.job.ledger), last.head)
    return FINDINGS if any(finding.severity != NOTE for finding in last.findings) else NOTHING_TO_DECIDE
