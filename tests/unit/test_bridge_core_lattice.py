"""Worked examples from elsewhere, run through the lattice with their own costs.

A global alignment of two strings: inputs are the letters of the first, the state is how many letters of the second
are used. A move leaves some letters of the second against gaps, then puts the input letter against the next one or
against a gap; a closing input leaves the rest. So each alignment is one path, its score the log weight.
"""

from collections.abc import Callable, Iterator, Sequence
from math import exp, fsum, log
from typing import Any

import pytest
from Bio.Align import PairwiseAligner, substitution_matrices
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.lattice import Lattice

Score = Callable[[str, str], float]
Column = tuple[int, bool]  # letters of the second string left before, and whether the input letter stands on the next


def plain(match: float, mismatch: float) -> Score:
    """One score for equal letters and one for others."""
    return lambda a, b: match if a == b else mismatch


def used(state: int, label: Column) -> int:
    """Letters of the second string that are used after a move."""
    return state + label[0] + label[1]


def aligned(first: str, second: str, score: Score, gap: float, times: float = 1.0) -> Lattice[int, Column]:
    """All global alignments; every score taken `times`."""
    lattice: Lattice[int, Column] = Lattice(0)
    for letter in (*first, None):

        def moves(at: int, least: float, letter: str | None = letter) -> Iterator[tuple[float, Column]]:
            left = len(second) - at
            if letter is None:
                yield times * gap * left, (left, False)
                return
            for skipped in range(left + 1):
                yield times * gap * (skipped + 1), (skipped, False)
                if skipped < left:
                    yield times * (gap * skipped + score(letter, second[at + skipped])), (skipped, True)

        lattice.extend(moves, used, lambda state, label, key: key)
    return lattice


def rows(first: str, second: str, path: Sequence[Column]) -> tuple[str, str]:
    """The two lines of an alignment."""
    over, under, at = "", "", 0
    for letter, (skipped, on) in zip((*first, ""), path, strict=True):
        over += "-" * skipped + letter
        under += second[at : at + skipped + on] + ("" if on or not letter else "-")
        at += skipped + on
    return over, under


def value(over: str, under: str, score: Score, gap: float) -> float:
    """Score of two lines, column by column."""
    assert len(over) == len(under)
    return sum(gap if "-" in pair else score(*pair) for pair in zip(over, under, strict=True))


def every(first: str, second: str) -> Iterator[tuple[str, str]]:
    """Every global alignment, without any lattice."""
    if not first and not second:
        yield "", ""
        return
    if first and second:
        yield from ((first[0] + a, second[0] + b) for a, b in every(first[1:], second[1:]))
    if first:
        yield from ((first[0] + a, "-" + b) for a, b in every(first[1:], second))
    if second:
        yield from (("-" + a, second[0] + b) for a, b in every(first, second[1:]))


def blosum(a: str, b: str) -> float:
    """BLOSUM50 as Biopython carries it."""
    return float(BLOSUM50[a, b])


PAIRWISE: Any = PairwiseAligner  # half of the package has no types
BLOSUM50 = substitution_matrices.load("BLOSUM50")  # type: ignore[no-untyped-call]  # nor has this

# Pairs, scores and numbers of optima: the well-known examples from memory, each computed again with Biopython 1.88.
# GATTACA/GCATGCG is the one of the encyclopedia, GATTACA/GCATGCU that of a public code listing (read), GTT/GCATT that
# of the help page of an R package (read), HEAGAWGHEE/PAWHEAE that of Durbin and others (from memory).
EXAMPLES = [
    pytest.param("GATTACA", "GCATGCG", plain(1, -1), -1, 0, 3, ("G-ATTACA", "GCATG-CG"), id="encyclopedia"),
    pytest.param("GATTACA", "GCATGCU", plain(1, -1), -1, 0, 3, ("G-ATTACA", "GCA-TGCU"), id="code-listing"),
    pytest.param("GTT", "GCATT", plain(7, -3), -4, 13, 1, ("G--TT", "GCATT"), id="help-page"),
    pytest.param("HEAGAWGHEE", "PAWHEAE", blosum, -8, 1, 3, ("HEAGAWGHE-E", "-PA--W-HEAE"), id="durbin"),
]


@pytest.mark.parametrize(("first", "second", "score", "gap", "best", "optima", "one"), EXAMPLES)
def test_published_alignments_come_out(
    first: str, second: str, score: Score, gap: float, best: float, optima: int, one: tuple[str, str]
) -> None:
    """The score, an alignment that has it, and how many have it: far enough apart, only the best ones count."""
    lattice = aligned(first, second, score, gap)
    assert lattice.best() == pytest.approx(best, abs=1e-9)
    found = rows(first, second, lattice.path())
    assert tuple(row.replace("-", "") for row in found) == (first, second)
    assert value(*found, score, gap) == best
    assert value(*one, score, gap) == best
    apart = aligned(first, second, score, gap, times=60.0)
    assert exp(apart.total() - apart.best()) == pytest.approx(optima, abs=1e-9)


