"""One proof of a wrench in words."""

from bridge import words
from bridge.core.events_links import WrenchProven


def proof_line(body: WrenchProven) -> str:
    """One proof in words."""
    what = words.say(f"proving.what-{body.what}")
    result = words.say(f"proving.result-{body.result.replace(' ', '-')}")
    return words.say("proving.line", what, result, words.say(body.code, *body.args))
