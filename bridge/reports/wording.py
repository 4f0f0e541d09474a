"""Words that reports on paper and on the screen share: reasons and findings as sentences, lengths of time."""

from bridge.audit.finding import Finding
from bridge.core.events import Reason
from bridge.words import say


def sentence(reason: Reason) -> str:
    """A reason in words."""
    if reason.code == "match.person-said" and not any(reason.args):
        return say("match.person-said-unnamed")
    return say(reason.code, *reason.args)


def finding_text(finding: Finding) -> str:
    """A finding in words, without its step."""
    return say(finding.code, *(text or say("record.nobody-named") for text in finding.args))


def amount_of_time(seconds: int) -> str:
    """`4 h`, `90 min`, `45 s`: in the largest unit that tells it whole."""
    for size, unit in ((3600, "h"), (60, "min")):
        if seconds and seconds % size == 0:
            return f"{seconds // size} {unit}"
    return f"{seconds} s"
