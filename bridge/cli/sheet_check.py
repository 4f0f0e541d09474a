"""What `sheet check` finds: every error of a sheet at once, or the advice on a sheet that has none."""

from dataclasses import dataclass

from bridge.words import say
from specs.advice import Advice
from specs.errors import SheetErrors, SpecError
from specs.expand import expand
from specs.lines import Path, lines_of
from specs.lint import lint
from specs.load import find
from specs.model import Sheet
from specs.unsaid import unsaid

MOST_TOLD = 300  # faults; nobody mends more at once
MORE = "sheet.faults-more"
ERROR = "error"  # beside the severities of advice


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing to say about a sheet, worded; `line` and `path` are None where it is about the whole file."""

    sheet: str  # as the person named it
    line: int | None
    path: str | None
    severity: str
    code: str
    words: str

    def text(self) -> str:
        """`file:line: path: sentence`, the severity of advice before the sentence."""
        place = self.sheet if self.line is None else f"{self.sheet}:{self.line}"
        parts = (place, self.path, None if self.severity == ERROR else self.severity, self.words)
        return ": ".join(part for part in parts if part)


def remarks(name: str) -> tuple[Remark, ...]:
    """All remarks on the sheet of that file or sample, in the order of its lines."""
    try:
        sheet = find(name)
    except SheetErrors as errors:
        told = tuple(
            Remark(name, fault.line, fault.path or None, ERROR, fault.code, say(fault.code, *fault.args))
            for fault in errors.faults[:MOST_TOLD]
        )
        rest = str(len(errors.faults) - len(told))
        return told if rest == "0" else (*told, Remark(name, None, None, ERROR, MORE, say(MORE, rest)))
    except SpecError as error:
        return (Remark(name, None, None, ERROR, error.code, say(error.code, *error.words)),)
    places = _Places(sheet)
    found = (_remark(name, places, advice) for advice in (*lint(sheet, expand(sheet)), *unsaid(sheet)))
    return tuple(sorted(found, key=lambda remark: remark.line or 0))


def _remark(name: str, places: "_Places", advice: Advice) -> Remark:
    words = say(advice.code, *advice.args)
    return Remark(name, places.line(advice.path), advice.path, advice.severity, advice.code, words)


class _Places:
    """Where in its text the parts of a sheet stand."""

    def __init__(self, sheet: Sheet) -> None:
        self._lines = lines_of(sheet.text.removeprefix("\ufeff").replace("\r\n", "\n"))
        self._stages = {stage.id: index for index, stage in enumerate(sheet.stages)}

    def line(self, shown: str) -> int | None:
        """Line of `stages.C2.target`, else of the nearest that holds it, None for what the sheet does not say."""
        parts: Path = tuple(shown.split("."))
        if parts[0] == "stages" and len(parts) > 1:
            parts = (parts[0], self._stages[str(parts[1])], *parts[2:])
        for length in range(len(parts), 0, -1):
            if parts[:length] in self._lines:
                return self._lines[parts[:length]]
        return None
