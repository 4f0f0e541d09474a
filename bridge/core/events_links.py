"""Kinds of events about links beside their readings, part of the closed table in `bridge.core.events`."""

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class LinkHealth:
    """What a link told beside its readings since it was told last; written when something changed, and at the end."""

    lane: str
    t: Decimal
    listening: bool  # False: the listening ends here
    heard: Decimal | None  # when the last byte came, whatever it was
    battery: int | None  # percent, as the wrench last told beside its messages
    unread: int  # stretches that were not understood and stand in no event of their own
    unread_bytes: int  # bytes that were not understood and stand in no event of their own


@dataclass(frozen=True, slots=True)
class WrenchProven:
    """One proof of a wrench at its link, made by a person outside any job. A later one of the same `what` counts."""

    serial: str
    link: str
    what: str  # words of PROOFS
    how: str  # what it rests on, a word of RESTS_ON
    result: str  # words of PROVED
    code: str  # why, worded only in `bridge/words.py`
    args: tuple[str, ...] = ()


RESTS_ON = ("message", "profile", "device", "typed", "display", "check", "stream", "papers", "nothing")
PROOFS = ("identity", "unit", "zero", "battery", "certificate", "range")
PROVED = ("proven", "not proven", "not told")
