"""Advice on the order of a sheet: what cannot be met when its turn comes, and orders that only nearly are a star."""

import re
from collections.abc import Iterator, Sequence

from specs.advice import DECIDE, NOTE, Advice
from specs.lint_limits import accept_each_other
from specs.model import TIGHTENING, Do, Group, Sheet, Stage
from specs.numbers import newton_metres

_LOCKER = r"thread[- ]?lock(?:er|ing)?\b|\blocking compound"
_IN_CAUTION = re.compile(_LOCKER, re.IGNORECASE)  # a bonded washer may be named there
_IN_LUBRICATION = re.compile(rf"{_LOCKER}|\badhesive|\bbonded\b", re.IGNORECASE)
_NONE_OF_IT = re.compile(r"(?:\b(?:no|not|never|without|old|remove|clean)\b|n't\b)[^.;:]{0,30}$", re.IGNORECASE)
_FEWEST_OF_A_STAR = 4
_LEAST_ACROSS = 3  # one pair in so many goes across: meant as a star


def order_advice(sheet: Sheet) -> Iterator[Advice]:
    """Groups first, then the stages in their order."""
    for group in sheet.groups.values():
        yield from _nearly_star(group)
        yield from _same_place(group)
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
        yield from _bonded_rounds(stage, group)
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
    if _is_bonded(group) and accept_each_other(stage, before):
        yield Advice(DECIDE, f"stages.{stage.id}", "sheet.bonded-pulled-again", (stage.id, group.id, before.id))


def _bonded_rounds(stage: Stage, group: Group) -> Iterator[Advice]:
    if stage.until is not None and _is_bonded(group):
        yield Advice(DECIDE, f"stages.{stage.id}.rounds", "sheet.bonded-rounds", (stage.id, group.id))


def _is_bonded(group: Group) -> bool:
    """Whether lubrication or cautions name a locker, and not only to forbid it."""
    said = [(_IN_LUBRICATION, group.lubrication or ""), *((_IN_CAUTION, text) for text in group.cautions)]
    return any(
        not _NONE_OF_IT.search(text[: match.start()]) for pattern, text in said for match in pattern.finditer(text)
    )


def _same_place(group: Group) -> Iterator[Advice]:
    at: dict[object, str] = {}
    for name, place in zip(group.positions, group.places, strict=False):
        if place in at:
            yield Advice(DECIDE, f"groups.{group.id}.places", "sheet.places-same", (group.id, at[place], name))
            return
        at[place] = name


def _nearly_star(group: Group) -> Iterator[Advice]:
    """An order that goes across a ring often enough to be meant so, but not always; places may say that it is none."""
    count = len(group.positions)
    if group.pattern != "listed" or count < _FEWEST_OF_A_STAR or count % 2 or group.places:
        return
    at = {name: index for index, name in enumerate(group.positions)}
    pairs = [(group.order[index], group.order[index + 1]) for index in range(0, count, 2)]
    off = [(one, other) for one, other in pairs if (at[other] - at[one]) % count != count // 2]
    line = [at[name] for name in group.order]
    if _spreads(line) or _spreads(line[::-1]):
        return
    if off and _LEAST_ACROSS * (len(pairs) - len(off)) >= len(pairs):
        one, other = off[0]
        across = group.positions[(at[one] + count // 2) % count]
        yield Advice(DECIDE, f"groups.{group.id}.order", "sheet.star-broken", (group.id, one, other, across))


def _spreads(line: Sequence[int]) -> bool:
    """From one place outwards without a gap: a row from its middle or, backwards, from its ends."""
    return all(max(line[:n]) - min(line[:n]) == n - 1 for n in range(1, len(line) + 1))


def _last(sheet: Sheet) -> Iterator[Advice]:
    if sheet.stages and sheet.stages[-1].do is Do.WAIT:
        stage = sheet.stages[-1]
        yield Advice(NOTE, f"stages.{stage.id}", "sheet.wait-for-nothing", (stage.id,))
