"""What an advertisement tells beyond the ones before it: each is sent many times, which is the radio's doing."""

from enum import StrEnum


class Told(StrEnum):
    """What a payload is to whoever reads the wrench."""

    NEW = "new"
    REPEAT = "repeat"  # the transmission told last, once more
    STANDING = "standing"  # said before anybody listened


def told(payload: bytes, last: bytes | None, *, first: bool) -> Told:
    """What `payload` tells after `last`, the payload before it; `first`: it stands in the first advertisement heard.

    Equal bytes that follow each other are one transmission, however long the silence between them: the counter that
    a profile has in every advertised message would have moved with another pull. A wrench that comes back into reach
    still saying what it said is not heard to pull again.
    """
    if payload == last:
        return Told.REPEAT
    return Told.STANDING if first and last is None else Told.NEW
