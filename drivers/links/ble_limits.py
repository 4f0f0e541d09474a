"""How long each thing may take at a radio wrench, and how long each kind of trouble is waited out."""

from collections.abc import Mapping
from dataclasses import dataclass, fields

from drivers.backoff import Waits
from drivers.errors import LinkReason
from drivers.links.bounded import TRIES

ADVERT_SILENT = "link.advert-silent"  # how a wrench that only advertises is lost
FOUND_WITHIN_S = 15.0  # a link that is up in name only is found to be dead after no more than this


@dataclass(frozen=True, slots=True)
class BleLimits:
    """Seconds. `quiet_s`: after so long without a packet the wrench has to answer a read.

    `unheard_s`: how long a wrench that only advertises may be silent, seen twice before it is lost.
    `close_s` is for a farewell, `end_s` for a call that was cancelled at its limit to end.
    """

    find_s: float = 20.0
    connect_s: float = 20.0
    call_s: float = 3.0
    close_s: float = 2.5
    end_s: float = 0.5
    quiet_s: float = 3.5
    unheard_s: float = 7.0

    def __post_init__(self) -> None:
        for field in fields(self):
            seconds = getattr(self, field.name)
            if not 0 < seconds < float("inf"):
                raise ValueError(f"{field.name} needs more than 0 seconds, found {seconds}")
        # At worst the last packet came just after a look, and both the read and the farewell hang and resist their end.
        asked = 2 * self.quiet_s + self.call_s + self.close_s + 2 * TRIES * self.end_s
        worst = max(asked, 2 * self.unheard_s)
        if worst > FOUND_WITHIN_S:
            raise ValueError(f"a dead link would be found after {worst} s, later than {FOUND_WITHIN_S} s")


# A class of trouble that a person has to mend is asked about seldom, one that passes by itself often.
BLE_WAITS: Mapping[str, Waits] = {
    LinkReason.GONE: Waits(first=0.5, ceiling=5),
    LinkReason.SILENT: Waits(first=1, ceiling=30),
    ADVERT_SILENT: Waits(first=0.5, ceiling=10),
    LinkReason.NOT_HEARD: Waits(first=1, ceiling=10, factor=1.5),  # looking for it has taken its time already
    LinkReason.NO_ANSWER: Waits(first=1, ceiling=30),
    LinkReason.BUSY: Waits(first=2, ceiling=60),
    LinkReason.RADIO_OFF: Waits(first=2, ceiling=10, factor=1.5),
    LinkReason.RADIO_MISSING: Waits(first=2, ceiling=30),
    LinkReason.RADIO_SERVICE: Waits(first=1, ceiling=30),
    LinkReason.PAIRING: Waits(first=30, ceiling=300),
    LinkReason.NO_PERMISSION: Waits(first=30, ceiling=300),
    LinkReason.NOT_A_WRENCH: Waits(first=60, ceiling=600),
}
