"""A picture in plain text: the cell of every group where it stands, then what the picture says in words."""

from textwrap import wrap

from bridge.pictures.shapes import Picture, Text

_LINE = 14.0  # points of the picture to a line of text, and to a column of it
_COLUMN = 5.2
_BETWEEN = 1


def grid(picture: Picture, width: int) -> list[str]:
    """Lines of at most `width` columns, unless one cell alone is wider. No cell covers another, none is left out."""
    cells = [(group.at, group.cell) for group in picture.groups()]
    cells += [(shape.at, shape.text) for shape in picture.shapes if isinstance(shape, Text)]
    rows: dict[int, list[tuple[float, str]]] = {}
    for (x, y), cell in cells:
        rows.setdefault(round(y / _LINE), []).append((x / _COLUMN, cell))
    squeeze = min(1.0, width * _COLUMN / max(picture.width, 1.0))
    lines: list[str] = []
    for number in sorted(rows):
        lines += _row(rows[number], squeeze, width)
    for said in picture.desc:
        lines += wrap(said, width, subsequent_indent="  ", break_on_hyphens=False)
    return lines


def _row(cells: list[tuple[float, str]], squeeze: float, width: int) -> list[str]:
    """Cells of one height in one line where the width holds them, each as near to its place as the others let it."""
    lines: list[str] = []
    rest = sorted(cells)
    while rest:
        here = [rest.pop(0)]
        while rest and sum(len(cell) + _BETWEEN for _, cell in here) + len(rest[0][1]) <= width:
            here.append(rest.pop(0))
        starts: list[int] = []
        for middle, cell in here:
            least = starts[-1] + len(here[len(starts) - 1][1]) + _BETWEEN if starts else 0
            starts.append(max(least, round(middle * squeeze - len(cell) / 2)))
        most = width
        for i in reversed(range(len(here))):
            starts[i] = max(0, min(starts[i], most - len(here[i][1])))
            most = starts[i] - _BETWEEN
        line = ""
        for start, (_, cell) in zip(starts, here, strict=True):
            line = line.ljust(start) + cell
        lines.append(line)
    return lines
