"""What came of the messages that one wrench sent: none lost, none twice, none that was never sent, in their order."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Arrived:
    """Counts over messages; sums over wrenches by `+`."""

    sent: int = 0
    arrived: int = 0  # those sent that came, each once
    lost: int = 0
    again: int = 0  # came once more
    disordered: int = 0  # came behind one that was sent later
    phantom: int = 0  # came and was never sent

    def __add__(self, other: "Arrived") -> "Arrived":
        return Arrived(
            self.sent + other.sent,
            self.arrived + other.arrived,
            self.lost + other.lost,
            self.again + other.again,
            self.disordered + other.disordered,
            self.phantom + other.phantom,
        )

    @property
    def whole(self) -> bool:
        """Whether exactly what was sent came, in its order."""
        return self.lost == self.again == self.disordered == self.phantom == 0


def arrived(sent: Sequence[bytes], came: Iterable[bytes]) -> Arrived:
    """Compare by the bytes of the messages, each of which was sent once."""
    number = {raw: at for at, raw in enumerate(sent)}
    if len(number) != len(sent):
        raise ValueError("a message was sent twice, so that nobody could tell which came")
    seen: set[int] = set()
    latest, again, disordered, phantom = -1, 0, 0, 0
    for raw in came:
        at = number.get(raw)
        if at is None:
            phantom += 1
        elif at in seen:
            again += 1
        else:
            seen.add(at)
            disordered += at < latest
            latest = max(latest, at)
    return Arrived(len(sent), len(seen), len(sent) - len(seen), again, disordered, phantom)
