"""The mark of practice on what is printed of it."""

from collections.abc import Callable
from contextlib import redirect_stdout
from io import StringIO

import click

from bridge.words import say


def draw_marked(draw: Callable[[], None]) -> None:
    """What `draw` prints, with PRACTICE on every line, so that no part of it can be taken for work."""
    drawn = StringIO()
    with redirect_stdout(drawn):
        draw()
    for line in drawn.getvalue().splitlines():
        click.echo(f"{say('capture.practice')} | {line}".rstrip())
