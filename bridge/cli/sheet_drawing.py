"""Draws a sheet's view for a person at a terminal."""

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.markup import escape
from rich.table import Table

from bridge.cli.sheet_view import GroupLine, SheetView, StageLine
from bridge.reports.wording import amount_of_time
from bridge.words import say
from specs.bands import Band

PIPED_WIDTH = 110


def draw(view: SheetView) -> None:
    """Print title, wrenches, groups with their order, and the stages in due order to stdout."""
    console = Console(highlight=False)
    if not console.is_terminal:
        console.width = PIPED_WIDTH
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
    for stage in view.stages:
        for remark in _remarks(stage):
            console.print(f"{escape(stage.id)}: {escape(remark)}")
    console.print(escape(say("screen.sheet-count", str(view.steps), str(view.pulls))))
    if view.most_steps > view.steps:
        console.print(escape(say("screen.sheet-count-more", str(view.most_steps - view.steps))))


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
    table.add_column(say("screen.column-stage"))
    table.add_column(say("screen.column-group"))
    table.add_column(say("screen.column-asks"))
    table.add_column(say("screen.column-limits"), no_wrap=True)
    table.add_column(say("screen.column-on-wrench"), no_wrap=True)
    table.add_column(say("screen.column-steps"), justify="right")
    for line in view.stages:
        limits = [_band(line.limits), _band(line.turn_limits), _band(line.final)]
        cells = (
            line.id,
            line.group or "",
            _asks(line),
            "\n".join(text for text in limits if text),
            _on_wrench(line),
            str(line.steps),
        )
        table.add_row(*map(escape, cells))
    return table


def _on_wrench(line: StageLine) -> str:
    """Target and limits in the unit of the wrench; of a turn, its snug and its final torque."""
    if line.on_wrench is not None:
        return say("screen.same") if line.on_wrench == line.limits else _aimed(line.on_wrench)
    snug = "" if line.snug_on_wrench is None else say("screen.snug-on-wrench", line.snug_on_wrench.span())
    return "\n".join(text for text in (snug, _band(line.final_on_wrench)) if text)


def _aimed(band: Band) -> str:
    if band.target is None:
        return _band(band)
    return f"{band.target} ({_span(band.low, band.high)}) {band.unit}"


def _asks(line: StageLine) -> str:
    """What is to be done, in a few words."""
    if line.turn is not None:
        return say("screen.do-angle", line.snug or "", line.turn)
    if line.target is not None:
        return say("screen.do-torque", line.target)
    if line.wait_s is not None:
        return say("screen.do-wait", amount_of_time(line.wait_s))
    if line.text is not None:
        return line.text
    return say(f"screen.asks-{line.do}")


def _remarks(line: StageLine) -> list[str]:
    """What else holds for the stage, a line each."""
    found = []
    if line.add is not None:
        found.append(say("screen.stage-add", line.add))
    if line.rounds is not None:
        found.append(say("screen.stage-rounds", *map(str, line.rounds)))
    if line.hold is not None:
        found.append(say("screen.stage-hold", line.hold))
    if line.note is not None:
        found.append(line.note)
    return found + [f"! {caution}" for caution in line.cautions]


def _band(band: Band | None) -> str:
    return "" if band is None else f"{_span(band.low, band.high)} {band.unit}"


def _span(low: str | None, high: str | None) -> str:
    if low is None or high is None:
        return say("screen.at-most", high) if high is not None else say("screen.at-least", low or "")
    return f"{low} … {high}"
