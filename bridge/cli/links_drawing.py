"""How links do, as lines: short ones for the live screen, whole ones for the `links` view, and JSON."""

from collections.abc import Callable, Iterable
from decimal import Decimal

from bridge import words
from bridge.cli.screen_parts import Line, Span, wrapped
from bridge.core.events import Reason
from bridge.core.health import LinkHealthView

SHAPES = {"not yet heard": "◌", "up": "●", "waiting": "○", "lost": "✕", "ended": "–"}
QUIET = frozenset({"up", "not yet heard"})  # states that alone are worth no line of their own


def short_lines(links: Iterable[LinkHealthView], now: Decimal | None, width: int) -> list[Line]:
    """A line for each link that has something to tell; those that only are up share one. `now` is the job's time."""
    plain, told = [], []
    for link in links:
        more = _more(link)
        text = " · ".join([_state(link), *_heard_ago(link, now), *more])
        if more or link.state not in QUIET:
            told.append(text)
        else:
            plain.append(text)
    lines: list[Line] = []
    if len(" | ".join(plain)) <= width:
        plain = [" | ".join(plain)] if plain else []
    for text in (*plain, *told):
        lines += wrapped(text, width, "   ")
    return lines


def set_aside_lines(links: Iterable[LinkHealthView], width: int) -> list[Line]:
    """What must be seen first: wrenches that are not to be used."""
    found: list[Line] = []
    for link in links:
        if link.set_aside is not None:
            said = words.say("health.set-aside", link.lane, link.serial, _said(link.set_aside))
            found += [(Span(line[0].text, strong=True),) for line in wrapped(said, width, "   ")]
    return found


def whole_lines(link: LinkHealthView, wall: Callable[[Decimal], str]) -> list[str]:
    """All that is known of one link; `wall` words a time of the job."""
    since = [] if link.since is None else [words.say("health.since", wall(link.since))]
    heard = [] if link.heard is None else [words.say("health.heard-at", wall(link.heard))]
    why = [_said(link.why)] if link.why is not None else []
    lines = [" · ".join([_state(link), *since, *heard, *why])]
    lines.append(" · ".join((f"   {_battery(link)}", _zero(link), _lost(link))))
    lines.append("   " + words.say("health.counts", _missing(link), str(link.unread), str(link.unread_bytes)))
    if link.set_aside is not None:
        lines.append("   " + words.say("health.set-aside-because", _said(link.set_aside)))
    return [*lines, *(f"   ! {_said(need)}" for need in link.needs)]


def plain_object(link: LinkHealthView, wall: Callable[[Decimal], str]) -> dict[str, object]:
    """One link for another program; times in UTC."""
    return {
        "lane": link.lane,
        "serial": link.serial,
        "state": link.state,
        "since": None if link.since is None else wall(link.since),
        "why": None if link.why is None else _said(link.why),
        "heard": None if link.heard is None else wall(link.heard),
        "losses": link.losses,
        "battery": link.battery,
        "low_battery": link.low_battery,
        "zero": None if link.zero is None else link.zero.result,
        "zero_utc": link.zero_utc,
        "not_received": link.missing,
        "not_received_perhaps": link.perhaps,
        "not_understood": link.unread,
        "not_understood_bytes": link.unread_bytes,
        "set_aside": None if link.set_aside is None else _said(link.set_aside),
        "needs": [_said(need) for need in link.needs],
    }


def _state(link: LinkHealthView) -> str:
    word = words.say(f"health.state-{link.state.replace(' ', '-')}")
    return f"{link.lane} {link.serial} {SHAPES[link.state]} {word}"


def _heard_ago(link: LinkHealthView, now: Decimal | None) -> list[str]:
    if now is None or link.heard is None:
        return []
    seconds = max(int(now - link.heard), 0)
    ago = f"{seconds} s" if seconds < 120 else f"{seconds // 60} min"
    return [words.say("health.heard-ago", ago)]


def _more(link: LinkHealthView) -> list[str]:
    found = []
    if link.low_battery:
        found.append(words.say("health.battery-low", "" if link.battery is None else f" {link.battery} %"))
    elif link.battery is not None:
        found.append(words.say("health.battery", str(link.battery)))
    if link.missing:
        found.append(_missing(link))
    if link.unread:
        found.append(words.say("health.unread", str(link.unread)))
    if link.set_aside is not None:
        found.append(words.say("health.aside"))
    return found


def _missing(link: LinkHealthView) -> str:
    if link.perhaps:
        return words.say("health.missing-perhaps", str(link.missing), str(link.perhaps))
    return words.say("health.missing", str(link.missing))


def _battery(link: LinkHealthView) -> str:
    if link.low_battery:
        return words.say("health.battery-low", "" if link.battery is None else f" {link.battery} %")
    if link.battery is None:
        return words.say("health.battery-unknown")
    return words.say("health.battery", str(link.battery))


def _zero(link: LinkHealthView) -> str:
    if link.zero is None:
        return words.say("health.zero-never")
    return words.say(f"health.zero-{link.zero.result.replace(' ', '-')}", (link.zero_utc or "")[:16].replace("T", " "))


def _lost(link: LinkHealthView) -> str:
    return words.say("health.losses", str(link.losses))


def _said(reason: Reason) -> str:
    return words.say(reason.code, *reason.args)
