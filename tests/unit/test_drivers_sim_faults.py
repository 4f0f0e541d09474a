"""Faults: what arrives instead of a transmission, by seed."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.sim.faults import NO_FAULTS, ROUGH_LINE, Faults, cut_short, noise_bytes, odd_pieces

LINE = b"A1023,000417,89.6,ft.lb,CW*7C\r\n"
seeds = st.integers(0, 2**32)


@given(data=st.binary(min_size=1), seed=seeds)
def test_no_faults_leave_the_bytes_alone(data: bytes, seed: int) -> None:
    assert NO_FAULTS.pieces(data, random.Random(seed)) == (data,)


@given(data=st.binary(min_size=1), seed=seeds)
def test_odd_pieces_join_to_the_same_bytes(data: bytes, seed: int) -> None:
    pieces = Faults(split=1).pieces(data, random.Random(seed))
    assert b"".join(pieces) == data
    assert all(1 <= len(piece) <= 7 for piece in pieces)


@given(data=st.binary(min_size=1), seed=seeds)
def test_a_repeat_is_the_same_bytes_again(data: bytes, seed: int) -> None:
    assert Faults(repeat=1).pieces(data, random.Random(seed)) == (data * 2,)


@given(data=st.binary(min_size=1), seed=seeds)
def test_noise_goes_before(data: bytes, seed: int) -> None:
    (arrived,) = Faults(noise=1).pieces(data, random.Random(seed))
    assert arrived.endswith(data)
    assert 1 <= len(arrived) - len(data) <= 12


@given(data=st.binary(min_size=2), seed=seeds)
def test_a_cut_keeps_a_start(data: bytes, seed: int) -> None:
    (arrived,) = Faults(cut=1).pieces(data, random.Random(seed))
    assert data.startswith(arrived)
    assert 0 < len(arrived) < len(data)


@given(seed=seeds)
def test_no_fault_makes_an_empty_piece(seed: int) -> None:
    rng = random.Random(seed)
    for faults in (ROUGH_LINE, Faults(cut=1), Faults(cut=1, split=1)):
        assert all(faults.pieces(LINE, rng))
        assert all(faults.pieces(b"x", rng))


def test_a_lost_transmission_never_arrives() -> None:
    assert Faults(lose=1).pieces(LINE, random.Random(0)) == ()


def test_where_nothing_is_sent_no_noise_arrives() -> None:
    assert Faults(noise=1, repeat=1, split=1).pieces(b"", random.Random(0)) == ()


def test_one_fault_more_does_not_move_where_the_others_strike() -> None:
    def struck(faults: Faults) -> list[bool]:
        return [faults.pieces(LINE, random.Random(seed))[0].count(LINE) == 2 for seed in range(200)]

    assert struck(Faults(repeat=0.2)) == struck(Faults(repeat=0.2, noise=0.5))


def test_the_rough_line_strikes_about_as_often_as_it_says() -> None:
    rng = random.Random(9)
    arrived = [ROUGH_LINE.pieces(LINE, rng) for _ in range(1000)]
    assert 400 <= sum(len(pieces) > 1 for pieces in arrived) <= 600
    assert 25 <= sum(b"".join(pieces).count(LINE) == 2 for pieces in arrived) <= 75


def test_the_parts_stand_alone() -> None:
    rng = random.Random(0)
    assert b"".join(odd_pieces(LINE, rng, longest=1)) == LINE
    assert odd_pieces(b"", rng) == ()
    assert len(noise_bytes(rng, longest=1)) == 1
    assert cut_short(b"x", rng) == b""


@pytest.mark.parametrize("name", ["split", "noise", "cut", "repeat", "lose"])
@pytest.mark.parametrize("chance", [-0.1, 1.1, float("nan")])
def test_a_chance_lies_between_0_and_1(name: str, chance: float) -> None:
    with pytest.raises(ValueError, match=name):
        Faults(**{name: chance})
