"""Fields that never changed in the capture: what they may hide, and how a profile holds them to what was seen.

What nothing sent says is never taken for the unit: only the person can say that a wrench knows no other. Without that
the profile has no unit, and each reading stays unproven until its display is read back. A constant that may be the
direction or the kind of message is held to the one word that was seen, where the profile has a field to give.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from drivers.wire.learn_roles import Roles, token, turned_back
from drivers.wire.learn_shown import Asked, NotLearnt, Sure
from drivers.wire.profile import FieldName


@dataclass(frozen=True, slots=True)
class Pinned:
    """Fields held to one word, by their spots, and the unit that the whole profile is in."""

    words: Mapping[int, tuple[FieldName, str]]  # name of the field and what the word means
    unit: str | None = None


def pins(
    roles: Roles,
    asked: Asked,
    constants: Sequence[tuple[int, str]],
    needed: Sequence[int] = (),
    *,
    unit_known: bool,
    turn_known: bool,
) -> Pinned:
    """What to hold fast of `constants` (spot and text). `needed` ones always are. Raises `NotLearnt`."""
    open_turn = not turn_known and not turned_back(asked)
    wanted = [(spot, text) for spot, text in constants if open_turn or spot in needed]
    room = "message" not in roles.taken.values()
    if len(wanted) > room:
        # A direction that stays open is none that is wrong: messages are then read without one, and it is said.
        if open_turn:
            roles.tell(Sure.OPEN, "profile.turn-hidden", ", ".join(f"{spot + 1} ({text})" for spot, text in wanted))
        wanted = [(spot, text) for spot, text in wanted if spot in needed]
        if len(wanted) > room:
            # Of a number that is wide enough by the display the noughts can only hold its sign.
            code = "profile.value-width" if asked.most is None else "profile.value-sign"
            raise NotLearnt(7, code, ", ".join(f"{spot + 1} ({text})" for spot, text in wanted))
    for spot, text in wanted:
        roles.taken[spot] = FieldName.MESSAGE.value
        roles.tell(Sure.LIKELY, "profile.pinned", str(spot + 1), text)
    if not unit_known and asked.only_unit is not None:
        roles.tell(Sure.PROVEN, "profile.unit-fixed", asked.only_unit)
    elif not unit_known:
        several = len({each.unit for each in asked.typed if each.unit is not None}) > 1
        roles.tell(Sure.OPEN, "profile.unit-several" if several else "profile.unit-open")
    if open_turn:
        roles.tell(Sure.OPEN, "profile.turn-open")
    elif not turn_known:
        roles.tell(Sure.OPEN, "profile.turn-not-sent")
    words = {spot: (FieldName.MESSAGE, "peak") for spot, _ in wanted}
    return Pinned(words, None if unit_known or asked.only_unit is None else token(asked.only_unit))
