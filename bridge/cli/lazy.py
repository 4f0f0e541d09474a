"""The table of commands, each in a file of its own that is imported only when the command is asked for."""

from collections.abc import Mapping
from dataclasses import dataclass
from importlib import import_module
from types import MappingProxyType

import click

from bridge import words


@dataclass(frozen=True, slots=True)
class Entry:
    """Where a command lives, `module:function`, and the code of its line in the list of commands."""

    place: str
    summary: str


COMMANDS: Mapping[str, Entry] = MappingProxyType(
    {
        "sheet": Entry("bridge.cli.sheet:sheet", "screen.command-sheet"),
        "demo": Entry("bridge.cli.demo:demo", "screen.command-demo"),
        "capture": Entry("bridge.cli.capture:capture", "screen.command-capture"),
        "revise": Entry("bridge.cli.revise:revise", "revise.command"),
        "practice": Entry("bridge.cli.practice:practice", "screen.command-practice"),
        "replay": Entry("bridge.cli.replay:replay", "record.command-replay"),
        "audit": Entry("bridge.cli.audit:audit", "record.command-audit"),
        "explain": Entry("bridge.cli.explain:explain", "explain.command-explain"),
        "links": Entry("bridge.cli.links:links", "health.command"),
        "verify": Entry("bridge.cli.verify:verify", "record.command-verify"),
        "people": Entry("bridge.cli.people:people", "bench.command-people"),
        "wrench": Entry("bridge.cli.wrench:wrench", "bench.command-wrench"),
        "profile": Entry("bridge.cli.profile:profile", "profile.command"),
        "devices": Entry("bridge.cli.devices:devices", "devices.command"),
        "selfcheck": Entry("bridge.cli.selfcheck:selfcheck", "bench.command-selfcheck"),
        "figures": Entry("bridge.cli.figures:figures", "figures.command-figures"),
    }
)


class LazyGroup(click.Group):
    """A group that lists its commands from `COMMANDS` without importing any of them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names in the order of the table, which is the order of use."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command, imported now; None for a name that is not in the table."""
        entry = COMMANDS.get(cmd_name)
        if entry is None:
            return None
        module, _, function = entry.place.partition(":")
        command = getattr(import_module(module), function)
        if not isinstance(command, click.Command):
            raise TypeError(f"{entry.place} is not a click command")
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of commands, from the table alone."""
        with formatter.section(words.say("screen.commands")):
            formatter.write_dl([(name, words.say(entry.summary)) for name, entry in COMMANDS.items()])
