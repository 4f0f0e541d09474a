"""When a wrench is asked for its memory, and how long it is waited for. Knows no clock: times are given.

It is asked after the link came back and when its counter shows a gap, never during a pull. A request without a whole
reply is made again after growing waits, a few times, until the link comes back once more or a further gap is seen.
"""

from decimal import Decimal
from enum import Enum, auto

from bridge.core.intake import PULL_GAP_S
from drivers.backoff import Backoff, Waits

ANSWER_S = 5  # how long a wrench may take to begin its reply
MOST_S = 600  # how long a reply may take
TRIES = 5
AGAIN = Waits(first=15.0, ceiling=600.0, factor=3.0)


class Due(Enum):
    """What is to be done."""

    ASK = auto()
    UNANSWERED = auto()
    QUIET = auto()  # the reply stopped
    ENDLESS = auto()  # the reply does not stop


class Asking:
    """One wrench. `asks` is whether its profile has a request; downloads that come unasked are watched over too."""

    def __init__(self, *, asks: bool, quiet_s: int) -> None:
        self._asks = asks
        self._quiet_s = quiet_s
        self._wanted: Decimal | None = None  # to be asked, not before
        self._asked: Decimal | None = None  # waited for since
        self._open: Decimal | None = None  # a download since
        self._byte = Decimal(0)
        self._pulled: Decimal | None = None
        self._missing = 0
        self._tries = 0
        self._again = Backoff(AGAIN)

    @property
    def downloading(self) -> bool:
        """Whether a download is going on."""
        return self._open is not None

    def want(self, t: Decimal) -> None:
        """There is a new reason to ask."""
        if self._asks:
            self._wanted, self._tries, self._again = t, 0, Backoff(AGAIN)

    def lost(self) -> None:
        """The link is gone; nothing is asked before it is back."""
        self._wanted = self._asked = self._open = None

    def byte(self, t: Decimal) -> None:
        """Something arrived."""
        self._byte = t

    def pulled(self, t: Decimal) -> None:
        """A message of a pull arrived, as it was pulled."""
        self._pulled = t

    def missing(self, t: Decimal, count: int) -> None:
        """So many readings are not received by now."""
        if count > self._missing:
            self.want(t)
        self._missing = count

    def asked(self, t: Decimal) -> None:
        """The request went out."""
        self._wanted, self._asked = None, t
        self._tries += 1

    def began(self, t: Decimal) -> None:
        """A download begins, asked for or not."""
        if self._asked is None and self._tries:
            self._wanted = None  # the answer to a request that was given up
        self._asked, self._open, self._byte = None, t, t

    def ended(self, t: Decimal, *, whole: bool, goes_on: bool = False) -> None:
        """The download ended, or is interrupted and `goes_on`."""
        self._open = None
        if goes_on:
            self._asked = t
        elif not whole:
            self.failed(t)

    def failed(self, t: Decimal) -> None:
        """There was no answer, or no whole one."""
        self._asked = None
        if self._asks and self._wanted is None and self._tries < TRIES:
            self._wanted = t + Decimal(str(self._again.wait()))

    def wait(self, t: Decimal) -> float | None:
        """Seconds until something is due; None while nothing is waited for."""
        found = self._next()
        return None if found is None else max(float(found[0] - t), 0.0)

    def due(self, t: Decimal) -> Due | None:
        """What is due by now."""
        found = self._next()
        return found[1] if found is not None and found[0] <= t else None

    def _next(self) -> tuple[Decimal, Due] | None:
        if self._open is not None:
            quiet, endless = self._byte + self._quiet_s, self._open + MOST_S
            return (quiet, Due.QUIET) if quiet <= endless else (endless, Due.ENDLESS)
        if self._asked is not None:
            return self._asked + ANSWER_S, Due.UNANSWERED
        if self._wanted is None:
            return None
        return (self._wanted if self._pulled is None else max(self._wanted, self._pulled + PULL_GAP_S)), Due.ASK
