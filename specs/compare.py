"""What differs between two sheets by meaning, not by lines: comments, blanks and the form of a number do not count.

`compare(old, new).changes` is for people: one `Change` for each thing that was put in, taken out or altered.
`.steps` is for a running job: what became of each step (`specs.compare_steps`).
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from specs import units
from specs.compare_steps import Became, StepChange, stayed, steps
from specs.draft import Inline, Keys, Value
from specs.expand import expand
from specs.limits import Limits
from specs.model import Sheet, Stage
from specs.numbers import newton_metres
from specs.write import draft_of, stage_keys

NOTHING = "–"

_WRENCH = ("compare.wrench-gone", "compare.wrench-new")
_GROUP = ("compare.group-gone", "compare.group-new")
_LISTS = ("cautions",)
_TOUCHED = (Became.TARGET, Became.LIMITS, Became.NEW, Became.REPLACED)


@dataclass(frozen=True, slots=True)
class Change:
    """One difference at `path` of the sheet that has it; `code` and `args` are worded by the catalogue."""

    path: str  # "title", "groups.C.thread", "stages.C2"
    code: str
    args: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Comparison:
    """All differences, and what became of every step; without a difference the two sheets mean the same."""

    changes: tuple[Change, ...]
    steps: tuple[StepChange, ...]


def compare(old: Sheet, new: Sheet) -> Comparison:
    """Old against new. Raises `SpecError` for a number that cannot be written (`specs.write`)."""
    became = steps(expand(old), expand(new))
    drafts = draft_of(old), draft_of(new)
    changes = (
        *_keys("", "", *(dict(draft.head) for draft in drafts)),
        *_named("wrenches", _WRENCH, old.wrenches, new.wrenches, *(dict(draft.wrenches) for draft in drafts)),
        *_named("groups", _GROUP, old.groups, new.groups, *(dict(draft.groups) for draft in drafts)),
        *_stages(old, new),
    )
    return Comparison((*changes, *_people(old, new, changes, became)), became)


def _keys(path: str, of: str, old: Mapping[str, Value], new: Mapping[str, Value]) -> Iterator[Change]:
    """One change for each key whose value is another; for lists of words one for each line."""
    for key in dict.fromkeys((*old, *new)):
        before, after = old.get(key), new.get(key)
        if before == after:
            continue
        place = f"{path}.{key}" if path else key
        if key in _LISTS:
            yield from _lines(place, of, _texts(before), _texts(after))
        else:
            yield Change(place, "compare.key", (place, _shown(before), _shown(after)))


def _lines(path: str, of: str, old: tuple[str, ...], new: tuple[str, ...]) -> Iterator[Change]:
    for line in old:
        if line not in new:
            yield Change(path, *_caution("gone", of, line))
    for line in new:
        if line not in old:
            yield Change(path, *_caution("new", of, line))
    if old != new and sorted(old) == sorted(new):
        yield Change(path, *_caution("order", of))


def _caution(became: str, of: str, *line: str) -> tuple[str, tuple[str, ...]]:
    """Code and words for a caution of a part, or of the sheet itself."""
    return (f"compare.caution-{became}", (of, *line)) if of else (f"compare.sheet-caution-{became}", line)


def _texts(value: Value | None) -> tuple[str, ...]:
    return tuple(map(str, value)) if isinstance(value, tuple) else ()


def _named(
    kind: str,
    codes: tuple[str, str],
    old: Mapping[str, object],
    new: Mapping[str, object],
    was: Mapping[str, Keys],
    is_: Mapping[str, Keys],
) -> Iterator[Change]:
    """Wrenches or groups: gone, new, or with another key."""
    gone, added = codes
    for name in old:
        if name not in new:
            yield Change(f"{kind}.{name}", gone, (name,))
    for name in new:
        if name not in old:
            yield Change(f"{kind}.{name}", added, (name,))
        elif old[name] != new[name]:
            yield from _keys(f"{kind}.{name}", name, dict(was[name]), dict(is_[name]))


def _stages(old: Sheet, new: Sheet) -> Iterator[Change]:
    was, is_ = ({stage.id: stage for stage in sheet.stages} for sheet in (old, new))
    for name in was:
        if name not in is_:
            yield Change(f"stages.{name}", "compare.stage-gone", (name,))
    kept = stayed(tuple(was), tuple(is_))
    before = NOTHING
    for name, stage in is_.items():
        path = f"stages.{name}"
        if name not in was:
            yield Change(path, "compare.stage-new", (name, before))
        else:
            if name not in kept:
                yield Change(path, "compare.stage-moved", (name, before))
            if was[name] != stage:
                yield from _stage(path, was[name], stage)
        before = name


def _stage(path: str, old: Stage, new: Stage) -> Iterator[Change]:
    """Torque and limits as numbers with what they changed by, everything else as it is written."""
    was, is_ = dict(stage_keys(old)), dict(stage_keys(new))
    told: set[str] = set()
    if old.target is not None and new.target is not None:
        told.add("target")
        before, after = newton_metres(old.target), newton_metres(new.target)
        if before != after:
            share = 100 * (after - before) / before
            told_share = _signed(share, _digits(Fraction(0), share, 1))
            yield Change(path, "compare.target", (new.id, str(was["target"]), str(is_["target"]), told_share))
        elif was["target"] != is_["target"] and old.target != new.target:
            yield Change(path, "compare.target-written", (new.id, str(was["target"]), str(is_["target"])))
    if old.limits is not None and new.limits is not None:
        told |= {"tolerance", "min", "max"}
        if old.limits != new.limits:
            unit = "N·m" if new.target is None else new.target.unit
            ends = (old.limits.low, new.limits.low), (old.limits.high, new.limits.high)
            known = [
                (units.in_unit(a, unit), units.in_unit(b, unit)) for a, b in ends if a is not None and b is not None
            ]
            digits = max((_digits(one, two, 3) for one, two in known), default=3)
            pair = old.limits, new.limits
            shown = (*(_limits(each, unit, digits) for each in pair), _ends(*pair, unit, digits))
            yield Change(path, "compare.limits", (new.id, *shown))
    rest = [{key: value for key, value in keys.items() if key not in told} for keys in (was, is_)]
    yield from _keys(path, new.id, *rest)


def _limits(limits: Limits, unit: str, digits: int) -> str:
    ends = (None if end is None else _short(units.in_unit(end, unit), digits) for end in (limits.low, limits.high))
    return f"{' … '.join(end or NOTHING for end in ends)} {unit}"


def _digits(one: Fraction, other: Fraction, least: int) -> int:
    """So many that two numbers which are not the same are not shown as the same, nor their difference as nought."""
    digits = least
    while one != other and (
        units.shown(one, digits) == units.shown(other, digits) or not round((other - one) * 10**digits)
    ):
        digits += 1
    return digits


def _ends(old: Limits, new: Limits, unit: str, digits: int) -> str:
    """What each end moved by, lower first."""
    moved = []
    for before, after in ((old.low, new.low), (old.high, new.high)):
        known = before is not None and after is not None
        moved.append(_signed(units.in_unit(after - before, unit), digits) if known else NOTHING)  # type: ignore[operator]
    return f"{' / '.join(moved)} {unit}"


def _signed(x: Fraction, digits: int) -> str:
    return f"{'+' if x >= 0 else ''}{_short(x, digits)}"


def _short(x: Fraction, digits: int) -> str:
    text = units.shown(x, digits)
    return text.rstrip("0").rstrip(".") if "." in text else text


def _shown(value: Value | None) -> str:
    if value is None:
        return NOTHING
    if isinstance(value, Inline):
        return ", ".join(f"{key} {text}" for key, text in value.keys)
    if isinstance(value, bool):
        return "true" if value else "false"
    return ", ".join(map(_shown, value)) if isinstance(value, tuple) else str(value)


def _people(old: Sheet, new: Sheet, changes: tuple[Change, ...], became: tuple[StepChange, ...]) -> Iterator[Change]:
    """What nobody seems to have done: checked the new numbers, given the revision another name."""
    if new.checked_by is not None and new.checked_by == old.checked_by:
        touched = [change for change in became if change.became in _TOUCHED]
        if touched:
            yield Change("checked_by", "compare.checker-same", (new.checked_by, str(len(touched))))
    if changes and (old.id, old.revision) == (new.id, new.revision):
        yield Change("revision", "compare.revision-same", (new.revision,))
