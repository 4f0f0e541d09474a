"""What a message says, field by field, whatever its layout: from texts to a `Message` and back."""

from collections.abc import Mapping

from drivers.errors import ProfileError
from drivers.reading import Message, Rejected
from drivers.wire.profile import FieldName, Profile

Texts = Mapping[FieldName, str]  # value with its sign, the rest as a `Message` has it; flags joined by commas
Refusal = tuple[str, tuple[str, ...]]  # code of the reason and its arguments


def message_of(profile: Profile, raw: bytes, texts: Texts) -> Message | Rejected:
    """The message that these texts amount to; a value below zero is taken only where its sign is the direction."""
    counter = texts.get(FieldName.COUNTER)
    direction = texts.get(FieldName.DIRECTION)
    value = texts[FieldName.VALUE]
    sign = value[:1]
    if sign in ("+", "-"):
        value = value[1:]
        if profile.has(FieldName.DIRECTION) and profile.field(FieldName.DIRECTION) is None:
            direction = "CCW" if sign == "-" else "CW"
        elif sign == "-":
            return Rejected(raw, "link.field", (FieldName.VALUE.value, texts[FieldName.VALUE]))
    flags = texts.get(FieldName.FLAGS)
    return Message(
        raw=raw,
        value=value,
        unit=texts.get(FieldName.UNIT, profile.unit),
        unit_fixed=profile.unit_fixed,
        serial=texts.get(FieldName.SERIAL),
        counter=None if counter is None else int(counter),
        direction=direction,
        angle=texts.get(FieldName.ANGLE),
        live=texts.get(FieldName.MESSAGE) == "live",
        flags=tuple(flags.split(",")) if flags else (),
        memory=texts.get(FieldName.MESSAGE) == "memory",
        time=texts.get(FieldName.TIME),
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
