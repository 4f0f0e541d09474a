"""The cautions that every main command shows: this work hurts people, and a verdict licenses nothing."""

import click

from bridge import words

CAUTIONS = ("screen.caution-hurt", "screen.caution-overrule", "screen.caution-within")


def show_cautions(*of_the_sheet: str) -> None:
    """Print the standing cautions, then those of the sheet, to stderr, so that output for programs stays clean."""
    click.echo(words.say("screen.cautions"), err=True)
    for sentence in (*(words.say(code) for code in CAUTIONS), *of_the_sheet):
        click.echo(f"  ! {sentence}", err=True)
    click.echo(err=True)
