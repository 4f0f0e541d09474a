"""Fingerprints of the states of a job: the same whatever the order of the changes, and different for what differs."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import permutations
from random import Random

import pytest

from bridge.core import spots as module
from bridge.core.spots import LOST, Spot, Spots, last_of, turned_of
from bridge.core.states import State
from specs.expand import expand
from specs.model import Plan
from specs.parse import parse

CLOSED = 6  # later than at work, so that what is told apart can be seen on short sheets


@pytest.fixture(autouse=True)
def _late(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "CLOSED", CLOSED)


HEAD = """sheet = 1
id = "try"
revision = "1"
title = "Try"
source = "Invented for tests."
class = "B"
[wrenches.W1]
title = "large"
unit = "ft·lb"
range = ["5 ft·lb", "150 ft·lb"]
[wrenches.W2]
title = "small"
unit = "in·lb"
range = ["5 in·lb", "50 in·lb"]
[groups.C]
title = "C"
wrench = "W1"
positions = 3
pattern = "row"
[groups.T]
title = "T"
wrench = "W2"
positions = 2
pattern = "row"
"""


def passes(of: str, count: int, unit: str) -> str:
    """Torque stages of a group, one after another."""
    text = ""
    for n in range(1, count + 1):
        text += f'[[stages]]\nid = "{of}{n}"\ngroup = "{of}"\ndo = "torque"\n'
        text += f'target = "{20 + n} {unit}"\ntolerance = "8 %"\n'
    return text


TURN = '[[stages]]\nid = "C9"\ngroup = "C"\ndo = "angle"\nsnug = "22 ft·lb"\nturn = "60 deg"\ntolerance = "4 deg"\n'
PLAN = expand(parse(HEAD + passes("C", 2, "ft·lb") + TURN + passes("T", 2, "in·lb")))
LONG = expand(parse(HEAD + passes("C", CLOSED + 3, "ft·lb") + passes("T", 1, "in·lb")))
STATES = (*(int(state) for state in State), LOST)
Move = tuple[str, int, object]  # word, step, and what is said of it


def moved(spots: Spots, spot: Spot, move: Move) -> Spot:
    """The spot after one change; its fingerprint is also asked for beforehand."""
    word, step, told = move
    match word:
        case "state":
            assert isinstance(told, int)
            led = spots.led(spot, [(step, told)])
            assert led.key == spots.key(spot, [(step, told)])
        case "last":
            led = spots.led(spot, [], last=(str(told), step))
            assert led.key == spots.key(spot, [], last=(str(told), step))
        case "turned":
            led = spots.led(spot, [], turned=(step, told))
            assert led.key == spots.key(spot, [], turned=(step, told))
        case "still":
            led = spots.felt_still(spot, step)
        case _:
            led = spots.turned_back(spot, [step])
    return led


def walked(spots: Spots, moves: Sequence[Move], spot: Spot | None = None) -> Spot:
    """The spot after all these changes."""
    spot = spot or spots.start
    for move in moves:
        spot = moved(spots, spot, move)
    return spot


def content(spot: Spot) -> tuple[object, ...]:
    """All that tells hypotheses apart."""
    return spot.states, spot.last, spot.still, spot.turned


def random_move(chance: Random, plan: Plan, states: Sequence[int] = STATES) -> Move:
    """One change of any kind."""
    step = chance.randrange(len(plan.steps))
    word = chance.choice(("state", "state", "state", "last", "still", "turned", "back"))
    if word == "state":
        return word, step, chance.choice(states)
    if word == "last":
        return word, step, chance.choice(("W1", "W2", "second"))
    turns = range(6, 9)
    return word, step if word == "still" else chance.choice(turns), Fraction(chance.choice((20, 30, 60)))


def rebuilt(spots: Spots, spot: Spot, chance: Random) -> Spot:
    """A spot of the same content, put together in another order."""
    moves: list[Move] = [("state", step, state) for step, state in enumerate(spot.states) if state]
    moves += [("last", step, lane) for lane, step in spot.last]
    moves += [("still", step, None) for step in spot.still]
    moves += [("turned", step, total) for step, total in spot.turned]
    chance.shuffle(moves)
    return walked(spots, moves)


@pytest.mark.parametrize("seed", range(40))
def test_a_walk_ends_as_its_content_built_in_another_order(seed: int) -> None:
    """Step by step, with changes taken back and said twice, and from nothing in an order drawn anew."""
    chance, spots = Random(seed), Spots(PLAN)
    spot = spots.start
    for _ in range(60):
        spot = moved(spots, spot, random_move(chance, PLAN))
        other = rebuilt(spots, spot, chance)
        assert other.key == spot.key
        assert content(other) == content(spot)


def furthest(spots: Spots, spot: Spot) -> tuple[int, ...]:
    """By chain: place of the furthest visit in which a step is served."""
    tops = []
    for chain in spots.chains:
        begun = [place for place, index in enumerate(chain) if any(states_of(spots.plan, spot, index))]
        tops.append(max(begun, default=-1))
    return tuple(tops)


def states_of(plan: Plan, spot: Spot, visit: int) -> bytes:
    """States of the steps of a visit."""
    return spot.states[plan.visits[visit].first : plan.visits[visit].end]


@pytest.mark.parametrize("seed", range(6))
def test_equal_fingerprints_are_equal_states(seed: int) -> None:
    """Among thousands of states of random walks on few steps, many of them met again."""
    chance, spots = Random(seed), Spots(PLAN)
    by_key: dict[int, tuple[object, ...]] = {}
    by_content: dict[tuple[object, ...], int] = {}
    met = 0
    for _ in range(60):
        spot = spots.start
        for _ in range(40):
            move = random_move(chance, PLAN, (State.NEVER, State.WITHIN))
            spot = moved(spots, spot, move)
            met += content(spot) in by_content
            assert by_key.setdefault(spot.key, content(spot)) == content(spot)
            assert by_content.setdefault(content(spot), spot.key) == spot.key
    assert met > 50
    assert len(by_key) > 500


def test_every_single_change_changes_the_fingerprint() -> None:
    """Each step in each state, each lane at each step, each turn: all different from the start and from each other."""
    spots = Spots(PLAN)
    moves: list[Move] = [("state", step.index, state) for step in PLAN.steps for state in STATES if state]
    moves += [("last", step.index, lane) for step in PLAN.steps for lane in ("W1", "W2")]
    moves += [("still", step.index, None) for step in PLAN.steps]
    moves += [("turned", step, Fraction(total)) for step in range(6, 9) for total in (30, 60)]
    keys = {moved(spots, spots.start, move).key for move in moves}
    assert len(keys | {spots.start.key}) == len(moves) + 1


def test_all_orders_of_some_changes_end_alike() -> None:
    moves: list[Move] = [
        ("state", 0, State.WITHIN),
        ("last", 0, "W1"),
        ("state", 9, State.UNDER),
        ("last", 9, "W2"),
        ("turned", 6, Fraction(30)),
    ]
    spots = Spots(PLAN)
    ends = [walked(spots, order) for order in permutations(moves)]
    assert all(spot == ends[0] for spot in ends)


def test_what_changes_nothing_keeps_the_fingerprint() -> None:
    spots = Spots(PLAN)
    moves: list[Move] = [("state", 0, State.UNDER), ("last", 0, "W1"), ("still", 0, None), ("turned", 6, Fraction(30))]
    spot = walked(spots, moves)
    again = walked(spots, moves, spot)
    assert (again.key, content(again)) == (spot.key, content(spot))
    assert walked(spots, [("back", 7, None)], spot) == spot


def test_a_turn_taken_back_is_as_never_turned() -> None:
    spots = Spots(PLAN)
    plain = walked(spots, [("state", 0, State.WITHIN)])
    turned = walked(spots, [("turned", 6, Fraction(30)), ("turned", 7, Fraction(20))], plain)
    back = spots.turned_back(turned, [6, 7, 8])
    assert (back.key, content(back)) == (plain.key, content(plain))
    assert (turned_of(turned, 6), turned_of(back, 6)) == (Fraction(30), None)
    assert turned.key != plain.key


def test_a_lane_is_at_the_step_it_pulled_last() -> None:
    spots = Spots(PLAN)
    spot = walked(spots, [("last", 0, "W1"), ("last", 9, "W2"), ("last", 1, "W1")])
    assert (last_of(spot, "W1"), last_of(spot, "W2"), last_of(spot, "second")) == (1, 9, None)


@pytest.mark.parametrize("seed", range(20))
def test_watched_are_the_visits_begun_or_passed_that_are_not_all_within(seed: int) -> None:
    """By counting anew after every change, as long as nothing is taken back to never."""
    chance, spots = Random(seed), Spots(PLAN)
    spot = spots.start
    for _ in range(40):
        spot = moved(spots, spot, random_move(chance, PLAN, [state for state in STATES if state]))
        assert spot.tops == furthest(spots, spot)
        expected = [
            index
            for chain, top in zip(spots.chains, spot.tops, strict=True)
            for index in chain[: top + 1]
            if set(states_of(PLAN, spot, index)) != {State.WITHIN}
        ]
        assert spot.watch == tuple(sorted(expected))


# --- stages that are closed


def served(count: int, first: int = State.WITHIN) -> list[Move]:
    """The first steps of the long sheet, the very first of them as told."""
    return [("state", step, State.WITHIN if step else first) for step in range(count)]


def test_a_stage_far_behind_tells_no_longer() -> None:
    """Two hypotheses that differ in one step are one as soon as its stage is closed, and not before."""
    spots, until = Spots(LONG), CLOSED * 3
    for count in range(1, until + 3):
        one, other = walked(spots, served(count)), walked(spots, served(count, State.UNDER))
        assert one.states != other.states
        assert (one.key == other.key) == (count > until)


def test_the_control_one_stage_more_is_told_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "CLOSED", CLOSED + 1)
    spots, count = Spots(LONG), CLOSED * 3 + 1
    assert walked(spots, served(count)).key != walked(spots, served(count, State.UNDER)).key


def test_another_wrench_closes_nothing_of_this_one() -> None:
    spots = Spots(LONG)
    far: Move = ("state", len(LONG.steps) - 1, State.WITHIN)
    keys = {walked(spots, [*served(3, first), far]).key for first in (State.WITHIN, State.UNDER)}
    assert len(keys) == 2


def test_an_order_across_closed_stages_does_not_matter() -> None:
    """Served one stage after another, or several begun at once before anything is closed."""
    spots, moves = Spots(LONG), served(CLOSED * 3)
    chance = Random(5)
    later = served(len(LONG.steps) - 3)[CLOSED * 3 :]
    ends = set()
    for _ in range(20):
        chance.shuffle(moves)
        ends.add(walked(spots, [*moves, *later]).key)
    assert len(ends) == 1


def test_changes_at_once_are_as_one_by_one() -> None:
    """A stage begun with its first message lost: both steps in one change."""
    spots = Spots(LONG)
    spot, step = walked(spots, served(CLOSED * 3)), CLOSED * 3
    both = spots.led(spot, [(step + 1, State.WITHIN), (step, LOST)])
    one_by_one = walked(spots, [("state", step, LOST), ("state", step + 1, State.WITHIN)], spot)
    assert content(both) == content(one_by_one)
    assert (both.tops, both.watch) == (one_by_one.tops, one_by_one.watch)
    assert both.key == one_by_one.key
