"""`witnessmark profile`: the built-in profiles, and the proof of one."""

import json
from pathlib import Path

import click

from bridge import words
from bridge.errors import FINDINGS, NOTHING_TO_DECIDE


@click.group("profile", help=words.say("profile.command"))
def profile() -> None:
    """The group itself does nothing."""


@profile.command("list", help=words.say("profile.command-list"))
def list_() -> int:
    """One line a profile."""
    from drivers.load import builtin_profile, builtin_profiles

    for name in builtin_profiles():
        click.echo(f"{name}  {builtin_profile(name).title}")
    return NOTHING_TO_DECIDE


@profile.command("show", help=words.say("profile.command-show"))
@click.argument("name", metavar="PROFILE")
def show(name: str) -> int:
    """Raises `ProfileError`, `DriverError`."""
    from drivers.registry import profile as known_profile
    from drivers.wire.write import write

    click.echo(write(known_profile(name)), nl=False)
    return NOTHING_TO_DECIDE


@profile.command("make", help=words.say("profile.command-make"))
@click.argument("address", metavar="ADDRESS")
@click.option("--out", required=True, type=click.Path(path_type=Path), metavar="FILE.toml")
@click.option("--values", metavar="UUID", help=words.say("profile.option-values"))
@click.option("--minus-is-ccw", is_flag=True, help=words.say("profile.option-minus"))
def make(address: str, out: Path, values: str | None, minus_is_ccw: bool) -> int:
    """Raises `BadInput`, `LinkError`, `DriverError`; the exit code of `profile check` on what was written."""
    from bridge.cli.new_file import refuse_existing, write_new
    from bridge.cli.profile_make import Wanted, made
    from bridge.cli.stopping import run_loop
    from drivers.wire.parse import parse_profile
    from drivers.wire.write import write

    refuse_existing(out)
    text = write(run_loop(made(Wanted(address, values, out.stem, minus_is_ccw))))
    parse_profile(text)  # a file name that cannot be a profile's is told before anything is written
    write_new(out, text)
    click.echo(words.say("profile.made", str(out), address), err=True)
    return _prove(str(out), as_json=False)


@profile.command("check", help=words.say("profile.command-check"))
@click.argument("name", metavar="PROFILE")
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def check(name: str, as_json: bool) -> int:
    """Exit code 1 with a finding; raises `ProfileError`, `DriverError` where it cannot be read."""
    return _prove(name, as_json=as_json)


def _prove(name: str, *, as_json: bool) -> int:
    from bridge.cli.profile_check import check as prove
    from drivers.load import load_profile
    from drivers.registry import profile as known_profile

    found = prove(load_profile(Path(name)) if Path(name).is_file() else known_profile(name))
    remarks = [{"severity": each.severity, "code": each.code, "text": each.text()} for each in found.remarks]
    if as_json:
        keys = {"profile": name, "written": found.written, "fuzzed": found.fuzzed, "remarks": remarks}
        click.echo(json.dumps(keys, ensure_ascii=False))
    else:
        for each in found.remarks:
            click.echo(words.say(f"profile.{each.severity}", each.text()))
        count = str(len(found.findings)), str(len(found.remarks) - len(found.findings))
        click.echo(words.say("profile.checked", name, *count, str(found.written), str(found.fuzzed)), err=True)
    return FINDINGS if found.findings else NOTHING_TO_DECIDE
