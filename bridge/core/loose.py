"""A memory download of which no counter tells which way round it came: both ways are tried, the likelier is taken.

The flag of the download says what is likelier beforehand. Where the values do not tell either, as within one stage, it
is followed, and no confidence is lowered: which of equal neighbours was first is assumed, not measured.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, log

from bridge.core import costs
from bridge.core.pulls import Input, Pull


@dataclass(slots=True)
class Loose:
    """First readings of its pulls, as its flag puts them; whether they were turned round, and how sure that is."""

    numbers: tuple[int, ...]
    turned: bool = False
    sure: float = 1.0

    def weigh(self, evidence: float) -> None:
        """Take a way; `evidence`: how much likelier the pulls are against the flag than with it, as a log ratio."""
        odds = evidence + log(costs.FLAG_WRONG / (1 - costs.FLAG_WRONG))
        told = abs(evidence) >= costs.TOLD_APART
        self.turned = told and odds > 0
        self.sure = 1 / (1 + exp(-abs(odds))) if told else 1.0

    def laid(self, pulls: Sequence[Input]) -> list[Input]:
        """Its pulls as they stood before, the way round that is taken now."""
        found = {pull.n: pull for pull in pulls if isinstance(pull, Pull)}
        ordered = [found[n] for n in (self.numbers[::-1] if self.turned else self.numbers)]
        return [replace(pull, at=at, order=self.sure) for at, pull in enumerate(ordered)]

    def other(self) -> "Loose":
        """The same, turned the other way."""
        return Loose(self.numbers, not self.turned, self.sure)
