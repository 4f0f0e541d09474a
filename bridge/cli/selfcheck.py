"""`witnessmark selfcheck`: what this installation stands on, each part tried for real."""

import asyncio
import json
import platform
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import click

from bridge import words
from bridge.cli.stopping import run_loop
from bridge.errors import FINDINGS, NOTHING_TO_DECIDE, Trouble
from drivers.errors import DriverError
from specs.errors import SpecError

LIMIT_S = 10.0
LINE = b"A1023,000001,27.5,ft.lb,CW\r\n"


@click.command("selfcheck", help=words.say("bench.command-selfcheck"))
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def selfcheck(as_json: bool) -> int:
    """Exit code 1 where a part does not do what it must."""
    from importlib.metadata import version

    from bridge.trail.connection import library

    settings = {each.name: each.value for each in library()}
    versions = (version("witnessmark"), platform.python_version(), settings["sqlite"], version("pyserial"))
    wal = "bench.wal-reset-kept-away" if settings["wal-reset fault"] == "yes" else "bench.wal-reset-mended"
    parts = _parts()
    wrong: dict[str, str | None] = {}
    if not as_json:
        click.echo(words.say("bench.versions", *versions[:3]))
        click.echo(words.say("register.pyserial", versions[3]))
        click.echo(words.say(wal))
    for name, part in parts:
        why = wrong[name] = _why_not(part)
        if not as_json:
            line = ("bench.part-works", name) if why is None else ("bench.part-wrong", name, why)
            click.echo(words.say(*line))
    if as_json:
        found = {
            "versions": dict(zip(("witnessmark", "python", "sqlite", "pyserial"), versions, strict=True)),
            "wal_reset": words.say(wal),
            "parts": [{"part": name, "works": why is None, "why": why} for name, why in wrong.items()],
        }
        click.echo(json.dumps(found, ensure_ascii=False))
    return FINDINGS if any(why is not None for why in wrong.values()) else NOTHING_TO_DECIDE


def _parts() -> tuple[tuple[str, Callable[[], object]], ...]:
    from drivers.load import builtin_profiles
    from specs.load import samples

    return (
        (words.say("bench.part-trail"), _trail),
        (words.say("bench.part-port"), _port),
        (words.say("register.part-profiles", ", ".join(builtin_profiles())), _profiles),
        (words.say("register.part-samples", ", ".join(samples())), _samples),
        (words.say("bench.part-words"), _words),
    )


def _why_not(part: Callable[[], object]) -> str | None:
    """Why a part does not do what it must; None where it does."""
    try:
        part()
    except (DriverError, SpecError) as error:
        return words.say(error.code, *error.words)
    except (Trouble, OSError, TimeoutError, ValueError, KeyError) as error:
        return str(error) or type(error).__name__
    return None


def _trail() -> None:
    """One event recorded with one sync in a trail that is thrown away, and the trail verified."""
    from decimal import Decimal

    from bridge.core.events import Event, Tick
    from bridge.trail.clock import SystemClock
    from bridge.trail.verify import verify
    from bridge.trail.writer import Writer

    with TemporaryDirectory(prefix="witnessmark-") as folder:
        path = Path(folder) / "selfcheck.db"
        with Writer.open(path, mode="work", program="selfcheck", clock=SystemClock()) as writer:
            writer.append([Event(Tick(Decimal(1)))])
        report = verify(path)
    if not report.intact or report.head.size != 2:
        raise ValueError(str(report))


def _port() -> None:
    """A line of a wrench through a pseudo terminal, pyserial and a profile."""
    run_loop(_read_line())


async def _read_line() -> None:
    from drivers.links.serial_port import SerialLink
    from drivers.load import builtin_profile
    from drivers.reading import Chunk, Message
    from drivers.sim.pseudo_terminal import PseudoTerminal
    from drivers.wire.receive import Receiver

    with TemporaryDirectory(prefix="witnessmark-") as folder:
        port = PseudoTerminal(Path(folder) / "port")
        port.plug()
        link = SerialLink(port.name)
        try:
            await link.open()
            receiver = Receiver(builtin_profile("line-basic"), serial="A1023")
            await port.write(LINE)
            async with asyncio.timeout(LIMIT_S):
                async for item in link.chunks():
                    found = receiver.feed(item.data) if isinstance(item, Chunk) else []
                    if found:
                        break
                    if not isinstance(item, Chunk):
                        raise DriverError(item.why, *item.args)
        finally:
            await link.close()
            port.close()
    if not isinstance(found[0], Message) or found[0].value != "27.5":
        raise ValueError(repr(found))


def _profiles() -> None:
    """A reading written by each built-in profile is read back by it as it was."""
    from decimal import Decimal

    from drivers.load import builtin_profile, builtin_profiles
    from drivers.reading import Message
    from drivers.wire.encode import encode
    from drivers.wire.packets import packets
    from drivers.wire.profile import FieldName
    from drivers.wire.receive import Receiver

    for name in builtin_profiles():
        profile = builtin_profile(name)
        unit = profile.unit or "ft.lb"
        raw = encode(profile, serial="A1023", counter=1, value="27.5", unit=unit, direction="CW")
        counter = 1 if profile.has(FieldName.COUNTER) else None
        direction = "CW" if profile.has(FieldName.DIRECTION) else None
        receiver = Receiver(profile, synced=True)
        match [item for part in packets(profile, raw) for item in receiver.feed(part)]:
            case [Message(raw=came, value=value, unit=token, live=False) as got]:
                said = (raw, Decimal("27.5"), unit, counter, direction)
                if (came, Decimal(value), token, got.counter, got.direction) != said:
                    raise ValueError(f"{name}: {got!r}")
            case found:
                raise ValueError(f"{name}: {found!r}")


def _samples() -> None:
    """Every sample sheet can be read and worked."""
    from specs.expand import expand
    from specs.load import sample, samples

    for name in samples():
        if not expand(sample(name)).steps:
            raise ValueError(name)


def _words() -> None:
    """Every command's line, and every sentence of the catalogue, can be read."""
    import tomllib
    from importlib.resources import files

    from bridge.cli.lazy import COMMANDS

    for entry in COMMANDS.values():
        words.say(entry.summary)
    for path in (files("bridge") / "catalogue").iterdir():
        for key, sentence in tomllib.loads(path.read_text(encoding="utf-8")).items():
            if not str(sentence).strip():
                raise ValueError(f"{path.name}: {key}")
