"""`witnessmark links`: how the links of a job do or did, read from the trail alone."""

import json
import os
from datetime import datetime, timedelta
from decimal import Decimal

import click

from bridge import config, words
from bridge.cli.recorded_job import chosen, folded
from bridge.errors import FINDINGS, NOTHING_TO_DECIDE


@click.command("links", help=f"{words.say('health.command')}\n\n{words.say('health.argument')}")
@click.argument("name", metavar="JOB", default="last")
@click.option("--trail", metavar="FILE", help=words.say("record.option-audit-trail"))
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def links(name: str, trail: str | None, as_json: bool) -> int:
    """Exit code 1 where somebody has to decide or mend something. Raises `BadInput`, `TrailTrouble`."""
    from bridge.cli.links_drawing import plain_object, whole_lines
    from bridge.cli.screen import mode_prefix
    from bridge.core.health import of_bench
    from bridge.service.registering import registered
    from bridge.trail.reader import Reader

    place = config.build(os.environ, trail=trail).trail
    with Reader.open(place) as reader:
        listed = chosen(reader, str(place), name)
        job = folded(reader, str(place), listed)
    started, begin = datetime.fromisoformat(listed.started_utc), job.started.t
    found = of_bench(job.health.views(), registered(place))

    def wall(t: Decimal) -> str:
        at = started + timedelta(seconds=float(t - begin))
        return f"{at:%Y-%m-%dT%H:%M:%SZ}" if as_json else f"{at:%Y-%m-%d %H:%M:%S} UTC"

    prefix = mode_prefix("practice" if job.started.origin == "practice" else "work")
    for link in found:
        for line in [json.dumps(plain_object(link, wall), ensure_ascii=False)] if as_json else whole_lines(link, wall):
            click.echo(line if as_json else prefix + line)
    if not found and not as_json:
        click.echo(words.say("health.no-wrench"))
    return FINDINGS if any(link.needs for link in found) else NOTHING_TO_DECIDE
