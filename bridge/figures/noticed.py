"""How many planted mistakes a check of sheets notices by their name, and what it says of sheets without one."""

from collections import Counter
from dataclasses import dataclass, field
from random import Random

from bridge.figures.mistakes import MISTAKES, clean
from specs.advice import NOTE
from specs.expand import expand
from specs.lint import lint
from specs.parse import parse


@dataclass(slots=True)
class Noticed:
    """Counts; `warnings` and `notes` are what was said of all clean sheets together."""

    sheets: int
    planted: Counter[str] = field(default_factory=Counter)
    caught: Counter[str] = field(default_factory=Counter)
    clean: int = 0
    warnings: Counter[str] = field(default_factory=Counter)
    notes: Counter[str] = field(default_factory=Counter)
    missed: list[tuple[str, str, tuple[str, ...]]] = field(default_factory=list)  # mistake, text, what was said


def noticed(sheets: int, seed: int) -> Noticed:
    """Plant each mistake in turn, one a sheet; each sheet is looked at without its mistake too."""
    found = Noticed(sheets)
    names = list(MISTAKES)
    for number in range(sheets):
        name = names[number % len(names)]
        rng = Random(f"{seed}/{number}")  # noqa: S311 — can be drawn again
        draft = clean(rng)
        found.clean += 1
        for code, severity in _said(draft.text()):
            (found.notes if severity == NOTE else found.warnings)[code] += 1
        plant, codes = MISTAKES[name]
        text = plant(draft, rng).text()
        said = tuple(code for code, _ in _said(text))
        found.planted[name] += 1
        if codes & set(said):
            found.caught[name] += 1
        else:
            found.missed.append((name, text, said))
    return found


def _said(text: str) -> list[tuple[str, str]]:
    sheet = parse(text)
    return [(advice.code.removeprefix("sheet."), advice.severity) for advice in lint(sheet, expand(sheet))]