@pytest.mark.parametrize(("first", "second", "score", "gap", "best", "optima", "one"), EXAMPLES[:3])
def test_published_alignments_are_the_best_of_all(
    first: str, second: str, score: Score, gap: float, best: float, optima: int, one: tuple[str, str]
) -> None:
    """Every alignment written out: as many have the score, and none a better one."""
    found = [pair for pair in every(first, second) if value(*pair, score, gap) >= best]
    assert {value(*pair, score, gap) for pair in found} == {best}
    assert len(found) == optima
    assert one in found
    assert rows(first, second, aligned(first, second, score, gap).path()) in found


@pytest.mark.parametrize(
    ("first", "second", "distance"),
    [  # well known, from memory; textbook pairs of the edit distance with unit costs
        ("kitten", "sitting", 3),
        ("saturday", "sunday", 3),
        ("intention", "execution", 5),
        ("", "abc", 3),
        ("abc", "", 3),
        ("same", "same", 0),
    ],
)
def test_edit_distances_come_out(first: str, second: str, distance: int) -> None:
    lattice = aligned(first, second, plain(0, -1), -1)
    assert lattice.best() == pytest.approx(-distance, abs=1e-9)
    assert value(*rows(first, second, lattice.path()), plain(0, -1), -1) == -distance


letters = st.text(alphabet="ACG", min_size=1, max_size=9)


@given(letters, letters, st.integers(1, 7), st.integers(-5, 0), st.integers(-5, -1))
def test_alignments_score_as_another_tool_says(first: str, second: str, match: int, mismatch: int, gap: int) -> None:
    other: Any = PAIRWISE(mode="global", match_score=match, mismatch_score=mismatch, gap_score=gap)
    lattice = aligned(first, second, plain(match, mismatch), gap)
    assert lattice.best() == pytest.approx(other.score(first, second), abs=1e-9)
    found = rows(first, second, lattice.path())
    assert value(*found, plain(match, mismatch), gap) == other.score(first, second)


# --- hidden states

# Model: an encyclopedia page and a public course page (read). The figures below: computed with hmmlearn 0.3.3 and by
# enumeration of the 8 paths; H H F with 0.01512 is the published answer (from memory).
BEGIN = {"H": 0.6, "F": 0.4}
NEXT = {"H": {"H": 0.7, "F": 0.3}, "F": {"H": 0.4, "F": 0.6}}
SHOWS = {"H": {"normal": 0.5, "cold": 0.4, "dizzy": 0.1}, "F": {"normal": 0.1, "cold": 0.3, "dizzy": 0.6}}
OBSERVED = ("normal", "cold", "dizzy")
EIGHT = {
    "HHH": 0.00588,
    "HHF": 0.01512,
    "HFH": 0.00108,
    "HFF": 0.00972,
    "FHH": 0.000448,
    "FHF": 0.001152,
    "FFH": 0.000288,
    "FFF": 0.002592,
}
SMOOTHED = [0.87651599, 0.62293275, 0.21212789]


def hidden(observed: Sequence[str], shift: float = 0.0) -> Lattice[str, str]:
    """The model as a lattice, every log weight moved by `shift`."""
    lattice: Lattice[str, str] = Lattice("")
    for shown in observed:

        def moves(state: str, least: float, shown: str = shown) -> Iterator[tuple[float, str]]:
            for new, prior in (NEXT[state] if state else BEGIN).items():
                yield log(prior * SHOWS[new][shown]) + shift, new

        lattice.extend(moves, lambda state, label: ord(label), lambda state, label, key: label)
    return lattice


def all_shares(lattice: Lattice[str, str]) -> list[dict[str, float]]:
    """Shares of the labels, layer by layer."""
    beta, found = lattice.start_back(), []
    for inputs in range(len(lattice), 0, -1):
        found.append(lattice.shares(inputs, beta))
        beta = lattice.back(inputs, beta)
    return found[::-1]


def test_published_hidden_states_come_out() -> None:
    lattice = hidden(OBSERVED)
    assert lattice.path() == ["H", "H", "F"]
    assert exp(lattice.best()) == pytest.approx(0.01512, abs=1e-12)
    assert exp(lattice.total()) == pytest.approx(0.03628, abs=1e-12)
    assert [share["H"] for share in all_shares(lattice)] == pytest.approx(SMOOTHED, abs=5e-9)
    assert [sum(share.values()) for share in all_shares(lattice)] == pytest.approx([1.0] * 3)


def test_the_eight_paths_make_up_the_published_sum() -> None:
    """Each path by its own arithmetic."""
    for states, known in EIGHT.items():
        weight = BEGIN[states[0]] * SHOWS[states[0]][OBSERVED[0]]
        for old, new, shown in zip(states, states[1:], OBSERVED[1:], strict=False):
            weight *= NEXT[old][new] * SHOWS[new][shown]
        assert weight == pytest.approx(known, rel=1e-12)
    assert fsum(EIGHT.values()) == pytest.approx(exp(hidden(OBSERVED).total()))


@pytest.mark.parametrize("shift", [-2000.0, -700.0, -30.0, 30.0, 300.0])
def test_only_relative_weights_matter(shift: float) -> None:
    """Weights that are too small or large to be written as plain numbers give the same path and shares."""
    lattice = hidden(OBSERVED, shift)
    assert lattice.path() == ["H", "H", "F"]
    assert [share["H"] for share in all_shares(lattice)] == pytest.approx(SMOOTHED, abs=5e-9)
    assert lattice.total() - 3 * shift == pytest.approx(log(0.03628), abs=1e-9)
