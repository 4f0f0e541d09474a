"""The interview that writes a sheet. Every answer is put into the draft and the draft is read: what the sheet would
say to it is said at once, and it is asked again."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import click

from bridge.cli.asking import Asker, needed, wrong
from bridge.words import say
from specs.draft import Draft, Keys, Value
from specs.errors import SpecError
from specs.model import Do
from specs.numbers import clip
from specs.tables.positions import positions_of
from specs.tables.span import span

QUESTIONS = {
    "id": "interview.id",
    "revision": "interview.revision",
    "title": "interview.title",
    "source": "interview.source",
    "source_revision": "interview.source-revision",
    "class": "interview.class",
    "copied_by": "interview.copied-by",
}
OPTIONAL = ("source_revision", "copied_by")
NO_MORE = "-"

Read = Callable[[str], Value | None]  # an answer as a sheet has it; None for a blank one that leaves the key out


def _words(text: str) -> Value | None:
    return text


def _optional(text: str) -> Value | None:
    return text or None


def _span(text: str) -> Value | None:
    return span(text) if text else None


def _order(text: str) -> Value | None:
    return tuple(text.replace(",", " ").split())


def _pair(text: str) -> Value | None:
    """`10 %` for both sides, or `-0 % +10 %`."""
    low, sign, high = text.partition("+")
    return (low.strip(), f"+{high.strip()}") if sign and low.strip() else text


_WRENCH: tuple[tuple[str, str, Read], ...] = (
    ("title", "interview.wrench-title", _words),
    ("unit", "interview.wrench-unit", _words),
    ("range", "interview.wrench-range", _span),
)
_GROUP: tuple[tuple[str, str, Read], ...] = (
    ("title", "interview.group-title", _words),
    ("wrench", "interview.group-wrench", _words),
    ("positions", "interview.group-positions", positions_of),
    ("pattern", "interview.group-pattern", _words),
    ("order", "interview.group-order", _order),
    ("thread", "interview.group-thread", _optional),
    ("grade", "interview.group-grade", _optional),
    ("lubrication", "interview.group-lubrication", _optional),
)
_ENDS: tuple[tuple[str, str, Read], ...] = (
    ("min", "interview.stage-min", _optional),
    ("max", "interview.stage-max", _optional),
)
_OF_GROUP: tuple[tuple[str, str, Read], ...] = (("group", "interview.stage-group", _words),)
_SAID: tuple[tuple[str, str, Read], ...] = (("text", "interview.stage-text-or-none", _optional),)
_BY_DO: dict[str, tuple[tuple[str, str, Read], ...]] = {
    Do.TORQUE: (
        *_OF_GROUP,
        ("target", "interview.stage-target", _optional),
        ("tolerance", "interview.stage-tolerance", _pair),
        *_ENDS,
    ),
    Do.ANGLE: (
        *_OF_GROUP,
        ("snug", "interview.stage-snug", _words),
        ("turn", "interview.stage-turn", _words),
        ("tolerance", "interview.stage-turn-tolerance", _pair),
    ),
    Do.LOOSEN: _OF_GROUP,
    Do.LOOK: (*_OF_GROUP, *_SAID),
    Do.WAIT: (("for", "interview.stage-for", _words),),
    Do.MEASURE: (("group", "interview.stage-group-or-none", _optional), *_ENDS, *_SAID),
    Do.CONDITION: (("text", "interview.stage-text", _words),),
}


def interview(asker: Asker, out: Callable[[str], None]) -> Draft:
    """The draft of a sheet that can be read. `out` is told the id and may refuse it. Raises `BadInput` at the end."""
    click.echo(say("interview.begin"), err=True)
    draft = Draft()
    for key, question in QUESTIONS.items():
        value = asker.ask(say(question), _head_check(key, out), "1" if key == "revision" else "")
        if value:
            draft = draft.with_keys(**{key: value})
    if found := cautions(asker, say("interview.caution")):
        draft = draft.with_keys(cautions=found)
    for part in (_wrench, _group, _stage):
        while (longer := part(asker, draft)) is not None:
            draft = longer
    return draft


def cautions(asker: Asker, question: str) -> tuple[str, ...]:
    """Lines of words until a blank one."""
    found: list[str] = []
    while answer := asker.ask(
        question, lambda text: wrong(Draft((("cautions", (text,)),)), "cautions") if text else None
    ):
        found.append(answer)
    return tuple(found)


def _head_check(key: str, out: Callable[[str], None]) -> Callable[[str], str | None]:
    def check(answer: str) -> str | None:
        if key in OPTIONAL and not answer:
            return None
        found = wrong(Draft(((key, answer),)), key)
        if found is None and key == "id":
            out(answer)
        return found

    return check


def _wrench(asker: Asker, draft: Draft) -> Draft | None:
    default = f"W{len(draft.wrenches) + 1}" if not draft.wrenches else NO_MORE

    def made(name: str, keys: Keys) -> Draft:
        return replace(draft, wrenches=(*draft.wrenches, (name, keys)))

    taken = [name for name, _ in draft.wrenches]
    name = _id(asker, say("interview.wrench-id"), taken, default)
    return None if name is None else made(name, _keys(asker, _WRENCH, name, lambda keys: made(name, keys), "wrenches"))


def _group(asker: Asker, draft: Draft) -> Draft | None:
    def made(name: str, keys: Keys) -> Draft:
        return replace(draft, groups=(*draft.groups, (name, keys)))

    taken = [name for name, _ in draft.groups]
    name = _id(asker, say("interview.group-id"), taken, NO_MORE if taken else "")
    if name is None:
        return None
    defaults = {"wrench": draft.wrenches[0][0]} if len(draft.wrenches) == 1 else {}
    keys = _keys(asker, _GROUP, name, lambda keys: made(name, keys), "groups", defaults)
    if asker.yes(say("interview.group-single-use", name)):
        keys = (*keys, ("single_use", True))
    found = cautions(asker, say("interview.group-caution", name))
    return made(name, (*keys, ("cautions", found)) if found else keys)


def _stage(asker: Asker, draft: Draft) -> Draft | None:
    def made(name: str, keys: Keys) -> Draft:
        return replace(draft, stages=(*draft.stages, (("id", name), *keys)))

    taken = [str(dict(keys)["id"]) for keys in draft.stages]
    name = _id(asker, say("interview.stage-id"), taken, NO_MORE if taken else "")
    if name is None:
        return None
    while True:
        keys = _keys(
            asker,
            (("do", "interview.stage-do", _words),),
            name,
            lambda keys: made(name, keys),
            "stages",
            {"do": str(Do.TORQUE)},
        )
        alone = len(draft.groups) == 1 and keys[0][1] != Do.MEASURE  # a measure without a group is taken once
        defaults = {"group": draft.groups[0][0]} if alone else {}
        do = str(keys[0][1])
        keys = _keys(asker, _BY_DO[do], name, lambda keys: made(name, keys), "stages", defaults, keys)
        objection = wrong(made(name, keys), f"stages.{name}")
        if objection is None:
            break
        click.echo(f"  {say('interview.once-more', objection, name)}", err=True)
    if note := asker.ask(say("interview.stage-note", name), _note_check):
        keys = (*keys, ("note", note))
    found = cautions(asker, say("interview.stage-caution", name))
    return made(name, (*keys, ("cautions", found)) if found else keys)


def _note_check(text: str) -> str | None:
    return wrong(Draft((("title", text),)), "title") if text else None


def _id(asker: Asker, question: str, taken: list[str], default: str) -> str | None:
    """A new id, None for no more; the first of a kind is needed."""

    def check(answer: str) -> str | None:
        if answer == NO_MORE and taken:
            return None
        if answer in taken:
            return say("sheet.id-twice", answer)
        stage: Keys = (("id", answer), ("do", str(Do.CONDITION)), ("text", "-"))  # every id is read alike
        return needed(answer) or wrong(Draft(stages=(stage,)), f"stages.{clip(answer)}.id")

    name = asker.ask(question, check, default)
    return None if name == NO_MORE else name


def _keys(
    asker: Asker,
    table: tuple[tuple[str, str, Read], ...],
    name: str,
    made: Callable[[Keys], Draft],
    kind: str,
    defaults: dict[str, str] | None = None,
    before: Keys = (),
) -> Keys:
    """The keys of one part, each asked until the sheet takes it."""
    keys = before
    for key, question, read in table:
        if _unasked(key, dict(keys)):
            continue
        value = _value(
            asker, say(question, name), read, _Place(made, keys, key, f"{kind}.{name}.{key}"), defaults or {}
        )
        if value is not None:
            keys = (*keys, (key, value))
    return keys


@dataclass(frozen=True, slots=True)
class _Place:
    """Where an answer goes."""

    made: Callable[[Keys], Draft]
    before: Keys
    key: str
    path: str


def _value(asker: Asker, question: str, read: Read, place: _Place, defaults: dict[str, str]) -> Value | None:
    """An answer as the sheet has it, asked until the sheet takes it."""
    value: Value | None = None

    def check(answer: str) -> str | None:
        nonlocal value
        try:
            value = read(answer)
        except SpecError as error:
            return say(error.code, *error.words)
        return None if value is None else wrong(place.made((*place.before, (place.key, value))), place.path)

    asker.ask(question, check, defaults.get(place.key, ""))
    return value


def _unasked(key: str, keys: dict[str, Value]) -> bool:
    """Whether another answer has settled that this key is not asked for."""
    if key == "order":
        return keys.get("pattern") != "listed"
    if keys.get("do") == Do.TORQUE and key in ("tolerance", "min", "max"):
        return (key == "tolerance") != ("target" in keys)
    return False
