"""Steps in doubt: served with a wrench that was dropped or overloaded since its last good check, before or after."""


class Doubts:
    """Which steps each wrench served since its last good check, and which wrenches were dropped since."""

    def __init__(self) -> None:
        self._since: dict[str, set[int]] = {}  # lane -> steps
        self._dropped: set[str] = set()

    def __contains__(self, step: int) -> bool:
        return any(step in self._since.get(lane, ()) for lane in self._dropped)

    def served(self, step: int, lane: str) -> None:
        """A wrench pulled on that step."""
        self._since.setdefault(lane, set()).add(step)

    def undone(self, step: int) -> None:
        """What served that step so far counts no more: it was loosened, or is done again."""
        for steps in self._since.values():
            steps.discard(step)

    def dropped(self, lane: str) -> None:
        """Dropped or overloaded: what it served since its last good check, and serves until the next, is in doubt."""
        self._dropped.add(lane)

    def checked(self, lane: str) -> None:
        """A good check takes all doubt from what that wrench served."""
        self._dropped.discard(lane)
        self._since.pop(lane, None)
