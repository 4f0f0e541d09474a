"""Books that are taken back stand as they stood."""

from hypothesis import given
from hypothesis import strategies as st

from bridge.core.journal import Column, Journal, Names, Table

KEYS = st.integers(0, 4)
DOING = st.lists(st.tuples(st.sampled_from(("put", "out", "place", "append", "add", "discard")), KEYS, KEYS))
Doing = list[tuple[str, int, int]]
Books = tuple[Table[int, int], Column[int], Names[int]]


def begun(journal: Journal) -> Books:
    """Books with something in them."""
    return Table(journal, [(0, 7), (3, 8)]), Column(journal, [1, 2, 3, 4, 5]), Names(journal, [1, 4])


def did(books: Books, doing: Doing) -> None:
    """What a ledger does to its books, in any order."""
    table, column, names = books
    for what, key, value in doing:
        match what:
            case "put":
                table[key] = value
            case "out":
                table.discard(key)
            case "place":
                column[key] = value
            case "append":
                column.append(value)
            case "add":
                names.add(key)
            case "discard":
                names.discard(key)


@given(DOING, DOING)
def test_what_was_done_since_is_undone(before: Doing, since: Doing) -> None:
    journal = Journal()
    books = begun(journal)
    did(books, before)
    stood, changes = (dict(books[0]), list(books[1]), set(books[2])), len(journal)
    did(books, since)
    journal.back(changes)
    assert (dict(books[0]), list(books[1]), set(books[2])) == stood


@given(DOING, DOING)
def test_copies_are_taken_back_by_themselves(before: Doing, since: Doing) -> None:
    journal, other = Journal(), Journal()
    books = begun(journal)
    did(books, before)
    copies = (books[0].copied(other), books[1].copied(other), books[2].copied(other))
    stood = (dict(books[0]), list(books[1]), set(books[2]))
    did(copies, since)
    assert (dict(books[0]), list(books[1]), set(books[2])) == stood
    other.back(0)
    assert (dict(copies[0]), list(copies[1]), set(copies[2])) == stood
