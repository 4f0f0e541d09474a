"""The drawing of positions, read back from its SVG by an XML parser."""

from itertools import pairwise
from math import dist
from xml.etree import ElementTree

import pytest

from bridge.pictures.grid import grid
from bridge.pictures.marks import BLUE, GREY, MARKS, ORANGE, PURPLE, word_of
from bridge.pictures.positions import RADIUS, Field, Spot, positions
from bridge.pictures.svg import svg
from specs.patterns import order

SVG = "{http://www.w3.org/2000/svg}"
# ASME PCC-1 legacy pattern for 8; a public article on flanges of 12 (both as kept in the project's reference values)
CROSS = {8: (1, 5, 3, 7, 2, 6, 4, 8), 12: (1, 7, 4, 10, 2, 8, 5, 11, 3, 9, 6, 12)}


def star(count: int, marks: tuple[str, ...] = (), title: str = "C") -> Field:
    """A star of that many, in the order that the sheets use."""
    names = tuple(str(number) for number in range(1, count + 1))
    spots = tuple(Spot(name, marks[i % len(marks)] if marks else None) for i, name in enumerate(names))
    return Field(title, "star", spots, order("star", names))


def root(*fields: Field) -> ElementTree.Element:
    """The picture, drawn, written and parsed."""
    return ElementTree.fromstring(svg(positions("Cover", fields)))


def circles(top: ElementTree.Element) -> dict[str, tuple[float, float]]:
    """Middle of each position's circle by the text that stands in it."""
    found = {}
    for group in top.iter(f"{SVG}g"):
        circle, text = group.find(f"{SVG}circle"), group.find(f"{SVG}text")
        assert circle is not None
        assert text is not None
        found[str(text.text)] = (float(circle.attrib["cx"]), float(circle.attrib["cy"]))
    return found


def arrows(top: ElementTree.Element) -> list[tuple[str, str]]:
    """From and to of each arrow: the circles nearest to the start of its line and to its tip."""
    places = circles(top)
    ways = [path.attrib["d"] for path in top.findall(f"{SVG}path")]
    tips = [polygon.attrib["points"].split(" ") for polygon in top.findall(f"{SVG}polygon")]
    found = []
    for way, tip in zip(ways, tips, strict=True):
        start = tuple(map(float, way[1:].split("L")[0].split("Q")[0].split(" ")))
        end = (float(tip[0]), float(tip[1]))
        nearest = [min(places, key=lambda name, at=at: dist(places[name], at)) for at in (start, end)]  # type: ignore[misc]
        assert all(dist(places[name], at) < RADIUS + 4 for name, at in zip(nearest, (start, end), strict=True))
        found.append((nearest[0], nearest[1]))
    return found


@pytest.mark.parametrize("count", CROSS)
def test_arrows_follow_the_published_order(count: int) -> None:
    """One from each position to the next of the list, from circle to circle."""
    names = [str(number) for number in CROSS[count]]
    assert arrows(root(star(count))) == list(pairwise(names))


def test_turns_are_written_beside_the_positions() -> None:
    """Position 5 of a star of eight is the second."""
    (label,) = [
        text
        for group in root(star(8)).iter(f"{SVG}g")
        if (text := group.findtext(f"{SVG}title")) and text.startswith("position 5,")
    ]
    assert label == "position 5, turn 2 in the order"


def test_who_cannot_see_it_is_told() -> None:
    """A title, the order in words, a name for every position; it is an image to a screen reader."""
    top = root(star(4))
    assert top.attrib["role"] == "img"
    assert top.findtext(f"{SVG}title") == "Cover"
    assert top.findtext(f"{SVG}desc") == "C, in the order they are due: 1 → 3 → 2 → 4"


def test_marks_differ_by_word_place_and_shape() -> None:
    """Under: a ring left of the band; within: a square in it; over: a barred square right of it; unproven: dotted."""
    middles, shapes = {}, {}
    for group in root(star(4, ("under", "within", "over", "unproven"))).iter(f"{SVG}g"):
        words = [text.text for text in group.findall(f"{SVG}text")]
        circle = group.find(f"{SVG}circle")
        assert circle is not None
        filled = [part for part in group if part.attrib.get("fill") in (ORANGE, BLUE, PURPLE, GREY)]
        (shape,) = filled
        word = str(words[-1])
        numbers = shape.attrib.get("points") or shape.attrib["d"].split("A")[0][1:]
        xs = [float(x) for x in numbers.split(" ")[::2]]
        middles[word] = (min(xs) + max(xs)) / 2 - float(circle.attrib["cx"])
        shapes[word] = (
            shape.tag.removeprefix(SVG),
            shape.attrib["fill"],
            shape.attrib.get("fill-rule"),
            "stroke-dasharray" in shape.attrib,
            len(group.findall(f"{SVG}path")),
        )
        assert shape.attrib["stroke"] == "currentColor"
    assert middles["under"] < -8
    assert middles["within"] == pytest.approx(0)
    assert middles["over"] > 8
    assert shapes["under"][:3] == ("path", ORANGE, "evenodd")
    assert shapes["within"] == ("polygon", BLUE, None, False, 3)  # the band: a line and its two ends
    assert shapes["over"] == ("polygon", PURPLE, None, False, 6)  # and three bars
    assert shapes["unproven"] == ("polygon", GREY, None, True, 0)


