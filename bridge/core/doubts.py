"""Steps in doubt: served with a wrench that was dropped or overloaded since its last good check, before or after."""

from bridge.core.journal import Journal, Names, Table


class Doubts:
    """Which wrenches served each step since their last good check, and which of them were dropped since."""

    def __init__(self, journal: Journal) -> None:
        self._lanes: Table[int, frozenset[str]] = Table(journal)  # by step
        self._dropped: Names[str] = Names(journal)

    def copied(self, journal: Journal) -> "Doubts":
        """The same for books of their own."""
        other = Doubts(journal)
        other._lanes, other._dropped = self._lanes.copied(journal), self._dropped.copied(journal)
        return other

    def __contains__(self, step: int) -> bool:
        return not self._dropped.isdisjoint(self._lanes.get(step, ()))

    def served(self, step: int, lane: str) -> None:
        """A wrench pulled on that step."""
        self._lanes[step] = self._lanes.get(step, frozenset()) | {lane}

    def undone(self, step: int) -> None:
        """What served that step so far counts no more: it was loosened, or is done again."""
        self._lanes.discard(step)

    def dropped(self, lane: str) -> None:
        """Dropped or overloaded: what it served since its last good check, and serves until the next, is in doubt."""
        self._dropped.add(lane)

    def checked(self, lane: str) -> None:
        """A good check takes all doubt from what that wrench served."""
        self._dropped.discard(lane)
        for step in [step for step, lanes in self._lanes.items() if lane in lanes]:
            self._lanes[step] -= {lane}
