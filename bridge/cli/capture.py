"""`witnessmark capture`: a live job on real wrenches, recorded as it happens."""

from dataclasses import dataclass
from pathlib import Path

import click

from bridge import words
from bridge.cli.cautions import show_cautions
from bridge.errors import BadInput


@dataclass(frozen=True, slots=True)
class Lane:
    """A wrench as bound on the command line: `W1=SERIAL@PORT`; `name` may be `W1/2` for a second one of a role."""

    name: str
    serial: str
    port: str

    @property
    def role(self) -> str:
        """The sheet's role that this lane serves."""
        return self.name.partition("/")[0]


@click.command("capture", help=words.say("screen.command-capture"))
@click.argument("name", metavar="SHEET")
@click.option("--trail", type=click.Path(path_type=Path), help=words.say("screen.option-capture-trail"))
@click.option("--asset", help=words.say("screen.option-asset"))
@click.option("--person", "people", multiple=True, required=True, help=words.say("screen.option-person"))
@click.option("--wrench", "wrenches", multiple=True, metavar="W1=SERIAL@PORT", help=words.say("screen.option-wrench"))
@click.option("--resume", default="ask", metavar="JOB|ask|new", help=words.say("screen.option-resume"))
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def capture(
    name: str,
    trail: Path | None,
    asset: str | None,
    people: tuple[str, ...],
    wrenches: tuple[str, ...],
    resume: str,
    as_json: bool,
) -> int:
    """Raises `BadInput`, `SheetErrors`, `LinkError`, `TrailTrouble`; nothing is recorded before all is checked."""
    import asyncio
    import os

    from bridge.cli.capture_job import Wanted, run
    from bridge.cli.screen_keys import is_terminal
    from bridge.config import build
    from specs.expand import expand
    from specs.load import find

    plan = expand(find(name))
    lanes = tuple(lane(text) for text in wrenches)
    check_lanes(lanes, tuple(plan.sheet.wrenches))
    place = build(os.environ, trail=trail).trail
    if not as_json:
        show_cautions(*plan.sheet.cautions)
    style = "json" if as_json else "screen" if is_terminal() else "lines"
    return asyncio.run(run(Wanted(plan, name, place, asset, people, lanes, resume, style)))


def lane(text: str) -> Lane:
    """Read `W1=SERIAL@PORT`. Raises `BadInput`."""
    name, equals, rest = text.partition("=")
    serial, at, port = rest.partition("@")
    if not (equals and at and name.strip() and serial.strip() and port.strip()):
        raise BadInput("capture.wrench-form", text)
    return Lane(name.strip(), serial.strip(), port.strip())


def check_lanes(lanes: tuple[Lane, ...], roles: tuple[str, ...]) -> None:
    """Every role of the sheet is bound, every lane serves one, no wrench or port twice. Raises `BadInput`."""
    for bound in lanes:
        if bound.role not in roles:
            raise BadInput("capture.role-unknown", bound.name, ", ".join(roles))
    for what, named in (
        ("name", [x.name for x in lanes]),
        ("serial", [x.serial for x in lanes]),
        ("port", [x.port for x in lanes]),
    ):
        twice = next((value for value in named if named.count(value) > 1), None)
        if twice is not None:
            raise BadInput(f"capture.twice-{what}", twice)
    missing = [role for role in roles if role not in {bound.role for bound in lanes}]
    if missing:
        raise BadInput("capture.role-unbound", ", ".join(missing), missing[0])
