"""Paths through layers of states: the best one, and how likely each step is over all of them.

A layer holds the states that are possible after one more input. Every state is led on by moves, each with a label and a
log weight; moves that end in states of one key are one state from then on. The best path is
that of the largest product of weights (Viterbi); the share of a label is that of all paths that take it at that layer
(forward and backward sums). A layer is cut to states whose summed weight is at least `keep` of the best, at most
`width` of them: with `keep` 0 and no `width` the search is exact over everything.

States of old layers are dropped but for one layer in `EVERY`, where the search can be taken up again.
"""

from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from math import exp, inf, log
from operator import attrgetter
from typing import Generic, TypeVar

S = TypeVar("S")
L = TypeVar("L", bound=Hashable)
Move = tuple[float, L]  # log weight, label

RECENT = 48  # layers whose states are kept
EVERY = 32  # … and one in so many of the older ones

_total = attrgetter("total")


@dataclass(slots=True)
class Node(Generic[S, L]):
    """A state of a layer. Logs: `total` of the summed weight of all paths into it, `best` of the best one."""

    state: S | None
    total: float
    best: float
    edges: list[tuple[int, L, float]]  # node of the layer before, label, log weight
    via: int = 0  # index of the edge that the best path takes


def _state(node: Node[S, L]) -> S:
    if node.state is None:
        raise LookupError("the state of this layer is forgotten")
    return node.state


def _floor(keep: float) -> float:
    return log(keep) if keep > 0.0 else -inf


class Lattice(Generic[S, L]):
    """Layers from equally likely start states; `keep` and `width` limit them."""

    def __init__(self, *starts: S, keep: float = 0.0, width: int | None = None) -> None:
        self.layers: list[list[Node[S, L]]] = [[Node(start, 0.0, 0.0, []) for start in starts]]
        self.shifts = [0.0]  # log weight taken off each layer, so that its best sum is 0
        self.crowded = [0.0]  # share of each layer that was dropped for want of room alone
        self._floor = _floor(keep)
        self._width = width

    def __len__(self) -> int:
        """Inputs taken."""
        return len(self.layers) - 1

    def cut(self, inputs: int) -> int:
        """Forget what follows the first `inputs`; how many are really left: the search goes on from there."""
        at = min(inputs, len(self))
        while self.layers[at][0].state is None:
            at -= 1
        del self.layers[at + 1 :], self.shifts[at + 1 :], self.crowded[at + 1 :]
        return at

    def extend(
        self,
        moves: Callable[[S, float], Iterable[Move[L]]],
        key: Callable[[S, L], int],
        make: Callable[[S, L, int], S],
        keep: float | None = None,
        width: int | None = None,
    ) -> None:
        """One more input; `keep` and `width` for this layer alone. Raises `ValueError` where nothing is possible.

        `moves` gives the labels possible from a state with their log weights, and may leave out what lies under the
        log weight that it is told; `key` and `make` give the state that a label leads to.
        """
        before, least = self.layers[-1], self._floor if keep is None else _floor(keep)
        found: list[tuple[float, float, int, L]] = []
        high = -inf
        for source, node in enumerate(before):
            total = node.total
            for weight, label in moves(_state(node), high + least - total):
                reached = total + weight
                high = max(high, reached)
                found.append((reached, weight, source, label))
        if not found:
            raise ValueError("no state is possible after this input")
        floor = high + least
        layer: dict[int, Node[S, L]] = {}
        for total, weight, source, label in found:
            if total < floor:
                continue
            best = before[source].best + weight
            state = _state(before[source])
            name = key(state, label)
            known = layer.get(name)
            if known is None:
                layer[name] = Node(make(state, label, name), total, best, [(source, label, weight)])
                continue
            top = known.total if known.total > total else total
            known.total = top + log(exp(known.total - top) + exp(total - top))
            if best > known.best:
                known.best, known.via = best, len(known.edges)
            known.edges.append((source, label, weight))
        self._append(sorted(layer.values(), key=_total, reverse=True), least, width or self._width)

    def _append(self, layer: list[Node[S, L]], least: float, width: int | None) -> None:
        shift = layer[0].total
        floor = shift + least
        kept = [node for node in layer[:width] if node.total >= floor]
        over = sum(exp(node.total - shift) for node in layer[len(kept) :] if node.total >= floor)
        self.crowded.append(over / (over + sum(exp(node.total - shift) for node in kept)) if over else 0.0)
        for node in kept:
            node.total -= shift
            node.best -= shift
        self.layers.append(kept)
        self.shifts.append(shift)
        old = len(self.layers) - 1 - RECENT
        if old > 0 and old % EVERY:
            for node in self.layers[old]:
                node.state = None

    # --- what the layers say

    def end(self, closing: Sequence[float] | None = None) -> int:
        """Node of the last layer where the best path ends, the first of equals; `closing`: a log weight of each."""
        layer = self.layers[-1]
        return max(range(len(layer)), key=lambda i: layer[i].best + (closing[i] if closing else 0.0))

    def best(self) -> float:
        """Log weight of the best path."""
        return self.layers[-1][self.end()].best + sum(self.shifts)

    def total(self) -> float:
        """Log of the summed weight of all paths."""
        layer = self.layers[-1]
        high = max(node.total for node in layer)
        return high + log(sum(exp(node.total - high) for node in layer)) + sum(self.shifts)

    def before(self, inputs: int, node: int) -> tuple[int, L]:
        """Where the best path to a node of layer `inputs` comes from, and the label it takes."""
        here = self.layers[inputs][node]
        source, label, _ = here.edges[here.via]
        return source, label

    def path(self) -> list[L]:
        """Labels of the best path."""
        at, labels = self.end(), []
        for inputs in range(len(self), 0, -1):
            at, label = self.before(inputs, at)
            labels.append(label)
        return labels[::-1]

    def last_states(self) -> list[S]:
        """States that are possible after all inputs."""
        return [_state(node) for node in self.layers[-1]]

    def start_back(self, closing: Sequence[float] | None = None) -> list[float]:
        """Backward sums (logs) of the last layer."""
        return list(closing) if closing else [0.0] * len(self.layers[-1])

    def back(self, inputs: int, beta: list[float]) -> list[float]:
        """Backward sums of the layer before `inputs` from those of layer `inputs`, the largest at 0."""
        sums = [0.0] * len(self.layers[inputs - 1])
        for node, later in zip(self.layers[inputs], beta, strict=True):
            if later == -inf:
                continue
            for source, _, weight in node.edges:
                sums[source] += exp(weight + later)
        high = max(sums)
        if high <= 0.0:  # too small for the sum: only relative weights matter
            return self._back_small(inputs, beta)
        return [log(value / high) if value > 0.0 else -inf for value in sums]

    def _back_small(self, inputs: int, beta: list[float]) -> list[float]:
        high = max(
            weight + later for node, later in zip(self.layers[inputs], beta, strict=True) for _, _, weight in node.edges
        )
        return self.back(inputs, [later - high for later in beta])

    def shares(self, inputs: int, beta: list[float]) -> dict[L, float]:
        """Share of each label over all paths through layer `inputs`; they sum to 1."""
        before = self.layers[inputs - 1]
        weights: dict[L, float] = {}
        layer = self.layers[inputs]
        high = max(node.total + later for node, later in zip(layer, beta, strict=True)) + self.shifts[inputs]
        for node, later in zip(layer, beta, strict=True):
            rest = later - high
            for source, label, weight in node.edges:
                weights[label] = weights.get(label, 0.0) + exp(before[source].total + weight + rest)
        total = sum(weights.values())
        return {label: weight / total for label, weight in weights.items()}
