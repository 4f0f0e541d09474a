"""`witnessmark figures`: how well the program does, on jobs that it makes up."""

import json
import sys
from typing import TYPE_CHECKING

import click

from bridge import words
from bridge.cli.figures_reach import reach
from bridge.errors import NOTHING_TO_DECIDE
from bridge.figures.rates import SETS, SLIPS, Rates

if TYPE_CHECKING:
    from bridge.figures.assignment import Run


@click.group("figures", help=words.say("figures.command-figures"))
def figures() -> None:
    """The group itself does nothing."""


for command in reach.commands.values():
    figures.add_command(command)


@figures.command("assignment", help=words.say("figures.command-assignment"))
@click.option("--jobs", type=click.IntRange(1), default=200, show_default=True, help=words.say("figures.option-jobs"))
@click.option("--seed", type=int, default=1, show_default=True, help=words.say("figures.option-seed"))
@click.option(
    "--rates",
    "rates_name",
    type=click.Choice(list(SETS)),
    default="realistic",
    show_default=True,
    help=words.say("figures.option-rates"),
)
@click.option(
    "--without",
    multiple=True,
    metavar="SLIP",
    type=click.Choice([name.replace("_", "-") for name in SLIPS]),
    help=words.say("figures.option-without"),
)
@click.option("--job", "number", type=click.IntRange(0), metavar="K", help=words.say("figures.option-job"))
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def assignment(
    jobs: int, seed: int, rates_name: str, without: tuple[str, ...], number: int | None, as_json: bool
) -> int:
    """Exit code 0 whatever the figures."""
    from bridge.figures.assignment import Run

    rates: Rates = SETS[rates_name].without(name.replace("-", "_") for name in without)
    run = Run(jobs, seed, rates)
    if number is not None:
        _one_job(run, number, as_json=as_json)
        return NOTHING_TO_DECIDE
    from bridge.figures.assignment import assignment as measure

    shown = sys.stderr.isatty()

    def progress(done: int) -> None:
        if shown:
            click.echo(f"\r{words.say('figures.progress', str(done), str(jobs))}", nl=done == jobs, err=True)

    tally = measure(run, progress)
    if as_json:
        from bridge.figures.plain import plain

        asked = {"seed": seed, "rates": rates_name, "without": list(without)}
        click.echo(json.dumps(asked | plain(tally), ensure_ascii=False, indent=2))
        return NOTHING_TO_DECIDE
    from bridge.cli.figures_drawing import draw

    draw(tally, seed, rates_name, without)
    return NOTHING_TO_DECIDE


def _one_job(run: "Run", number: int, *, as_json: bool) -> None:
    from dataclasses import asdict

    from bridge.figures.assignment import story_of
    from bridge.figures.beside import beside

    found = beside(story_of(run, number))
    if as_json:
        for row in found.rows:
            click.echo(json.dumps(asdict(row), ensure_ascii=False))
        ends = {"due": found.due, "open": found.open, "true_due": found.true_due, "true_open": found.true_open}
        click.echo(json.dumps({"job": ends}, ensure_ascii=False))
        return
    from bridge.cli.figures_drawing import draw_job

    draw_job(found, number, run.seed)


@figures.command("size", help=words.say("figures.command-size"))
@click.option(
    "--steps", type=click.IntRange(80), default=2000, show_default=True, help=words.say("figures.option-steps")
)
@click.option("--seed", type=int, default=1, show_default=True, help=words.say("figures.option-seed"))
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def size(steps: int, seed: int, as_json: bool) -> int:
    """Exit code 0 whatever the figures."""
    from dataclasses import asdict

    from bridge.figures.size import LIVE_STEPS
    from bridge.figures.size import size as measure

    found = measure(steps, seed)
    if as_json:
        click.echo(json.dumps(asdict(found)))
        return NOTHING_TO_DECIDE
    took, live = f"{found.seconds:.2f}", f"{found.live_p50_ms:.2f}"
    each = f"{1000 * found.seconds / found.readings:.2f}"
    click.echo(words.say("figures.size", str(found.steps), str(found.readings), took, each, f"{found.memory_mb:.0f}"))
    click.echo(words.say("figures.size-live", str(LIVE_STEPS), live, f"{found.live_p99_ms:.2f}"))
    return NOTHING_TO_DECIDE


