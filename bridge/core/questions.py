"""Numbers of open questions: pulls that are asked and hang on one another share one."""

from bisect import bisect_left
from collections.abc import Callable, Sequence

from bridge.core.ledger import Ledger
from bridge.core.pulls import Input, Pull


class Questions:
    """`numbers`: first reading of an asked pull -> number of its question."""

    def __init__(self) -> None:
        self.numbers: dict[int, int] = {}
        self._asked: list[tuple[int, int]] = []  # place and first reading of the pulls that are asked

    def number(
        self, inputs: Sequence[Input], first: int, ledger: Ledger, one_doubt: Callable[[int, int], bool]
    ) -> None:
        """Number the pulls that are asked among the inputs from `first` on; those before it keep theirs.

        `one_doubt` is whether the pulls at two places hang on one open question.
        """
        del self._asked[bisect_left(self._asked, (first, 0)) :]
        for place in range(first, len(inputs)):
            pull = inputs[place]
            if not isinstance(pull, Pull) or not ledger.asks(pull):
                continue
            before, n = self._asked[-1] if self._asked else (-1, 0)
            if before >= 0 and (one_doubt(before, place) or _one_spell(inputs, ledger, before, place)):
                number = self.numbers[n]
            else:
                number = self.numbers.get(pull.n) or max(self.numbers.values(), default=0) + 1
            self.numbers[pull.n] = number
            self._asked.append((place, pull.n))


def _one_spell(inputs: Sequence[Input], ledger: Ledger, before: int, place: int) -> bool:
    """Whether a pull goes on with the spell without a unit that an asked pull before it is of, on one wrench."""
    lane = inputs[place].lane
    spell = (inputs[at] for at in range(before, place + 1))
    pulls = (item for item in spell if isinstance(item, Pull) and item.lane == lane)
    return inputs[before].lane == lane and all(ledger.rows[pull.n].verdict == "unproven" for pull in pulls)
