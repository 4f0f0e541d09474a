"""One piece of advice on a sheet that reads well but asks for trouble. Severities are those of findings."""

from dataclasses import dataclass

STOPS = "stops release"
DECIDE = "needs a decision"
NOTE = "note"


@dataclass(frozen=True, slots=True)
class Advice:
    """What stands at `path` and why it should be looked at; `code` and `args` are worded by the catalogue."""

    severity: str
    path: str  # "checked_by", "groups.P", "stages.C2.target"
    code: str
    args: tuple[str, ...] = ()
