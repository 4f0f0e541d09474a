"""Draws the outcome of a replay or an audit for a person at a terminal."""

from collections.abc import Sequence
from decimal import Decimal

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.markup import escape
from rich.table import Table

from bridge.audit.finding import SEVERITIES, Finding
from bridge.audit.outcome import LastLine, ReadingRow, RejectedRow
from bridge.audit.summary import Audit
from bridge.reports.wording import finding_text, sentence
from bridge.words import say

_RIGHT = frozenset(
    ("reading", "t", "value", "confidence", "steps", "done", "due", "open", "first", "last", "target", "low", "high")
)


def draw_rows(rows: Sequence[ReadingRow | RejectedRow]) -> None:
    """Print a table of all readings in arrival order."""
    table = _table("reading", "t", "lane", "value", "unit", "assignment", "step", "verdict", "confidence")
    for row in rows:
        if isinstance(row, RejectedRow):
            table.add_row(str(row.n), "", "", "", "", escape(say("record.rejected", sentence(row.rejected))))
            continue
        word = row.assignment
        if row.question is not None:
            word += f", {say('record.question', str(row.question))}"
        cells = (str(row.n), f"{row.t:.1f}", row.wrench, row.value, row.unit or "", word, row.step or "", row.verdict)
        table.add_row(*map(escape, cells), f"{row.confidence:.3f}")
    _console().print(table)


def draw_counts(last: LastLine) -> None:
    """Print how many steps are done, and which are due and open."""
    console = _console()
    counts = (last.steps, last.done, len(last.due), len(last.open))
    console.print(escape(say("record.counts", *map(str, counts))))
    for code, ids in (("record.due", last.due), ("record.open", last.open)):
        if ids:
            console.print(escape(say(code, ", ".join(ids))))
    console.print()


def draw_findings(findings: Sequence[Finding]) -> None:
    """Print findings by severity, worst first; those that say the same of several steps stand in one line."""
    console = _console()
    if not findings:
        console.print(escape(say("record.no-findings")))
    for severity in SEVERITIES:
        of_it = [finding for finding in findings if finding.severity == severity]
        if of_it:
            console.print(f"[bold]{escape(severity)}[/bold] ({len(of_it)})")
        alike: dict[str, list[str]] = {}
        for finding in of_it:
            alike.setdefault(finding_text(finding), []).append(finding.step or "")
        for text, steps in alike.items():
            named = ", ".join(step for step in steps if step)
            console.print(escape(f"  - {named}: {text}" if named else f"  - {text}"))
    console.print()


def draw_closing(closing: str, head: str) -> None:
    """Print the head, what the record is, and what it is not."""
    console = _console()
    console.print(escape(say("record.head", head)))
    console.print(f"[bold]{escape(closing)}[/bold]")
    console.print(escape(say("record.not-release")))


def draw_audit(audit: Audit) -> None:
    """Print the whole audit of a job."""
    console = _console()
    asset = audit.asset or say("record.nobody-named")
    of_it = (audit.job, asset, audit.sheet, audit.revision, audit.title, audit.origin)
    console.print(escape(say("record.job", *of_it)))
    if audit.people:
        console.print(escape(say("record.people", ", ".join(audit.people))))
    console.print(f"\n[bold]{escape(say('record.stages'))}[/bold]")
    stages = _table("stage", "steps", "done", "due", "open", "first", "last")
    for line in audit.stages:
        counts = (line.steps, line.done, line.due, line.open)
        stages.add_row(escape(line.stage), *map(str, counts), _time(line.first_t), _time(line.last_t))
    console.print(stages)
    if audit.order:
        console.print(escape(say("record.order", ", ".join(audit.order))))
    console.print(f"\n[bold]{escape(say('record.limits'))}[/bold]")
    limits = _table("step", "target", "low", "high", "value", "unit", "verdict", "stands", "evidence", "lane", "t")
    for each in audit.limits:
        numbers = (each.target, each.low, each.high, each.value)
        cells = (each.step, *numbers, each.unit, each.verdict, each.standing, each.evidence, each.lane)
        texts = [escape(text or "") for text in cells]
        limits.add_row(*texts, _time(each.t) if each.pulled_t is None else f"≈ {_time(each.pulled_t)}")
    console.print(limits)
    console.print(f"[bold]{escape(say('record.wrenches'))}[/bold]")
    for paper in audit.certificates:
        shown = (paper.lane, paper.role, paper.serial, paper.certificate, paper.due_on)
        console.print(escape(say("record.certificate", *(text or say("record.nobody-named") for text in shown))))
    console.print()
    draw_findings(audit.findings)
    draw_closing(audit.closing, audit.head)


def _time(t: Decimal | None) -> str:
    return "" if t is None else f"{t:.1f}"


def _table(*columns: str) -> Table:
    table = Table(box=SIMPLE_HEAD, pad_edge=False, padding=(0, 1, 0, 0))
    for column in columns:
        right = column in _RIGHT
        table.add_column(say(f"record.column-{column}"), justify="right" if right else "left")
    return table


def _console() -> Console:
    return Console(highlight=False, markup=True)
