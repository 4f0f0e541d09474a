"""Draws a sheet's view for a person at a terminal."""

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.markup import escape
from rich.table import Table

from bridge.cli.sheet_view import Band, GroupLine, SheetView, StageLine
from bridge.words import say


def draw(view: SheetView) -> None:
    """Print title, wrenches, groups with their order, and the stages in due order to stdout."""
    console = Console(highlight=False, markup=True)
    console.print(f"[bold]{escape(view.title)}[/bold]")
    console.print(escape(say("screen.sheet-line", view.id, view.revision, view.class_, view.source)))
    if view.assemblies:
        console.print(escape(say("screen.sheet-assemblies", ", ".join(view.assemblies))))
    console.print()
    for line in view.wrenches:
        span = _span(line.low, line.high)
        console.print(escape(say("screen.sheet-wrench", line.id, line.title, line.unit, span)))
    console.print()
    for group in view.groups:
        _draw_group(console, group)
    console.print()
    console.print(_stage_table(view))
    more = view.most_steps - view.steps
    console.print(escape(say("screen.sheet-count", str(view.steps), str(view.pulls))))
    if more:
        console.print(escape(say("screen.sheet-count-more", str(more))))


def _draw_group(console: Console, group: GroupLine) -> None:
    order = " → ".join(group.order)
    console.print(
        escape(say("screen.sheet-group", group.id, group.title, group.wrench, str(len(group.order)), group.pattern))
    )
    console.print(f"    {escape(order)}")
    details = [*group.details, *([group.adapter] if group.adapter else [])]
    details += [say("screen.sheet-single-use")] if group.single_use else []
    if details:
        console.print(f"    {escape(', '.join(details))}")
    for caution in group.cautions:
        console.print(f"    ! {escape(caution)}")


def _stage_table(view: SheetView) -> Table:
    table = Table(box=SIMPLE_HEAD, pad_edge=False)
    for column in ("stage", "group", "asks", "limits", "on-wrench", "steps", "pulls"):
        table.add_column(say(f"screen.column-{column}"), justify="right" if column in ("steps", "pulls") else "left")
    for line in view.stages:
        limits = [_band(line.limits), _band(line.turn_limits), _band(line.final)]
        table.add_row(
            escape(line.id),
            escape(line.group or ""),
            escape("\n".join(_asks(line))),
            escape("\n".join(text for text in limits if text)),
            escape(_band(line.on_wrench) if line.on_wrench != line.limits else ""),
            str(line.steps),
            str(line.pulls or ""),
        )
    return table


def _asks(line: StageLine) -> list[str]:
    """What is to be done, in a few words a line."""
    asks = [line.target or "", line.text or "", "" if line.wait_s is None else _span_of_time(line.wait_s)]
    found = [" ".join([say(f"screen.do-{line.do}"), *(text for text in asks if text)])]
    if line.turn is not None:
        found = [say("screen.asks-turn", line.snug or "", line.turn)]
    if line.add is not None:
        found.append(say("screen.asks-add", line.add))
    if line.rounds is not None:
        found.append(say("screen.asks-rounds", *map(str, line.rounds)))
    if line.hold is not None:
        found.append(say("screen.asks-hold", line.hold))
    if line.note is not None:
        found.append(line.note)
    return found + [f"! {caution}" for caution in line.cautions]


def _band(band: Band | None) -> str:
    return "" if band is None else f"{_span(band.low, band.high)} {band.unit}"


def _span(low: str | None, high: str | None) -> str:
    if low is None or high is None:
        return say("screen.at-most", high) if high is not None else say("screen.at-least", low or "")
    return f"{low} … {high}"


def _span_of_time(seconds: int) -> str:
    for size, unit in ((3600, "h"), (60, "min")):
        if seconds and seconds % size == 0:
            return f"{seconds // size} {unit}"
    return f"{seconds} s"
