"""The picture of a band: a reading stands on the side of the limit where it lies."""

import pytest

from bridge.pictures.band import band_picture
from bridge.pictures.shapes import Circle, Group, Line, Picture, Polygon, Text
from specs.bands import Band

MARK = 5.5  # from the middle of a mark to its edge
BAND = Band("55.32", "62.69", "ft·lb", "59")


def mark_x(picture: Picture) -> float:
    """Where the mark stands."""
    (group,) = picture.groups()
    assert isinstance(group, Group)
    return group.at[0]


def ends(picture: Picture) -> tuple[float, float]:
    """Left and right end of the band."""
    (band,) = [shape for shape in picture.shapes if isinstance(shape, Polygon)]
    xs = [x for x, _ in band.points]
    return min(xs), max(xs)


@pytest.mark.parametrize(
    ("at", "verdict"),
    [
        (-0.0001, "under"),
        (-50.0, "under"),
        (0.0, "within"),
        (0.5, "within"),
        (1.0, "within"),
        (1.0001, "over"),
        (9.0, "over"),
    ],
)
def test_a_reading_stands_on_its_side(at: float, verdict: str) -> None:
    """All of its mark, even where it misses the limit by a hair, and never outside the picture."""
    picture = band_picture(BAND, "60", at, verdict)
    low, high = ends(picture)
    x = mark_x(picture)
    assert {"under": x + MARK <= low, "within": low <= x - MARK < x + MARK <= high, "over": x - MARK >= high}[verdict]
    assert MARK < x < picture.width - MARK


def test_without_a_place_the_verdict_has_one() -> None:
    """A band with an open end has no scale."""
    low, high = ends(band_picture(BAND))
    assert mark_x(band_picture(BAND, "1", None, "under")) < low
    assert mark_x(band_picture(BAND, "1", None, "over")) > high


def test_limits_target_and_word_are_text() -> None:
    """What is drawn is said; an open end has no line."""
    picture = band_picture(BAND, "62.7", 1.001, "over")
    (group,) = picture.groups()
    texts = {shape.text for shape in (*picture.shapes, *group.shapes) if isinstance(shape, Text)}
    assert texts == {"55.32", "62.69", "59", "ft·lb", "62.7 over"}
    assert group.label == "62.7 over"
    open_end = band_picture(Band("20", None, "ft·lb"))
    thick = [shape for shape in open_end.shapes if isinstance(shape, Line) and shape.start[0] == shape.end[0]]
    assert len(thick) == 1


def test_target_stands_where_it_lies() -> None:
    """0.499 of the way from 55.32 to 62.69."""
    picture = band_picture(BAND)
    low, high = ends(picture)
    (dotted,) = [shape for shape in picture.shapes if isinstance(shape, Line) and shape.dotted]
    assert (dotted.start[0] - low) / (high - low) == pytest.approx((59 - 55.32) / (62.69 - 55.32))


def test_under_is_hollow() -> None:
    """A ring and no disc."""
    (group,) = band_picture(BAND, "50", -1.0, "under").groups()
    (ring,) = [shape for shape in group.shapes if isinstance(shape, Circle)]
    assert 0 < ring.hole < ring.radius
