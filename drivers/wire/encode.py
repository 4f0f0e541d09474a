"""Writes a reading as its wrench would send it: the other direction of `decode`, for wrenches that are played."""

from drivers.errors import ProfileError
from drivers.reading import Rejected
from drivers.wire.decode import decode
from drivers.wire.framing import Frame
from drivers.wire.profile import FieldName, Profile


def encode(
    profile: Profile,
    *,
    serial: str,
    counter: int | None,
    value: str,
    unit: str | None,
    direction: str | None,
    angle: str | None = None,
    checksum: bool = True,
) -> bytes:
    """The message with its end. Raises `ProfileError` where the profile has no way to say it.

    `checksum` is left off only where the profile lets it be. A field that the profile lacks is left out, but a
    unit other than the fixed one is refused.
    """
    if profile.unit_fixed and unit is not None and unit != profile.unit:
        raise ProfileError("link.cannot-encode", profile.name, "unit", unit)
    texts = {
        FieldName.SERIAL: serial,
        FieldName.COUNTER: None if counter is None else str(counter),
        FieldName.VALUE: value,
        FieldName.UNIT: unit,
        FieldName.DIRECTION: direction,
        FieldName.ANGLE: angle,
    }
    parts: list[str] = []
    for field in profile.fields:
        text = texts[field.name] or ""
        parts.append(text.zfill(field.digits) if text else "")
    while len(parts) > 1 and not parts[-1] and profile.fields[len(parts) - 1].optional:
        parts.pop()
    try:
        body = profile.separator.join(part.encode("ascii") for part in parts)
    except UnicodeEncodeError as error:
        raise ProfileError("link.cannot-encode", profile.name, "text", repr(error.object)) from error
    if profile.check is not None and (checksum or not profile.check.optional):
        number = profile.check.checksum
        body += profile.check.mark + f"{number.of(body):0{number.hex_digits}X}".encode()
    raw = body + profile.framing.ends[0]
    _prove(profile, raw, body, texts)
    return raw


def _prove(profile: Profile, raw: bytes, body: bytes, texts: dict[FieldName, str | None]) -> None:
    read = decode(profile, Frame(raw, body))
    if len(body) > profile.framing.longest:
        raise ProfileError("link.cannot-encode", profile.name, "length", str(len(body)))
    if isinstance(read, Rejected):
        what = read.args if read.why == "link.field" else ("message", repr(body))
        raise ProfileError("link.cannot-encode", profile.name, *what)
    got = {
        FieldName.SERIAL: read.serial,
        FieldName.COUNTER: None if read.counter is None else str(read.counter),
        FieldName.VALUE: read.value,
        FieldName.UNIT: read.unit,
        FieldName.DIRECTION: read.direction,
        FieldName.ANGLE: read.angle,
    }
    for field in profile.fields:
        # A comma inside a unit, say, would be read back as one field more.
        if (texts[field.name] or None) != got[field.name]:
            raise ProfileError("link.cannot-encode", profile.name, field.name.value, str(texts[field.name]))
