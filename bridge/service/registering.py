"""People and wrenches put into a trail from outside a job, and read back from it."""

from collections.abc import Callable
from pathlib import Path
from uuid import uuid4

from bridge.core.commands import Command
from bridge.core.events import Body
from bridge.core.registry import KINDS, Registry
from bridge.errors import BadInput
from bridge.service.bench import Bench
from bridge.trail.reader import Reader


def registered(path: Path) -> Registry:
    """People and wrenches of a trail; none where there is no trail yet. Raises `TrailTrouble`."""
    registry = Registry()
    if path.exists():
        with Reader.open(path) as reader:
            for stored in reader.events(kinds=KINDS):
                registry = registry.fold(stored)
    return registry


async def register(path: Path, program: str, made: Callable[[Registry], Body], person: str | None = None) -> None:
    """Record what `made` makes of the registry as it stands. Raises `BadInput` if refused, `TrailTrouble`."""
    if not path.exists():  # what is refused makes no trail
        _refuse_unknown(Registry(), person)
        made(Registry())
    path.parent.mkdir(parents=True, exist_ok=True)
    bench = await Bench.open(path, mode="work", program=program)
    try:
        _refuse_unknown(bench.registry, person)
        (answer,) = await bench.submit(Command(str(uuid4()), made(bench.registry), person))
        if answer.refused is not None:
            raise BadInput(answer.refused.code, *answer.refused.args)
    finally:
        await bench.close()


def _refuse_unknown(registry: Registry, person: str | None) -> None:
    if person is not None and person not in registry.people:
        raise BadInput("bench.person-unknown", person)
