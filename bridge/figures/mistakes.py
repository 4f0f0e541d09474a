"""Sheets that are right, and the same sheets with one mistake of the trade planted, to see which of them are noticed.

What makes a torque right here is read off printed tables (proof loads of ISO 898-1, areas of inch bolts), not reckoned
with the formulae that are put to the test.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from random import Random


@dataclass(frozen=True, slots=True)
class Bolt:
    """A bolt of the tables: diameter in mm, proof load in N, unit that its torque is usually written in."""

    thread: str
    grade: str
    diameter_mm: float
    proof_n: float
    unit: str


BOLTS = (
    Bolt("M8", "8.8", 8, 21_200, "N·m"),
    Bolt("M10", "8.8", 10, 33_700, "N·m"),
    Bolt("M12x1.75", "10.9", 12, 70_000, "N·m"),
    Bolt("M16", "8.8", 16, 91_000, "N·m"),
    Bolt("M20", "10.9", 20, 203_000, "N·m"),
    Bolt("5/16-18 UNC", "SAE 5", 7.9375, 19_812, "in·lb"),
    Bolt("3/8-16 UNC", "SAE 5", 9.525, 29_303, "ft·lb"),
    Bolt("1/2-13 UNC", "SAE 5", 12.7, 53_653, "ft·lb"),
    Bolt("5/8-11 UNC", "SAE 5", 15.875, 85_450, "ft·lb"),
)
NM = {"N·m": 1.0, "ft·lb": 1.355818, "in·lb": 0.1129848}  # NIST SP 811, rounded
UNSAID = 0.2  # of groups say nothing of friction
UNGRADED = 0.15  # of groups say nothing of strength
SHARED = 0.5  # of groups whose unit an earlier one has take its wrench
RINGS = {6: [1, 4, 2, 5, 3, 6], 8: [1, 5, 3, 7, 2, 6, 4, 8]}  # cross orders, as published


@dataclass(frozen=True, slots=True)
class Stage:
    """A stage to be: its keys as TOML values."""

    id: str
    do: str
    group: str | None
    keys: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Group:
    """A group to be, with the bolt that its numbers were made for and its final torque in the bolt's unit."""

    id: str
    bolt: Bolt
    final: float
    positions: int
    keys: Mapping[str, str]
    wrench: Mapping[str, str]
    role: str  # id of the group whose wrench it is pulled with


@dataclass(frozen=True, slots=True)
class Draft:
    """A sheet before it is written down."""

    head: Mapping[str, str]
    groups: tuple[Group, ...]
    stages: tuple[Stage, ...]

    def text(self) -> str:
        """As TOML."""
        lines = [
            "sheet = 1",
            'id = "made-up"',
            'revision = "1"',
            'title = "Made up"',
            'source = "Invented."',
            *_keys(self.head),
        ]
        for group in self.groups:
            if group.role == group.id:
                lines += [f"[wrenches.W{group.id}]", 'title = "wrench"', *_keys(group.wrench)]
        for group in self.groups:
            lines += [
                f"[groups.{group.id}]",
                'title = "bolts"',
                f'wrench = "W{group.role}"',
                f"positions = {group.positions}",
            ]
            lines += _keys(group.keys)
        for stage in self.stages:
            lines += ["[[stages]]", f'id = "{stage.id}"', f'do = "{stage.do}"']
            lines += ([] if stage.group is None else [f'group = "{stage.group}"']) + _keys(stage.keys)
        return "\n".join(lines) + "\n"


def clean(rng: Random) -> Draft:
    """A sheet that nobody has anything to say about, or only what is always said (notes)."""
    groups = tuple(
        _group(name, bolt, rng) for name, bolt in zip("CGH", rng.sample(BOLTS, rng.randint(1, 3)), strict=False)
    )
    groups = _sharing(groups, rng)
    stages: list[Stage] = []
    for group in groups:
        passes = rng.choice(((1.0,), (0.4, 1.0), (0.35, 0.6, 1.0)))
        stages += [_pull(f"{group.id}{n}", group, share) for n, share in enumerate(passes, 1)]
    return Draft({"class": '"B"', "cautions": '["Isolate and lock out."]'}, groups, tuple(stages))


