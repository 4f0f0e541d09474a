"""`witnessmark verify`: whether a trail is as it was recorded."""

import json
import sys

import click

from bridge import words
from bridge.errors import NOTHING_TO_DECIDE, TrailTrouble


@click.command("verify", help=f"{words.say('record.command-verify')}\n\n{words.say('record.argument-verify')}")
@click.argument("trail", metavar="TRAIL")
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def verify(trail: str, as_json: bool) -> int:
    """Exit code 4 for a trail that is not as it was recorded."""
    from bridge.trail.verify import verify as check

    report = check(trail, _show if sys.stderr.isatty() else None)
    damage = [(each.code, each.seq, words.say(each.code, *each.args)) for each in report.damage]
    if as_json:
        keys = {
            "intact": report.intact,
            "events": report.events,
            "head": str(report.head),
            "first_bad": report.first_bad,
            "damage": [{"code": code, "event": seq, "text": text} for code, seq, text in damage],
        }
        click.echo(json.dumps(keys, ensure_ascii=False))
    elif report.intact:
        click.echo(words.say("record.verify-intact", trail, str(report.events), str(report.head)))
    else:
        click.echo(words.say("record.verify-damaged", trail, str(report.events)))
        if report.first_bad is not None:
            click.echo(words.say("record.verify-first-bad", str(report.first_bad)))
        for _, _, text in damage:
            click.echo(f"  - {text}")
    return NOTHING_TO_DECIDE if report.intact else TrailTrouble.exit_code


def _show(done: int, total: int) -> None:
    end = "\n" if done == total else ""
    click.echo("\r" + words.say("record.verify-progress", str(done), str(total)) + end, err=True, nl=False)
