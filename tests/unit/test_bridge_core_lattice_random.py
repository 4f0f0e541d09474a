"""Random layers: what the lattice says of them, against enumeration, shortest paths, and itself when taken up again."""

from itertools import islice, product
from math import exp, fsum, inf, log
from random import Random

import networkx as nx  # type: ignore[import-untyped]  # the package has no types of its own
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.lattice import EVERY, RECENT, Lattice

Layers = list[dict[int, dict[str, tuple[float, int]]]]  # by layer: state -> label -> log weight, state led to
Names = tuple[str, ...]


def made(seed: int, inputs: int, states: int, labels: str, low: float = -4.0) -> Layers:
    """Random moves between `states` states; every state has at least one."""
    chance = Random(seed)
    return [
        {
            state: {
                label: (chance.uniform(low, 0.0), chance.randrange(states))
                for label in labels[:1] + "".join(label for label in labels[1:] if chance.random() < 0.7)
            }
            for state in range(states)
        }
        for _ in range(inputs)
    ]


def taken(lattice: Lattice[int, str], layers: Layers, *, choosy: bool = False) -> Lattice[int, str]:
    """The lattice with these inputs; `choosy` leaves out what it may leave out."""
    for layer in layers:

        def moves(
            state: int, least: float, layer: dict[int, dict[str, tuple[float, int]]] = layer
        ) -> list[tuple[float, str]]:
            return [(weight, label) for label, (weight, _) in layer[state].items() if not choosy or weight >= least]

        def key(state: int, label: str, layer: dict[int, dict[str, tuple[float, int]]] = layer) -> int:
            return layer[state][label][1]

        lattice.extend(moves, key, lambda state, label, name: name)
    return lattice


def all_shares(lattice: Lattice[int, str]) -> list[dict[str, float]]:
    """Shares of the labels, layer by layer."""
    beta, found = lattice.start_back(), []
    for inputs in range(len(lattice), 0, -1):
        found.append(lattice.shares(inputs, beta))
        beta = lattice.back(inputs, beta)
    return found[::-1]


def walks(layers: Layers) -> dict[Names, float]:
    """Log weight of every path by its labels: plain enumeration."""
    found: dict[Names, float] = {}
    for names in product(*({label for moves in layer.values() for label in moves} for layer in layers)):
        state, weight = 0, 0.0
        for name, layer in zip(names, layers, strict=True):
            if name not in layer[state]:
                break
            step, state = layer[state][name]
            weight += step
        else:
            found[names] = weight
    return found


def graph(layers: Layers) -> nx.DiGraph:
    """The same as a graph of costs with a node for each move, since two may lead from one state to one state."""
    found = nx.DiGraph()
    for at, layer in enumerate(layers):
        for state, moves in layer.items():
            for label, (weight, new) in moves.items():
                found.add_edge((at, state), (at, state, label), cost=-weight)
                found.add_edge((at, state, label), (at + 1, new), cost=0.0)
    for state in layers[-1]:
        found.add_edge((len(layers), state), "end", cost=0.0)
    return found


shapes = [(inputs, states, labels) for inputs in (1, 2, 4, 6) for states in (2, 3, 4) for labels in ("ab", "abc")]
cases = [pytest.param(seed, *shape, id=f"{seed}-{shape[0]}x{shape[1]}{shape[2]}") for seed, shape in enumerate(shapes)]


@pytest.mark.parametrize(("seed", "inputs", "states", "labels"), cases)
def test_random_layers_agree_with_enumeration(seed: int, inputs: int, states: int, labels: str) -> None:
    """Best path, sum of all, the share of each label at each layer, and so the runner-up."""
    layers = made(seed, inputs, states, labels)
    lattice, known = taken(Lattice(0), layers), walks(layers)
    best = max(known, key=lambda names: known[names])
    assert tuple(lattice.path()) == best
    assert lattice.best() == pytest.approx(known[best], abs=1e-9)
    whole = fsum(exp(weight) for weight in known.values())
    assert lattice.total() == pytest.approx(log(whole), abs=1e-9)
    for at, shares in enumerate(all_shares(lattice)):
        expected: dict[str, float] = {}
        for names, weight in known.items():
            expected[names[at]] = expected.get(names[at], 0.0) + exp(weight) / whole
        assert shares == pytest.approx(expected, abs=1e-9)
        others = [label for label in expected if label != best[at]]
        assert sorted(others, key=shares.__getitem__) == sorted(others, key=expected.__getitem__)


@pytest.mark.parametrize(("seed", "inputs", "states", "labels"), cases)
def test_random_layers_agree_with_shortest_paths(seed: int, inputs: int, states: int, labels: str) -> None:
    """The best path and the second best: the best of those that leave out one move of the best."""
    layers = made(seed, inputs, states, labels)
    costs = graph(layers)
    two = list(islice(nx.shortest_simple_paths(costs, (0, 0), "end", weight="cost"), 2))
    first, second = (-nx.path_weight(costs, path, "cost") for path in (two if len(two) == 2 else two * 2))
    lattice, known = taken(Lattice(0), layers), walks(layers)
    assert lattice.best() == pytest.approx(first, abs=1e-9)
    assert lattice.path() == [node[2] for node in two[0] if len(node) == 3 and node != "end"]
    if len(two) < 2:
        assert len(known) == 1
        return
    assert sorted(known.values())[-2] == pytest.approx(second, abs=1e-9)
    without, state = [], 0
    for at, name in enumerate(lattice.path()):
        rest = {label: move for label, move in layers[at][state].items() if label != name}
        without.append(best_of([*layers[:at], {**layers[at], state: rest}, *layers[at + 1 :]]))
        state = layers[at][state][name][1]
    assert max(without) == pytest.approx(second, abs=1e-9)


