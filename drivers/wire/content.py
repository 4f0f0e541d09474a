"""What a message says, field by field, whatever its layout: from texts to a `Message` and back."""

from collections.abc import Mapping

from drivers.errors import ProfileError
from drivers.reading import Message, Rejected
from drivers.wire.profile import FieldName, Profile

Texts = Mapping[FieldName, str]  # value with its sign, the rest as a `Message` has it; flags joined by commas
Refusal = tuple[str, tuple[str, ...]]  # code of the reason and its arguments


class Meaning:
    """What the texts of messages of one profile amount to."""

    __slots__ = ("_fixed", "_signed", "_unit")

    def __init__(self, profile: Profile) -> None:
        self._unit = profile.unit
        self._fixed = profile.unit_fixed
        self._signed = profile.has(FieldName.DIRECTION) and profile.field(FieldName.DIRECTION) is None

    def message(self, raw: bytes, texts: Texts) -> Message | Rejected:
        """That message."""
        said = texts.get
        counter, flags = said(FieldName.COUNTER), said(FieldName.FLAGS)
        return self.of(
            raw,
            texts[FieldName.VALUE],
            said(FieldName.UNIT),
            said(FieldName.SERIAL),
            None if counter is None else int(counter),
            said(FieldName.DIRECTION),
            said(FieldName.ANGLE),
            said(FieldName.MESSAGE),
            tuple(flags.split(",")) if flags else (),
            said(FieldName.TIME),
        )

    def of(
        self,
        raw: bytes,
        value: str,
        unit: str | None,
        serial: str | None,
        counter: int | None,
        direction: str | None,
        angle: str | None,
        kind: str | None,
        flags: tuple[str, ...] = (),
        time: str | None = None,
    ) -> Message | Rejected:
        """The message with these; a value below zero is taken only where its sign is the direction."""
        sign = value[0]
        if sign in "+-":
            if self._signed:
                direction = "CCW" if sign == "-" else "CW"
            elif sign == "-":
                return Rejected(raw, "link.field", (FieldName.VALUE.value, value))
            value = value[1:]
        live, memory = kind == "live", kind == "memory"
        # By place: names cost as much again.
        return Message(
            raw, value, unit or self._unit, self._fixed, serial, counter, direction, angle, live, flags, memory, time
        )


def text_of(message: Message, name: FieldName) -> str:
    """What a message says in that field; nothing is an empty text."""
    match name:
        case FieldName.SERIAL:
            return message.serial or ""
        case FieldName.COUNTER:
            return "" if message.counter is None else str(message.counter)
        case FieldName.VALUE:
            return message.value
        case FieldName.UNIT:
            return message.unit or ""
        case FieldName.DIRECTION:
            return message.direction or ""
        case FieldName.ANGLE:
            return message.angle or ""
        case FieldName.MESSAGE:
            return "live" if message.live else "memory" if message.memory else "peak"
        case FieldName.FLAGS:
            return ",".join(sorted(set(message.flags)))
        case FieldName.TIME:
            return message.time or ""
        case FieldName.PLACES:
            return str(len(message.value.partition(".")[2]))
    return ""


def sent_for(profile: Profile, words: Mapping[str, str], name: FieldName, meaning: str) -> str:
    """What is sent for a meaning. Raises `ProfileError` where the profile has no word for it."""
    for sent, known in words.items():
        if known == meaning:
            return sent
    raise cannot(profile, name.value, meaning)


def cannot(profile: Profile, what: str, text: str) -> ProfileError:
    """The error that a message of the profile cannot carry that text."""
    return ProfileError("link.cannot-encode", profile.name, what, text)