def test_colour_is_never_that_of_words() -> None:
    """Every text has the colour of the page's text; the four colours alone fill shapes."""
    top = root(star(9, tuple(MARKS)))
    assert {text.attrib["fill"] for text in top.iter(f"{SVG}text")} == {"currentColor"}
    used = {part.attrib["fill"] for part in top.iter() if "fill" in part.attrib}
    assert used <= {"none", "currentColor", ORANGE, BLUE, PURPLE, GREY}
    assert {word_of(mark) for mark in MARKS} <= {text.text for text in top.iter(f"{SVG}text")}


WILD = Field("T", "listed", tuple(Spot(str(n)) for n in range(1, 7)), ("3", "4", "2", "5", "1", "6"))


@pytest.mark.parametrize("fields", [(WILD,), (WILD, star(12)), (star(4, ("over", "under")),)])
def test_everything_lies_inside_the_picture(fields: tuple[Field, ...]) -> None:
    """Also what is bent far out: a row in a wild order."""
    top = root(*fields)
    _, _, width, height = map(float, top.attrib["viewBox"].split(" "))
    for path in top.iter(f"{SVG}path"):
        if "Q" in path.attrib["d"]:
            start, rest = path.attrib["d"][1:].split("Q")
            numbers = [float(x) for x in f"{start} {rest}".split(" ")]
            assert 0 <= (numbers[1] + 2 * numbers[3] + numbers[5]) / 4 <= height
            assert 0 <= (numbers[0] + 2 * numbers[2] + numbers[4]) / 4 <= width
    for text in top.iter(f"{SVG}text"):
        assert 0 <= float(text.attrib["x"]) <= width
        assert 0 < float(text.attrib["y"]) <= height


def test_an_arrow_goes_round_what_is_in_its_way() -> None:
    """From 1 to 3 in a row, 2 is passed by."""
    row = Field("", "listed", tuple(Spot(str(n)) for n in (1, 2, 3)), ("1", "3", "2"))
    top = root(row)
    first = top.findall(f"{SVG}path")[0].attrib["d"]
    assert "Q" in first
    assert "Q" not in root(Field("", "row", row.spots, ("1", "2", "3"))).findall(f"{SVG}path")[0].attrib["d"]


def test_assemblies_stand_side_by_side() -> None:
    """Four alike: none covers another."""
    top = root(*(star(4, title=name) for name in ("UF", "UR", "DF", "DR")))
    places = [(float(circle.attrib["cx"]), float(circle.attrib["cy"])) for circle in top.iter(f"{SVG}circle")]
    assert len(places) == 16
    assert min(dist(a, b) for i, a in enumerate(places) for b in places[:i]) > 2 * RADIUS


def test_signs_are_escaped_and_the_bytes_are_the_same() -> None:
    """A name that looks like markup stays a name; no script, no link, nothing from outside."""
    field = Field("<script>&", "row", (Spot('"<b>'), Spot("\x00\ud83d")), ('"<b>',))
    text = svg(positions("a<b", [field]))
    assert text == svg(positions("a<b", [field]))
    top = ElementTree.fromstring(text)
    assert {part.tag.removeprefix(SVG) for part in top.iter()} <= {
        *("svg", "title", "desc", "g", "path", "circle", "polygon", "text")
    }
    assert not [name for part in top.iter() for name in part.attrib if name.startswith("on") or "href" in name]


def test_plain_text_shows_every_position_once() -> None:
    """With its turn; and no line is wider than asked."""
    lines = grid(positions("Cover", [star(12)]), 60)
    text = "\n".join(lines)
    assert all(text.count(f"{number} ({turn}.)") == 1 for turn, number in enumerate(CROSS[12], start=1))
    assert max(map(len, lines)) <= 60
    top_row = next(line for line in lines if " (1.)" in line)
    assert lines.index(top_row) < next(i for i, line in enumerate(lines) if " (2.)" in line)  # 7 is at the bottom


def test_plain_text_of_marks() -> None:
    """Sign and number stand together, the word in the sentence below."""
    text = "\n".join(grid(positions("Cover", [star(4, ("over",))]), 70))
    assert "[▥] 1" in text
    assert "1 over, 2 over, 3 over, 4 over" in text


def test_many_positions_have_numbers_instead_of_a_tangle() -> None:
    """Beyond 24 arrows hide each other."""
    assert root(star(25)).findall(f"{SVG}polygon") == []
    assert len(root(star(24)).findall(f"{SVG}polygon")) == 23
