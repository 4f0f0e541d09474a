"""The chain: each event's hash covers its whole record and the hash before it.

`hash = SHA-256(0x00 || previous hash || record)`. The record is the canonical JSON object of `seq`, `id`, `utc`,
`mono`, `boot`, `kind`, `person`, `wrench`, `job` and `body`; the hash before the first event is 32 zero bytes.
"""

import re
from dataclasses import dataclass
from hashlib import sha256

from bridge.trail.canonical import quote

START = bytes(32)
COLUMNS = "seq, id, utc, mono, boot, kind, person, wrench, job, body, previous, hash"
INSERT = f"INSERT INTO event ({COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"  # noqa: S608


@dataclass(frozen=True, slots=True)
class Head:
    """How many events a trail holds and the hash of the last one, in hex; `SIZE:hex` as text."""

    size: int
    hash: str

    def __str__(self) -> str:
        return f"{self.size}:{self.hash}"

    @classmethod
    def parse(cls, text: str) -> "Head":
        """The head written as `SIZE:hex`. Raises `ValueError`."""
        found = _HEAD.fullmatch(text)
        if found is None:
            raise ValueError(f"a head reads SIZE:hex with 64 hex digits, not {text[:100]!r}")
        return cls(int(found[1]), found[2])


EMPTY = Head(0, START.hex())
_HEAD = re.compile(r"(0|[1-9][0-9]{0,15}):([0-9a-f]{64})", re.ASCII)


def record(
    seq: int,
    id_: str,
    utc: str,
    mono: str,
    boot: str,
    kind: str,
    person: str | None,
    wrench: str | None,
    job: str | None,
    body: str,
) -> bytes:
    """Canonical bytes of one event; `body` is already canonical. Raises `TypeError`, `UnicodeEncodeError`."""
    who = "null" if person is None else quote(person)
    tool = "null" if wrench is None else quote(wrench)
    of_job = "null" if job is None else quote(job)
    return (
        f'{{"body":{body},"boot":{quote(boot)},"id":{quote(id_)},"job":{of_job},"kind":{quote(kind)},'
        f'"mono":{quote(mono)},"person":{who},"seq":{seq},"utc":{quote(utc)},"wrench":{tool}}}'
    ).encode()


def link(previous: bytes, event: bytes) -> bytes:
    """Hash of the event that follows `previous`."""
    return sha256(b"\x00" + previous + event).digest()
