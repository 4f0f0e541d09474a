"""Fields that never changed in the capture: what they may hide, and how a profile holds them to what was seen.

A constant that is not understood may be the unit or the direction. Left as `skip`, the first wrench that is switched
over would be read wrongly and nobody would notice. So it becomes a field with the one word that was seen: any other
is refused. A profile has two such fields to give; where more constants would need one, it is not known enough.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from drivers.wire.learn_roles import Roles, token, turned_back, typed_unit
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
    unit_sent: bool,
    turn_known: bool,
) -> Pinned:
    """What to hold fast of `constants` (spot and text). `needed` ones always are. Raises `NotLearnt`.

    `unit_sent`: something in the messages seems to say the unit, so that it is never taken as fixed.
    """
    typed = typed_unit(asked)
    several = len({each.unit for each in asked.typed if each.unit is not None}) > 1
    open_unit = not unit_known and asked.only_unit is None and typed is not None
    open_turn = not turn_known and not turned_back(asked)
    all_open = open_unit or open_turn
    wanted = [(spot, text) for spot, text in constants if all_open or spot in needed]
    words: dict[int, tuple[FieldName, str]] = {}
    free = [FieldName.UNIT] if open_unit and typed is not None and not unit_sent else []
    if "message" not in roles.taken.values():
        free.append(FieldName.MESSAGE)
    if len(wanted) > len(free):
        hidden = ", ".join(f"{spot + 1} ({text})" for spot, text in wanted)
        if open_unit:
            raise NotLearnt(7, "profile.constants-hide", hidden)
        # A direction that stays open is none that is wrong: messages are then read without one, and it is said.
        wanted = [(spot, text) for spot, text in wanted if spot in needed]
        if len(wanted) > len(free):
            raise NotLearnt(7, "profile.value-width", ", ".join(f"{spot + 1} ({text})" for spot, text in wanted))
        roles.tell(Sure.OPEN, "profile.turn-hidden", hidden)
    # The field of the unit goes to the constant that looks most like a code.
    for (spot, text), name in zip(sorted(wanted, key=lambda pair: (pair[0] in needed, pair[0])), free, strict=False):
        words[spot] = (name, token(str(typed)) if name is FieldName.UNIT else "peak")
        roles.taken[spot] = name.value
        roles.tell(Sure.LIKELY, "profile.pinned", str(spot + 1), text)
    unit = asked.only_unit if not unit_known else None
    if not unit_known and unit is None and typed is not None and not unit_sent and not wanted:
        unit = typed
    if unit is not None:
        roles.tell(Sure.PROVEN if asked.only_unit else Sure.LIKELY, "profile.unit-fixed", unit)
    elif not unit_known and FieldName.UNIT not in {name for name, _ in words.values()}:
        roles.tell(Sure.OPEN, "profile.unit-several" if several else "profile.unit-open")
    if open_turn:
        roles.tell(Sure.OPEN, "profile.turn-open")
    elif not turn_known:
        roles.tell(Sure.OPEN, "profile.turn-not-sent")
    return Pinned(words, None if unit is None else token(unit))
