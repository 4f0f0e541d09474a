"""Draws for a person at a terminal why a reading stands where it does."""

from collections.abc import Sequence

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from bridge.audit.explained import Explained
from bridge.audit.outcome import ReadingRow, RejectedRow
from bridge.cli.explain_wording import Part, answer, answers, number, odds, parts
from bridge.cli.wording import because
from bridge.core.explaining import Account, Explanation
from bridge.reports.wording import sentence
from bridge.words import say
from specs.model import Plan

FILLS = ("░", "▒", "█")  # of the parts of a bar, told apart by their shape and named below it
MOST_COLUMNS = 60  # of the longest bar
LEAST_COST = 1.0  # that fills it, so that small costs look small


def draw_explained(found: Explained | RejectedRow, plan: Plan, job: str) -> None:
    """Print what a reading was, where it stands, and what that cost against the next best."""
    console = Console(highlight=False, markup=True)
    if isinstance(found, RejectedRow):
        console.print(escape(say("explain.rejected", str(found.n), job, sentence(found.rejected))))
        console.print(escape(say("explain.rejected-raw", found.raw)))
        return
    _reading(console, found, job)
    if found.changed is not None:
        changed = (answer(found.changed.step), found.changed.assignment, f"{found.changed.confidence:.3f}")
        code = "explain.changed-unweighed" if found.weighed is None else "explain.changed"
        console.print(f"\n[bold]{escape(say(code, *changed))}[/bold]")
    if found.unweighed is not None:
        console.print(f"\n{escape(sentence(found.unweighed))}")
    if found.weighed is not None:
        _weighed(console, found, found.weighed, plan)


def bar(costs: Sequence[float], full: float, columns: int) -> str:
    """A bar of the parts of a cost, each in its own fill; `full` fills all columns. Ends where their sum does."""
    text, total = "", 0.0
    for cost, fill in zip(costs, FILLS, strict=True):
        total += cost  # that of the way is below 0 where the pause speaks for it
        text += fill * (round(total / full * columns) - len(text))
    return text


def _reading(console: Console, found: Explained, job: str) -> None:
    row = found.row
    value = f"{row.value} {row.unit}" if row.unit else say("explain.no-unit", row.value)
    if row.newton_metres is not None and row.unit != "N·m":
        value = say("explain.also", value, number(float(row.newton_metres), 2))
    of_it = (str(row.n), job, value, row.wrench, f"{row.t:.1f}")
    if row.counter is None:
        console.print(escape(say("explain.reading", *of_it)))
    else:
        console.print(escape(say("explain.reading-counted", *of_it, str(row.counter))))
    if found.weighed is not None and found.weighed.pull != row.n:
        console.print(escape(say("explain.of-pull", str(found.weighed.pull))))
    for known in found.known:
        console.print(escape(sentence(known)))
    console.print(f"\n[bold]{escape(_stands(row))}[/bold]")
    console.print(escape(because(row.because)))
    if row.question is not None:
        console.print(escape(say("explain.asks", str(row.question), answers(found.choices))))
        if len(found.hanging) > 1:
            console.print(escape(say("explain.hanging", ", ".join(map(str, found.hanging)))))


def _stands(row: ReadingRow) -> str:
    confidence = f"{row.confidence:.3f}"
    if row.step is None:
        return say("explain.stands-nowhere", row.assignment, row.verdict, confidence)
    by = say(f"explain.by-{(row.position_by or 'order').replace(' ', '-')}")
    return say("explain.stands", row.step, row.assignment, row.verdict, by, confidence)


def _weighed(console: Console, found: Explained, weighed: Explanation, plan: Plan) -> None:
    console.print(f"\n[bold]{escape(say('explain.costs'))}[/bold]")
    accounts = [weighed.best] if weighed.other is None else [weighed.best, weighed.other]
    for code, account in zip(("explain.best", "explain.other"), accounts, strict=False):
        console.print()
        console.print(escape(say(code, answer(account.step))))
        console.print(_table(parts(found, weighed, account, plan), account))
    console.print()
    _picture(console, accounts)
    console.print()
    if weighed.other is None:
        console.print(escape(say("explain.alone")))
    else:
        console.print(escape(odds(found, weighed, weighed.other, plan)))
    console.print(escape(say("explain.confidence", f"{weighed.best.share:.3f}")))


def _table(rows: Sequence[Part], account: Account) -> Table:
    table = Table(box=None, show_header=False, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column(no_wrap=True)
    table.add_column(justify="right", no_wrap=True)
    table.add_column()
    for part in rows:
        table.add_row(f"  {escape(part.name)}", _cost(part.cost), escape(part.words))
    table.add_row(f"  {escape(say('explain.sum'))}", f"[bold]{_cost(account.cost)}[/bold]", "")
    return table


def _picture(console: Console, accounts: Sequence[Account]) -> None:
    """The costs as bars one under the other, of equal scale, with what their parts are."""
    names = [answer(account.step) for account in accounts]
    width = max(map(len, names))
    most = max(LEAST_COST, *(account.cost for account in accounts))
    columns = min(MOST_COLUMNS, console.width - width - len(_cost(most)) - 6)
    for name, account in zip(names, accounts, strict=True):
        drawn = bar((account.way, account.value, account.rest), most, columns)
        line = f"  {name.ljust(width)}  {drawn} {_cost(account.cost)}"
        console.print(escape(line), soft_wrap=True)
    words = ("explain.part-way", "explain.part-value", "explain.part-rest")
    legend = "   ".join(f"{fill} {say(code)}" for fill, code in zip(FILLS, words, strict=True))
    console.print(escape(f"  {' ' * width}  {legend}"))


def _cost(cost: float) -> str:
    return f"{cost + 0.0:.1f}".replace("-0.0", "0.0")
