"""Books that can be taken back: a table, a column and a set that note how each change to them is undone.

Only what is written here is noted: change them by no other way than these.
"""

from collections.abc import Callable, Hashable, Iterable
from typing import Any, TypeVar

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")


class Journal:
    """What undoes each change to the books of one journal, the last one last."""

    def __init__(self) -> None:
        self._undoing: list[tuple[Callable[..., object], tuple[Any, ...]]] = []

    def __len__(self) -> int:
        return len(self._undoing)

    def note(self, undo: Callable[..., object], *args: object) -> None:
        """The change that is made now is undone so."""
        self._undoing.append((undo, args))

    def back(self, length: int) -> None:
        """Undo all but the first changes, so many."""
        while len(self._undoing) > length:
            undo, args = self._undoing.pop()
            undo(*args)


class Table(dict[K, V]):
    """Values by their keys."""

    def __init__(self, journal: Journal, values: Iterable[tuple[K, V]] = ()) -> None:
        super().__init__(values)
        self._journal = journal

    def __setitem__(self, key: K, value: V) -> None:
        if key in self:
            self._journal.note(super().__setitem__, key, self[key])
        else:
            self._journal.note(super().__delitem__, key)
        super().__setitem__(key, value)

    def discard(self, key: K) -> None:
        """Without that key, if it is there."""
        if key in self:
            self._journal.note(super().__setitem__, key, self[key])
            super().__delitem__(key)

    def copied(self, journal: Journal) -> "Table[K, V]":
        """The same for books of their own."""
        return Table(journal, self.items())


class Column(list[V]):
    """Values by their place."""

    def __init__(self, journal: Journal, values: Iterable[V] = ()) -> None:
        super().__init__(values)
        self._journal = journal

    def __setitem__(self, place: Any, value: Any) -> None:
        self._journal.note(super().__setitem__, place, self[place])
        super().__setitem__(place, value)

    def append(self, value: V) -> None:
        """One more value."""
        self._journal.note(super().pop)
        super().append(value)

    def copied(self, journal: Journal) -> "Column[V]":
        """The same for books of their own."""
        return Column(journal, self)


class Names(set[K]):
    """What is so, each once."""

    def __init__(self, journal: Journal, values: Iterable[K] = ()) -> None:
        super().__init__(values)
        self._journal = journal

    def add(self, value: K) -> None:
        """That too."""
        if value not in self:
            self._journal.note(super().discard, value)
            super().add(value)

    def discard(self, value: object) -> None:
        """Not that."""
        if value in self:
            self._journal.note(super().add, value)
            super().discard(value)

    def copied(self, journal: Journal) -> "Names[K]":
        """The same for books of their own."""
        return Names(journal, self)
