"""Words for what differs between two sheets."""

from dataclasses import asdict

from bridge.words import say
from specs.compare import Comparison
from specs.compare_steps import counts


def lines(found: Comparison) -> list[str]:
    """One line for each change, then how many steps are equal and how many are not."""
    if not found.changes:
        return [say("compare.same", str(len(found.steps)))]
    told = ", ".join(f"{count} {word}" for word, count in counts(found.steps).items() if count)
    return [*(say(change.code, *change.args) for change in found.changes), say("compare.count", told)]


def keys(found: Comparison) -> dict[str, object]:
    """The same for another program, with what became of every step."""
    return {
        "changes": [{**asdict(change), "text": say(change.code, *change.args)} for change in found.changes],
        "counts": {str(word): count for word, count in counts(found.steps).items()},
        "steps": {change.step: str(change.became) for change in found.steps},
    }
