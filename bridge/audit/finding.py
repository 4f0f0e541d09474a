"""A finding: something that an audit says, with its severity, as a code and arguments."""

from collections.abc import Sequence
from dataclasses import dataclass

STOPS = "stops release"
DECIDE = "needs a decision"
NOTE = "note"
SEVERITIES = (STOPS, DECIDE, NOTE)  # worst first

COMPLETE = "record complete"
WITH_NOTES = "record complete with notes"
NOT_COMPLETE = "record not complete"


@dataclass(frozen=True, slots=True)
class Finding:
    """`code` is worded in the catalogue with `args`; `severity` is one of `SEVERITIES`; `step` is its id or None."""

    code: str
    severity: str
    step: str | None = None
    args: tuple[str, ...] = ()


def worst(findings: Sequence[Finding]) -> str | None:
    """The worst severity there is, None without findings."""
    found = {finding.severity for finding in findings}
    return next((severity for severity in SEVERITIES if severity in found), None)
