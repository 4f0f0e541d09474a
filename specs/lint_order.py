"""Advice on the order of a sheet: what cannot be met when its turn comes, and orders that only nearly are a star."""

from collections.abc import Iterator

from specs.advice import DECIDE, NOTE, Advice
from specs.model import TIGHTENING, Do, Group, Sheet, Stage
from specs.numbers import newton_metres

_BONDED = ("thread-locker", "threadlocker", "thread locker", "locking compound", "adhesive", "bonded")
_FEWEST_OF_A_STAR = 4


def order_advice(sheet: Sheet) -> Iterator[Advice]:
    """Groups first, then the stages in their order."""
    for group in sheet.groups.values():
        yield from _nearly_star(group)
    tight: dict[str, Stage] = {}  # group -> the tightening stage before, since it was last loosened
    waited: dict[str, tuple[int, str]] = {}  # group -> seconds of waits since then, and the last of them
    for stage in sheet.stages:
        if stage.do is Do.WAIT:
            waited = {name: (seconds + (stage.wait_s or 0), stage.id) for name, (seconds, _) in waited.items()}
        if stage.group is None:
            continue
        group = sheet.groups[stage.group]
        before = tight.get(group.id)
        if stage.do is Do.LOOSEN:
            if before is None and any(other.group == group.id and other.do in TIGHTENING for other in sheet.stages):
                yield Advice(NOTE, f"stages.{stage.id}", "sheet.loosen-first", (stage.id, group.id))
            tight.pop(group.id, None)
            waited.pop(group.id, None)
        if stage.do not in TIGHTENING:
            continue
        if stage.do is Do.ANGLE:
            yield from _snug(stage, before)
            yield from _in_time(stage, waited.get(group.id))
        elif before is not None:
            yield from _bonded(stage, before, group)
        if stage.any_order and group.pattern == "star":
            yield Advice(NOTE, f"stages.{stage.id}.order", "sheet.star-in-any-order", (stage.id, group.id))
        tight[group.id] = stage
        waited[group.id] = (0, "")
    yield from _last(sheet)


def _snug(turn: Stage, before: Stage | None) -> Iterator[Advice]:
    path = f"stages.{turn.id}"
    if before is None:
        yield Advice(DECIDE, path, "sheet.turn-without-snug", (turn.id, str(turn.snug)))
    elif turn.snug is not None and before.limits is not None and before.limits.side(newton_metres(turn.snug)):
        yield Advice(DECIDE, f"{path}.snug", "sheet.snug-differs", (turn.id, str(turn.snug), before.id))


def _in_time(turn: Stage, waited: tuple[int, str] | None) -> Iterator[Advice]:
    if turn.within_time_s is not None and waited is not None and waited[0] >= turn.within_time_s:
        minutes = (str(turn.within_time_s // 60), str(waited[0] // 60))
        yield Advice(DECIDE, f"stages.{turn.id}.within_time", "sheet.wait-past-time", (turn.id, *minutes, waited[1]))


def _bonded(stage: Stage, before: Stage, group: Group) -> Iterator[Advice]:
    said = (group.lubrication or "").casefold()
    if stage.limits == before.limits and any(word in said for word in _BONDED):
        yield Advice(DECIDE, f"stages.{stage.id}", "sheet.bonded-pulled-again", (stage.id, group.id, before.id))


def _nearly_star(group: Group) -> Iterator[Advice]:
    """An order that goes across the joint most of the time, but not always."""
    count = len(group.positions)
    if group.pattern != "listed" or count < _FEWEST_OF_A_STAR or count % 2:
        return
    at = {name: index for index, name in enumerate(group.positions)}
    pairs = [(group.order[index], group.order[index + 1]) for index in range(0, count, 2)]
    off = [(one, other) for one, other in pairs if (at[other] - at[one]) % count != count // 2]
    if off and 2 * len(off) <= len(pairs):
        one, other = off[0]
        across = group.positions[(at[one] + count // 2) % count]
        yield Advice(DECIDE, f"groups.{group.id}.order", "sheet.star-broken", (group.id, one, other, across))


def _last(sheet: Sheet) -> Iterator[Advice]:
    if sheet.stages and sheet.stages[-1].do is Do.WAIT:
        stage = sheet.stages[-1]
        yield Advice(NOTE, f"stages.{stage.id}", "sheet.wait-for-nothing", (stage.id,))
