"""A range as a person types it, `15 to 150 ft·lb`, as a sheet has it."""

from specs.errors import SpecError
from specs.numbers import clip
from specs.tables.amounts import Reading, asked
from specs.write import torque


def span(text: str) -> tuple[str, str]:
    """Both ends with their units. Raises `SpecError`."""
    found = asked(text, Reading())
    if found.low is None or found.high is None:
        raise SpecError("sheet.unreadable", clip(text), "15 to 150 ft·lb")
    return torque(found.low), torque(found.high)