def _sharing(groups: tuple[Group, ...], rng: Random) -> tuple[Group, ...]:
    """Some groups on the wrench of the first one with their unit, whose range is then wide enough for both."""
    made: list[Group] = []
    for group in groups:
        owner = next((n for n, each in enumerate(made) if each.bolt.unit == group.bolt.unit), None)
        if owner is None or rng.random() >= SHARED:
            made.append(group)
            continue
        finals = [each.final for each in made if each.role == made[owner].id] + [group.final]
        made[owner] = replace(made[owner], wrench={**made[owner].wrench, "range": _range(finals, group.bolt.unit)})
        made.append(replace(group, role=made[owner].id))
    return tuple(made)


def _range(finals: list[float], unit: str) -> str:
    return f'["{max(round(min(finals) * 0.25), 1)} {unit}", "{round(max(finals) * 1.5)} {unit}"]'


def _group(name: str, bolt: Bolt, rng: Random) -> Group:
    factor = rng.choice((0.14, 0.15, 0.16, 0.18))
    share = rng.uniform(0.4, 0.9)
    final = round(factor * bolt.diameter_mm / 1000 * bolt.proof_n * share / NM[bolt.unit])
    keys = {
        "thread": f'"{bolt.thread}"',
        "grade": f'"{bolt.grade}"',
        "nut_factor": f'"{factor}"',
        "lubrication": '"oil"',
        "pattern": '"star"',
    }
    if rng.random() < UNSAID:
        del keys["nut_factor"]
    if rng.random() < UNGRADED:
        del keys["grade"]
    wrench = {"unit": f'"{bolt.unit}"', "range": _range([final], bolt.unit)}
    return Group(name, bolt, final, rng.choice(tuple(RINGS)), keys, wrench, name)


def _pull(name: str, group: Group, share: float = 1.0, unit: str | None = None, **more: str) -> Stage:
    number = round(group.final * share) if share >= 0.2 else round(group.final * share, 1)
    keys = {"target": f'"{number} {unit or group.bolt.unit}"', "tolerance": '"8 %"'}
    return Stage(name, "torque", group.id, keys | more)


def _turn(name: str, group: Group, snug: float, **more: str) -> Stage:
    keys = {"snug": f'"{round(group.final * snug)} {group.bolt.unit}"', "turn": '"60 deg"', "tolerance": '"4 deg"'}
    return Stage(name, "angle", group.id, keys | more)


def _keys(keys: Mapping[str, str]) -> list[str]:
    return [f"{key} = {value}" for key, value in keys.items()]


# --- the mistakes


def _of(draft: Draft, group: Group, *stages: Stage, **keys: str) -> Draft:
    """The draft with that group's stages (and keys) put in place of its own."""
    others = tuple(stage for stage in draft.stages if stage.group != group.id)
    changed = replace(group, keys={**group.keys, **keys})
    groups = tuple(changed if each.id == group.id else each for each in draft.groups)
    return replace(draft, groups=groups, stages=(*others, *stages))


def _wrench(draft: Draft, group: Group, **keys: str) -> Draft:
    """The draft with those keys put to the wrench that the group is pulled with."""
    return replace(
        draft,
        groups=tuple(
            replace(each, wrench={**each.wrench, **keys}) if each.id == group.role else each for each in draft.groups
        ),
    )


def _twelvefold(draft: Draft, _rng: Random) -> Draft:
    """Foot-pounds typed for inch-pounds, or inch-pounds for foot-pounds or newton-metres."""
    group = _last(draft)
    other = {"in·lb": "ft·lb", "ft·lb": "in·lb", "N·m": "in·lb"}[group.bolt.unit]
    return _of(draft, group, _pull("X1", group, unit=other))


