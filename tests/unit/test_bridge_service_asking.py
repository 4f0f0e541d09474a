"""When a wrench is asked: after a reason, never during a pull, and again after growing waits; every wait has an end."""

from decimal import Decimal

import pytest

from bridge.service.asking import Asking, Due

T = Decimal(100)


def asking(*, asks: bool = True) -> Asking:
    return Asking(asks=asks, quiet_s=4)


def test_nothing_is_waited_for_without_a_reason() -> None:
    assert asking().wait(T) is None
    assert asking().due(T) is None


def test_a_profile_without_a_request_asks_nothing() -> None:
    one = asking(asks=False)
    one.want(T)
    one.missing(T, 3)
    assert one.wait(T) is None


def test_it_is_asked_three_seconds_after_the_last_reading_of_a_pull() -> None:
    one = asking()
    one.pulled(T)
    one.missing(T, 2)
    assert (one.wait(T), one.due(T + 2)) == (3.0, None)
    one.pulled(T + 2)  # the pull goes on
    assert one.due(T + 4) is None
    assert one.due(T + 5) is Due.ASK


def test_only_more_that_is_missing_is_a_reason() -> None:
    one = asking()
    one.missing(T, 2)
    one.asked(T)
    one.began(T)
    one.ended(T, whole=True)
    one.missing(T, 2)  # the wrench has them no more
    assert one.wait(T) is None
    one.missing(T, 3)
    assert one.due(T) is Due.ASK


def test_waits_grow_and_end() -> None:
    one, t, waits = asking(), T, []
    one.want(t)
    while one.wait(t) is not None:
        t += Decimal(str(one.wait(t)))
        assert one.due(t) is Due.ASK
        one.asked(t)
        assert one.wait(t) == 5.0
        t += 5
        assert one.due(t) is Due.UNANSWERED
        one.failed(t)
        waits.append(one.wait(t))
        assert len(waits) < 20
    assert waits == [15.0, 45.0, 135.0, 405.0, None]
    one.want(t)  # the link came back
    assert one.due(t) is Due.ASK


@pytest.mark.parametrize("whole", [True, False])
def test_a_download_that_is_not_whole_is_asked_for_again(whole: bool) -> None:
    one = asking()
    one.want(T)
    one.asked(T)
    one.began(T)
    one.byte(T + 3)
    assert (one.wait(T + 3), one.due(T + 6)) == (4.0, None)
    assert one.due(T + 7) is Due.QUIET
    one.ended(T + 7, whole=whole)
    assert one.wait(T + 7) == (None if whole else 15.0)


def test_a_download_that_does_not_stop_is_ended() -> None:
    one, t = asking(), T
    one.began(t)
    while one.due(t) is None:
        t += 3
        one.byte(t)
        assert t < T + 700
    assert (one.due(t), t) == (Due.ENDLESS, T + 600)


def test_a_reply_that_was_interrupted_by_a_pull_is_waited_for() -> None:
    one = asking()
    one.want(T)
    one.asked(T)
    one.began(T)
    one.ended(T + 1, whole=False, goes_on=True)
    assert one.wait(T + 1) == 5.0
    one.began(T + 2)
    one.ended(T + 2, whole=True)
    assert one.wait(T + 2) is None


def test_an_answer_that_comes_late_is_one() -> None:
    one = asking()
    one.want(T)
    one.asked(T)
    one.failed(T + 5)
    one.began(T + 6)
    one.ended(T + 7, whole=True)
    assert one.wait(T + 7) is None


def test_a_lost_link_forgets_all() -> None:
    one = asking()
    one.want(T)
    one.lost()
    assert one.wait(T) is None
    one.began(T)
    one.lost()
    assert one.wait(T) is None