def best_of(layers: Layers) -> float:
    """Log weight of the best path; minus infinity where none leads through."""
    try:
        return taken(Lattice(0), layers).best()
    except ValueError:
        return -inf


# --- what is cut

# The one start leads to two states; the better one first leads nowhere good.
TRAP: Layers = [
    {0: {"near": (log(0.7), 1), "far": (log(0.3), 2)}},
    {1: {"on": (log(0.1), 1)}, 2: {"on": (log(0.9), 2)}},
]


@pytest.mark.parametrize(
    ("keep", "width", "path"),
    [
        (0.0, None, ["far", "on"]),
        (0.0, 2, ["far", "on"]),
        (0.4, None, ["far", "on"]),
        (0.0, 1, ["near", "on"]),
        (0.5, None, ["near", "on"]),
    ],
)
def test_a_cut_lattice_can_miss_the_best_path(keep: float, width: int | None, path: list[str]) -> None:
    """The control for every check of exactness: a state that is cut is really gone."""
    assert taken(Lattice(0, keep=keep, width=width), TRAP).path() == path


@given(st.integers(0, 10**6), st.sampled_from((0.0, 1e-3, 0.05, 0.5)), st.sampled_from((None, 1, 2, 3)))
def test_what_is_cut_is_never_made_up(seed: int, keep: float, width: int | None) -> None:
    """The path of a cut lattice is a path, has the weight that is said of it, and is no better than the best."""
    layers = made(seed, 5, 4, "abc")
    known = walks(layers)
    lattice = taken(Lattice(0, keep=keep, width=width), layers)
    assert known[tuple(lattice.path())] == pytest.approx(lattice.best(), abs=1e-9)
    assert lattice.best() <= max(known.values()) + 1e-9
    assert lattice.total() <= log(fsum(exp(weight) for weight in known.values())) + 1e-9
    for layer in lattice.layers:
        assert len(layer) <= (width or len(layer))
        assert all(node.total >= log(keep or 1e-300) for node in layer)
    if keep == 0.0 and width is None:
        assert lattice.best() == pytest.approx(max(known.values()), abs=1e-9)


@given(st.integers(0, 10**6), st.sampled_from((1e-3, 0.05, 0.5)))
def test_moves_that_may_be_left_out_change_nothing(seed: int, keep: float) -> None:
    layers = made(seed, 12, 5, "abcd", low=-9.0)
    whole, choosy = taken(Lattice(0, keep=keep), layers), taken(Lattice(0, keep=keep), layers, choosy=True)
    assert said(whole) == said(choosy)


def test_an_input_that_nothing_can_take_is_refused() -> None:
    lattice = taken(Lattice(0), [{0: {"on": (0.0, 7)}}])
    with pytest.raises(ValueError, match="no state is possible"):
        taken(lattice, [{7: {}}])
    assert len(lattice) == 1


# --- taken up again


def said(lattice: Lattice[int, str]) -> list[object]:
    """What all layers hold but for the states, which old layers forget."""
    layers = [[(node.total, node.best, node.edges, node.via) for node in layer] for layer in lattice.layers]
    return [layers, lattice.shifts, lattice.best(), lattice.total(), lattice.path()]


LONG = 3 * EVERY + RECENT + 7


@pytest.mark.parametrize(("keep", "width"), [(0.0, None), (1e-2, 3)])
@pytest.mark.parametrize(
    "at", [0, 1, EVERY - 1, EVERY, EVERY + 1, 2 * EVERY + 5, LONG - RECENT - 1, LONG - RECENT, LONG - 1, LONG, LONG + 9]
)
def test_a_lattice_taken_up_again_is_as_from_the_start(at: int, keep: float, width: int | None) -> None:
    """Cut anywhere, also where states are forgotten, and led on by other inputs."""
    old, new = made(1, LONG, 6, "abc"), made(2, LONG, 6, "abc")
    lattice: Lattice[int, str] = taken(Lattice(0, keep=keep, width=width), old)
    left = lattice.cut(at)
    assert left == len(lattice)
    assert left <= at
    assert at - left < EVERY
    assert left == min(at, LONG) or at <= LONG - RECENT
    layers = [*old[:left], *new[left:]]
    taken(lattice, layers[left:])
    fresh: Lattice[int, str] = taken(Lattice(0, keep=keep, width=width), layers)
    assert said(lattice) == said(fresh)
    for here, there in zip(lattice.layers, fresh.layers, strict=True):
        for one, other in zip(here, there, strict=True):
            assert one.state == other.state or None in (one.state, other.state)


def test_the_control_another_beginning_is_seen() -> None:
    old, new = made(1, LONG, 6, "abc"), made(2, LONG, 6, "abc")
    other: Lattice[int, str] = taken(Lattice(0), [*new[:1], *old[1:]])
    assert said(other) != said(taken(Lattice(0), old))


def test_old_layers_forget_their_states() -> None:
    """Those of the last `RECENT` layers are there, and one layer in `EVERY` of the older ones."""
    lattice: Lattice[int, str] = taken(Lattice(0), made(3, LONG, 4, "ab"))
    kept = [at for at, layer in enumerate(lattice.layers) if layer[0].state is not None]
    assert kept == [at for at in range(LONG + 1) if at % EVERY == 0 or at > LONG - RECENT]
