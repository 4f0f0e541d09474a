"""Reads bodies of text that are a number with its unit right behind, as a pattern: no sign stands between the two."""

import re
from collections.abc import Iterator, Sequence
from decimal import Decimal

from drivers.wire.learn_pins import pins
from drivers.wire.learn_roles import Roles, is_unit
from drivers.wire.learn_shown import Asked, Layout, Sure
from drivers.wire.profile import Field, FieldName, Kind, Number

_BODY = re.compile(
    r"(?P<head>(?:[^0-9.,+-][^0-9]*)?)(?<![.,+-])"
    r"(?P<value>[0-9]{1,9}(?:(?P<point>[.,])[0-9]{1,6})?)(?P<unit>[A-Za-z][A-Za-z.*-]{0,15})"
)
_PATTERN = r"{head}(?P<value>[0-9]+(?:[{point}][0-9]+)?)(?P<unit>[A-Za-z][A-Za-z.*-]*)"
_SAFE_HEAD = re.compile(r"[ -z|~]*")  # braces mean something else in what a message is written by


def layouts(bodies: Sequence[bytes], asked: Asked) -> Iterator[Layout]:
    """The pattern, if all bodies are alike. Raises `NotLearnt` where a unit is another than was typed."""
    found = [_BODY.fullmatch(body.decode("ascii")) for body in bodies]
    whole = [match for match in found if match is not None]
    if len(whole) < len(found) or len(whole) != len(asked.shown):
        return
    heads = {match["head"] for match in whole}
    points = {match["point"] for match in whole} - {None}
    for match, each in zip(whole, asked.shown, strict=True):
        if each.value is not None and Decimal(match["value"].replace(",", ".")) != each.value:
            return
    if len(heads) > 1 or len(points) > 1 or not is_unit([match["unit"] for match in whole], asked.shown, asked):
        return
    head, point = min(heads), min(points, default=".")
    if _SAFE_HEAD.fullmatch(head) is None:
        return
    roles = Roles({0: "value", 1: "unit"})
    roles.tell(Sure.PROVEN, "profile.value", "1", str(len(asked.typed)))
    roles.tell(Sure.PROVEN, "profile.unit-token", "2", ", ".join(sorted({match["unit"] for match in whole})))
    if head:
        roles.tell(Sure.LIKELY, "profile.head-held", repr(head))
    roles.tell(Sure.OPEN, "profile.counter-none")
    roles.tell(Sure.OPEN, "profile.serial-open")
    pins(roles, asked, (), unit_known=True, turn_known=False)
    yield Layout(
        Kind.PATTERN,
        (Field(FieldName.VALUE), Field(FieldName.UNIT)),
        tuple(match.start("value") for match in whole),
        tuple(roles.told),
        number=Number(point.encode()),
        pattern=_PATTERN.format(head=re.escape(head), point=point),
        write=f"{head}{{value}}{{unit}}",
    )
