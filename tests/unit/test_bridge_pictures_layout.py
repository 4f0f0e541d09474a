"""Where positions stand: by plain trigonometry, and as the sheet places them."""

from math import atan2, degrees, dist

import pytest

from bridge.pictures.layout import PER_ROW, in_rows, is_round, layout


@pytest.mark.parametrize("count", [3, 4, 6, 8, 12, 24, 60])
def test_a_circle_runs_clockwise_from_the_top(count: int) -> None:
    """Position k stands at (k - 1) · 360° / N from twelve o'clock, all at one radius, neighbours one apart."""
    places = layout(count, "star")
    angles = [degrees(atan2(x, -y)) % 360 for x, y in places]  # 0 at the top, clockwise: y runs down
    assert angles == pytest.approx([360 * k / count for k in range(count)])
    radii = [dist((0, 0), place) for place in places]
    assert radii == pytest.approx([radii[0]] * count)
    assert dist(places[0], places[1]) >= 1 - 1e-9


def test_opposite_stands_opposite() -> None:
    """Of eight, 1 and 5 are a diameter apart."""
    places = layout(8, "star")
    assert (places[0][0], places[0][1]) == pytest.approx((-places[4][0], -places[4][1]))


def test_rows_go_on_below() -> None:
    """One apart, from left to right, then the next row."""
    places = layout(PER_ROW + 2, "row")
    assert places[:2] == ((0.0, 0.0), (1.0, 0.0))
    assert places[PER_ROW][0] == 0.0
    assert places[PER_ROW][1] > 1.0
    assert in_rows(2, "star")
    assert not in_rows(3, "star")


def test_given_coordinates_keep_their_shape() -> None:
    """A rectangle of 2 by 1 stays one; y of a sheet runs up, that of a picture down; neighbours are one apart."""
    given = [(0.0, 0.0), (200.0, 0.0), (200.0, 100.0), (0.0, 100.0)]
    assert layout(4, "star", given) == ((0.0, 1.0), (2.0, 1.0), (2.0, 0.0), (0.0, 0.0))
    assert not is_round(4, "star", given)


def test_two_positions_at_one_place_are_not_drawn_there() -> None:
    """Else one would hide the other."""
    assert layout(3, "star", [(0.0, 0.0), (0.0, 0.0), (1.0, 1.0)]) == layout(3, "star")


def test_far_apart_coordinates_stay_on_the_page() -> None:
    """Two that nearly touch do not drive a third out of sight."""
    places = layout(3, "row", [(0.0, 0.0), (0.001, 0.0), (1000.0, 0.0)])
    assert max(x for x, _ in places) <= 12 + 1e-9
