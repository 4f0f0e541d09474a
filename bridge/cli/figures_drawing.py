"""Draws figures for a person at a terminal."""

from collections.abc import Sequence
from typing import Literal

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.markup import escape
from rich.table import Table

from bridge.figures.beside import JobBeside
from bridge.figures.fuzz import Fuzzed
from bridge.figures.plain import stretches
from bridge.figures.tally import MOST_SEEDS, Share, Tally, ranked
from bridge.words import say

FILE_WIDTH = 160  # columns where the output is no terminal
_LEFT = frozenset(("profile", "what", "lane", "truth", "step", "assignment", "verdict", "runner-up", "slips"))


def draw(tally: Tally, seed: int, rates: str, without: Sequence[str]) -> None:
    """Print all figures of a run."""
    console = _console()
    of_it = (str(tally.jobs), str(seed), rates, str(tally.steps), str(tally.readings))
    console.print(escape(say("figures.heading", *of_it)))
    if without:
        console.print(escape(say("figures.without", ", ".join(without))))
    table = _table("what", "count", "right", "wrong", "asked", "line", "nearest")
    for name in ("all", "late_counted", "late_uncounted", "unproven"):
        shares = [getattr(way, name) for way in (tally.program, tally.in_line, tally.nearest)]
        _row(table, say(f"figures.row-{_key(name)}"), *shares)
    table.add_section()
    for slip, share in ranked(tally.program.by_slip):
        others = [way.by_slip.get(slip, Share()) for way in (tally.in_line, tally.nearest)]
        _row(table, say(f"figures.slip-{_key(slip)}"), share, *others)
    console.print(table)
    _confidence(console, tally)
    _counts(console, tally)


def _row(table: Table, what: str, program: Share, in_line: Share, nearest: Share) -> None:
    if not program.readings:
        return
    shares = [_percent(part, program.readings) for part in (program.right, program.wrong, program.asked)]
    others = [_percent(other.right, other.readings) for other in (in_line, nearest)]
    table.add_row(escape(what), str(program.readings), *shares, *others)


def _confidence(console: Console, tally: Tally) -> None:
    console.print(escape(say("figures.confidence")))
    table = _table("sure", "count", "share-right")
    for (low, high), share in zip(stretches(), tally.confidence, strict=True):
        name = say("figures.below", high) if low == "0" else say("figures.between", low, high)
        table.add_row(name, str(share.readings), _percent(share.right, share.readings))
    console.print(table)


def _counts(console: Console, tally: Tally) -> None:
    console.print(escape(say("figures.counts", str(tally.questions), str(tally.answers), str(tally.unanswered))))
    answered = (_percent(part, tally.answered.readings) for part in (tally.answered.right, tally.answered.wrong))
    console.print(escape(say("figures.answered", *answered)))
    console.print(escape(say("figures.ends", str(tally.ends_right), str(tally.jobs))))
    console.print(escape(say("figures.traceless", _percent(tally.traceless, tally.readings))))
    console.print(escape(say("figures.left-out", str(tally.left_out), str(tally.left_out_told))))
    console.print(escape(say("figures.outside", str(tally.within_outside))))
    if tally.astray:
        shown = tally.astray[:MOST_SEEDS]
        console.print(escape(say("figures.astray-heading", str(len(shown)), str(len(tally.astray)))))
        for each in shown:
            console.print(escape("  " + say("figures.astray", str(each.job), _list(each.due), _list(each.open))))


def draw_job(job: JobBeside, number: int, seed: int) -> None:
    """Print one job, reading by reading; what is not right stands in bold."""
    console = _console()
    sheet = job.sample or say("figures.made-up-sheet")
    console.print(escape(say("figures.job-heading", str(number), str(seed), sheet, str(job.steps), str(len(job.rows)))))
    columns = ("n", "t", "gap", "lane", "value", "truth", "step", "assignment", "verdict", "sure", "runner-up", "slips")
    table = _table(*columns)
    for row in job.rows:
        word = row.assignment
        if row.question is not None and word == "asked":
            word += f", {say('figures.question', str(row.question))}"
        marks = [say(f"figures.slip-{_key(slip)}") for slip in row.slips]
        marks += ["~"] if row.traceless else []
        marks += [say("figures.slip-memory")] if row.late and "memory" not in row.slips else []
        cells = (str(row.n), row.t, row.gap, row.lane, f"{row.value} {row.unit or '?'}", row.truth or "-")
        ours = (row.step or "-", word, row.verdict, row.confidence, row.runner_up or "", ", ".join(marks))
        table.add_row(*map(escape, (*cells, *ours)), style="" if row.outcome == "right" else "bold")
    console.print(table)
    console.print(escape(say("figures.ends-as", _list(job.due), _list(job.open))))
    console.print(escape(say("figures.ends-truly", _list(job.true_due), _list(job.true_open))))


def draw_fuzz(found: Sequence[Fuzzed]) -> None:
    """Print what came of each profile, and every input on which something was wrong."""
    console = _console()
    table = _table("profile", "inputs", "messages", "set-aside", "memory", "flaws")
    for each in found:
        cells = each.inputs, each.readings, each.rejected, f"{each.bytes_taken / 1024:.0f}", each.wrong
        table.add_row(escape(each.profile), *map(str, cells))
    console.print(table)
    for flaw in (flaw for each in found for flaw in each.flaws):
        # As it is, in one piece: it is to be copied.
        console.print(say("reach.flaw", flaw.what, flaw.profile, flaw.input), markup=False, soft_wrap=True)


def _list(ids: Sequence[str]) -> str:
    return ", ".join(ids) or say("figures.nothing")


def _percent(part: int, whole: int) -> str:
    return f"{100 * part / whole:.2f} %" if whole else ""


def _key(name: str) -> str:
    return name.replace("_", "-")


def _table(*columns: str) -> Table:
    table = Table(box=SIMPLE_HEAD, pad_edge=False, padding=(0, 1, 0, 0))
    for column in columns:
        justify: Literal["left", "right"] = "left" if column in _LEFT else "right"
        table.add_column(say(f"figures.column-{column}"), justify=justify, no_wrap=column != "slips")
    return table


def _console() -> Console:
    console = Console(highlight=False, markup=True)
    if not console.is_terminal:
        console.width = FILE_WIDTH
    return console