@figures.command("bounds", help=words.say("figures.command-bounds"))
@click.option("--seed", type=int, default=1, show_default=True, help=words.say("figures.option-seed"))
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def bounds(seed: int, as_json: bool) -> int:
    """Exit code 0 whatever the figures."""
    from dataclasses import asdict

    from bridge.figures.bounds import after_unders, from_memory

    unders = after_unders((0.9, 0.95, 0.97, 0.99), 200_000, seed)
    memory = {places: from_memory(places, 2000, seed) for places in (4, 8, 12, 24)}
    if as_json:
        plain = {"after_an_under": [asdict(each) for each in unders]}
        click.echo(json.dumps(plain | {"from_memory": {n: asdict(share) for n, share in memory.items()}}))
        return NOTHING_TO_DECIDE
    click.echo(words.say("figures.bounds-under"))
    for each in unders:
        numbers = f"{each.threshold:g}", f"{100 * each.wrong:.3f}", f"{100 * each.asked:.2f}"
        click.echo(words.say("figures.bounds-under-row", *numbers))
    click.echo(words.say("figures.bounds-memory"))
    for places, share in memory.items():
        parts = (f"{100 * part / share.readings:.1f}" for part in (share.right, share.asked, share.wrong))
        click.echo(words.say("figures.bounds-memory-row", str(places), *parts))
    return NOTHING_TO_DECIDE


@figures.command("learn", help=words.say("figures.command-learn"))
@click.option(
    "--formats", type=click.IntRange(1), default=40, show_default=True, help=words.say("figures.option-formats")
)
@click.option("--seed", type=int, default=1, show_default=True, help=words.say("figures.option-seed"))
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def learn(formats: int, seed: int, as_json: bool) -> int:
    """Exit code 0 whatever the figures."""
    from dataclasses import asdict

    from bridge.figures.learning import OUTCOMES, RIGHT, learning

    found = learning(formats, seed)
    counts = {what: found.count(what) for what in OUTCOMES}
    if as_json:
        keys = {"seed": seed, "formats": formats, **counts, "outcomes": [asdict(each) for each in found.outcomes]}
        click.echo(json.dumps(keys, ensure_ascii=False))
        return NOTHING_TO_DECIDE
    click.echo(words.say("figures.learn", str(formats), str(seed)))
    for what, count in counts.items():
        click.echo(f"  {count:4d}  {words.say(f'figures.learn-{what}')}")
    for each in found.outcomes:
        if each.what != RIGHT:
            code = "figures.learn-row" if each.learnable else "figures.learn-row-hopeless"
            click.echo(words.say(code, str(each.number), each.family, each.what, each.why))
    return NOTHING_TO_DECIDE


@figures.command("mistakes", help=words.say("figures.command-mistakes"))
@click.option(
    "--sheets", type=click.IntRange(1), default=200, show_default=True, help=words.say("figures.option-sheets")
)
@click.option("--seed", type=int, default=1, show_default=True, help=words.say("figures.option-seed"))
@click.option("--show", is_flag=True, help=words.say("figures.option-show-missed"))
@click.option("--json", "as_json", is_flag=True, help=words.say("screen.option-json"))
def mistakes(sheets: int, seed: int, show: bool, as_json: bool) -> int:
    """Exit code 0 whatever the figures."""
    from bridge.figures.noticed import noticed

    found = noticed(sheets, seed)
    caught, warned = found.caught.total(), found.warnings.total()
    if as_json:
        kinds = {name: {"planted": n, "named": found.caught[name]} for name, n in found.planted.items()}
        clean = {"sheets": found.clean, "warnings": dict(found.warnings), "notes": dict(found.notes)}
        click.echo(json.dumps({"sheets": sheets, "seed": seed, "named": caught, "kinds": kinds, "clean": clean}))
        return NOTHING_TO_DECIDE
    for name, count in found.planted.items():
        click.echo(words.say("figures.mistakes-row", f"{name:<20}", str(found.caught[name]), str(count)))
    click.echo(words.say("figures.mistakes", str(caught), str(sheets)))
    click.echo(words.say("figures.mistakes-clean", str(found.clean), str(warned), str(found.notes.total())))
    for name, text, said in found.missed if show else ():
        click.echo(words.say("figures.mistakes-missed", name, ", ".join(said) or "–"))
        click.echo(text)
    return NOTHING_TO_DECIDE
