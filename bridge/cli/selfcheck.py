"""`witnessmark selfcheck`: what this installation stands on, each part tried for real."""

import asyncio
import platform
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import click

from bridge import words
from bridge.errors import FINDINGS, NOTHING_TO_DECIDE, Trouble
from drivers.errors import DriverError

LIMIT_S = 10.0
LINE = b"A1023,000001,27.5,ft.lb,CW\r\n"


@click.command("selfcheck", help=words.say("bench.command-selfcheck"))
def selfcheck() -> int:
    """Exit code 1 where a part does not do what it must."""
    from importlib.metadata import version

    from bridge.trail.connection import library

    settings = {each.name: each.value for each in library()}
    click.echo(words.say("bench.versions", version("witnessmark"), platform.python_version(), settings["sqlite"]))
    wal = "bench.wal-reset-kept-away" if settings["wal-reset fault"] == "yes" else "bench.wal-reset-mended"
    click.echo(words.say(wal))
    parts: tuple[tuple[str, Callable[[], object]], ...] = (
        ("bench.part-trail", _trail),
        ("bench.part-port", _port),
        ("bench.part-words", _words),
    )
    wrong = [code for code, part in parts if not _tried(words.say(code), part)]
    return FINDINGS if wrong else NOTHING_TO_DECIDE


def _tried(name: str, part: Callable[[], object]) -> bool:
    try:
        part()
    except (Trouble, DriverError, OSError, TimeoutError, ValueError, KeyError) as error:
        why = words.say(error.code, *error.words) if isinstance(error, DriverError) else str(error)
        click.echo(words.say("bench.part-wrong", name, why or type(error).__name__))
        return False
    click.echo(words.say("bench.part-works", name))
    return True


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
    asyncio.run(_read_line())


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
