"""`witnessmark people`: who works at this bench, and in which roles."""

import json
import os
from pathlib import Path

import click

from bridge import words
from bridge.cli.stopping import run_loop
from bridge.config import build
from bridge.core.events import PersonAdded
from bridge.errors import NOTHING_TO_DECIDE, BadInput

ROLES = ("fitter", "inspector", "authority", "instructor", "trainee")


def trail_of(trail: str | None) -> Path:
    """The trail that a command means: the option, else the settings of this machine."""
    return build(os.environ, trail=trail).trail


@click.group("people", help=words.say("bench.command-people"))
def people() -> None:
    """The group itself does nothing."""


@people.command("add", help=words.say("bench.command-people-add"))
@click.argument("name", metavar="NAME")
@click.option("--role", "roles", multiple=True, required=True, type=click.Choice(ROLES), help=words.say("bench.role"))
@click.option("--by", "person", help=words.say("bench.option-by"))
@click.option("--trail", help=words.say("bench.option-trail"))
def add(name: str, roles: tuple[str, ...], person: str | None, trail: str | None) -> int:
    """A later entry of the same name replaces its roles."""
    from importlib.metadata import version

    from bridge.service.registering import register

    if not name.strip() or not name.isprintable():
        raise BadInput("bench.name-empty")
    path = trail_of(trail)
    body = PersonAdded(name.strip(), tuple(dict.fromkeys(roles)))
    run_loop(register(path, version("witnessmark"), lambda _: body, person))
    click.echo(words.say("bench.person-added", body.name, ", ".join(body.roles), str(path)))
    return NOTHING_TO_DECIDE


@people.command("list", help=words.say("bench.command-people-list"))
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
@click.option("--trail", help=words.say("bench.option-trail"))
def list_(as_json: bool, trail: str | None) -> int:
    """One line a person, in the order they were added."""
    from bridge.service.registering import registered

    found = registered(trail_of(trail)).people.values()
    for person in found:
        plain = {"name": person.name, "roles": list(person.roles)}
        click.echo(json.dumps(plain, ensure_ascii=False) if as_json else f"{person.name}: {', '.join(person.roles)}")
    if not found and not as_json:
        click.echo(words.say("bench.nobody"))
    return NOTHING_TO_DECIDE