def _third_more(draft: Draft, rng: Random) -> Draft:
    """Foot-pounds typed for newton-metres."""
    group = _group("X", next(bolt for bolt in BOLTS if bolt.unit == "N·m"), rng)
    made = replace(draft, groups=(*draft.groups, group))
    return _of(made, group, _pull("X1", group, unit="ft·lb"))


def _last(draft: Draft) -> Group:
    return draft.groups[-1]


def _ten_times(draft: Draft, _rng: Random) -> Draft:
    return _of(draft, _last(draft), _pull("X1", _last(draft), 10.0))


def _above_range(draft: Draft, _rng: Random) -> Draft:
    group = _last(draft)
    ends = f'["{round(group.final * 0.2)} {group.bolt.unit}", "{round(group.final * 0.9)} {group.bolt.unit}"]'
    return _wrench(draft, group, range=ends)


def _below_range(draft: Draft, _rng: Random) -> Draft:
    group = _last(draft)
    ends = f'["{round(group.final * 1.2)} {group.bolt.unit}", "{round(group.final * 4)} {group.bolt.unit}"]'
    return _wrench(draft, group, range=ends)


def _uncertain(draft: Draft, rng: Random) -> Draft:
    return _wrench(draft, _last(draft), uncertainty=f'"{rng.choice((5, 6, 8))} %"')


def _coarse(draft: Draft, _rng: Random) -> Draft:
    group = _last(draft)
    return _wrench(draft, group, resolution=f'"{max(round(group.final * 0.03), 1)} {group.bolt.unit}"')


def _collision(draft: Draft, _rng: Random) -> Draft:
    group = _last(draft)
    number = group.final if group.bolt.unit != "in·lb" else None
    scale = 0.7376 if number is not None else 0.6  # a neighbour on the other common scale
    stages = [_pull("X1", group, scale), _pull("X2", group)]
    if number is None:  # small wrenches slip between in·lb and N·m: 8.85
        other = replace(group, final=round(group.final * 8.8507), keys=group.keys)
        ends = f'["{round(group.final * 0.5)} in·lb", "{round(other.final * 1.4)} in·lb"]'
        made = _of(draft, group, _pull("X1", group), _pull("X2", other), thread='"M24"', grade='"10.9"')
        return _wrench(made, made.groups[-1], range=ends)
    return _of(draft, group, *stages)


def _falling(draft: Draft, _rng: Random) -> Draft:
    group = _last(draft)
    return _of(draft, group, _pull("X1", group, 0.4), _pull("X2", group), _pull("X3", group, 0.65))


def _star(draft: Draft, rng: Random) -> Draft:
    """Two neighbours in the order of a ring changed over, so that one step no longer goes across."""
    order = list(RINGS[_last(draft).positions])
    at = rng.choice(range(1, len(order) - 2, 2))
    order[at], order[at + 2] = order[at + 2], order[at]
    return _of(draft, _last(draft), _pull("X1", _last(draft)), pattern='"listed"', order=str(order))


def _equal(draft: Draft, _rng: Random) -> Draft:
    group = _last(draft)
    return _of(draft, group, _pull("X1", group, 0.4), _pull("X2", group), _pull("X3", group))


def _twice(draft: Draft, _rng: Random) -> Draft:
    group = _last(draft)
    stages = (_pull("X1", group), Stage("XL", "loosen", group.id), _pull("X2", group))
    return _of(draft, group, *stages, single_use="true")


def _odd(draft: Draft, rng: Random) -> Draft:
    tolerance = rng.choice(('"0.8 %"', '"80 %"', '["-1 %", "+0 %"]', '["-0 %", "+60 %"]'))
    return _of(draft, _last(draft), _pull("X1", _last(draft), tolerance=tolerance))


def _no_snug(draft: Draft, _rng: Random) -> Draft:
    return _of(draft, _last(draft), _turn("X1", _last(draft), 0.4), single_use="true")


def _snug(draft: Draft, _rng: Random) -> Draft:
    group = _last(draft)
    return _of(draft, group, _pull("X1", group, 0.4), _turn("X2", group, 0.55), single_use="true")


def _late(draft: Draft, _rng: Random) -> Draft:
    group = _last(draft)
    turn = _turn("X2", group, 0.4, within_time='"2 h"')
    return _of(
        draft, group, _pull("X1", group, 0.4), Stage("XW", "wait", None, {"for": '"4 h"'}), turn, single_use="true"
    )


def _bonded(draft: Draft, _rng: Random) -> Draft:
    group = _last(draft)
    again = (_pull("X1", group), Stage("XW", "wait", None, {"for": '"24 h"'}), _pull("X2", group))
    return _of(draft, group, *again, lubrication='"medium thread-locker"')


def _class_a(draft: Draft, _rng: Random) -> Draft:
    return replace(draft, head={**draft.head, "class": '"A"'})


def _own_checker(draft: Draft, _rng: Random) -> Draft:
    return replace(draft, head={**draft.head, "copied_by": '"Orla Venn"', "checked_by": '"Orla Venn"'})


def _past_yield(draft: Draft, rng: Random) -> Draft:
    group = _last(draft)
    turn = _turn("X2", group, 0.5, turn=f'"{rng.choice((120, 150, 180))} deg"')
    return _of(draft, group, _pull("X1", group, 0.5), turn, grip=f'"{round(group.bolt.diameter_mm * 3)} mm"')


def _friction(draft: Draft, rng: Random) -> Draft:
    return _of(draft, _last(draft), _pull("X1", _last(draft)), nut_factor=rng.choice(('"1.6"', '"0.016"', '"15"')))


def _pulled_on(draft: Draft, _rng: Random) -> Draft:
    return _of(draft, _last(draft), _pull("X1", _last(draft), on_over='"pull on"'))


def _forgotten(draft: Draft, rng: Random) -> Draft:
    spare = _group("Z", rng.choice(BOLTS), rng)
    return replace(draft, groups=(*draft.groups, spare))


_OVERLOADED = frozenset({"thread-overloaded", "thread-overloaded-scale", "thread-overloaded-any"})
# name -> how it is planted, and the codes of advice that name it
MISTAKES: Mapping[str, tuple[Callable[[Draft, Random], Draft], frozenset[str]]] = {
    "unit": (_twelvefold, frozenset({"thread-overloaded-scale", "thread-overloaded-any", "thread-slack-scale"})),
    "unit-a-third": (_third_more, _OVERLOADED),
    "ten-times": (_ten_times, _OVERLOADED),
    "above-range": (_above_range, frozenset({"target-over-range"})),
    "below-range": (_below_range, frozenset({"target-under-range"})),
    "uncertain-wrench": (_uncertain, frozenset({"wrench-uncertain"})),
    "coarse-wrench": (_coarse, frozenset({"wrench-coarse"})),
    "unit-collision": (_collision, frozenset({"unit-collision"})),
    "falling-target": (_falling, frozenset({"target-falls"})),
    "broken-star": (_star, frozenset({"star-broken"})),
    "equal-stages": (_equal, frozenset({"limits-equal"})),
    "single-use-twice": (_twice, frozenset({"single-use-twice"})),
    "odd-tolerance": (_odd, frozenset({"tolerance-odd"})),
    "no-snug": (_no_snug, frozenset({"turn-without-snug"})),
    "other-snug": (_snug, frozenset({"snug-differs"})),
    "late-turn": (_late, frozenset({"wait-past-time"})),
    "bonded-again": (_bonded, frozenset({"bonded-pulled-again"})),
    "class-a-unchecked": (_class_a, frozenset({"unchecked"})),
    "own-checker": (_own_checker, frozenset({"checked-by-copier"})),
    "turn-past-yield": (_past_yield, frozenset({"turn-past-yield"})),
    "odd-friction": (_friction, frozenset({"nut-factor-odd"})),
    "over-pulled-on": (_pulled_on, frozenset({"over-pulled-on"})),
    "group-forgotten": (_forgotten, frozenset({"group-unused"})),
}
