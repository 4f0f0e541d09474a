"""How well unknown formats are learnt: each learnt profile reads messages of its format that were held back."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from bridge.figures.formats import Case, Further
from bridge.figures.formats_kinds import made_up
from drivers.errors import ProfileError
from drivers.reading import Message
from drivers.wire.learn import learn
from drivers.wire.learn_shown import Asked, parse_shown
from drivers.wire.profile import Profile
from drivers.wire.receive import Receiver
from specs.errors import SpecError
from specs.units import canonical

RIGHT, PARTLY, DOUBTED, REFUSED, WRONG = OUTCOMES = ("right", "partly", "doubted", "refused", "wrong")
UNSURE = {"profile.counter-width": "counter"}  # sentences that call a part of the profile unproven


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one format.

    `partly`: all that is read is right, but something that is sent was left out or not read. `doubted`: what is wrong
    was called unproven when it was learnt. `wrong`: silently so.
    """

    number: int
    family: str
    learnable: bool
    what: str
    why: str = ""  # code of the refusal, or what was amiss


@dataclass(frozen=True, slots=True)
class Run:
    """All formats of a run."""

    seed: int
    outcomes: tuple[Outcome, ...]

    def count(self, what: str) -> int:
        return sum(outcome.what == what for outcome in self.outcomes)


def resolve(token: str) -> str | None:
    """The canonical unit of a token, None for what is none."""
    try:
        return canonical(token)
    except SpecError:
        return None


def learning(formats: int, seed: int, progress: Callable[[int], None] = lambda _: None) -> Run:
    """Learn so many formats and read with each what was held back of it."""
    outcomes = []
    for number in range(formats):
        outcomes.append(outcome(made_up(number, seed), number))
        progress(number + 1)
    return Run(seed, tuple(outcomes))


def outcome(case: Case, number: int) -> Outcome:
    """Learn one format and judge what its profile makes of messages held back."""
    shown = tuple(parse_shown(text, resolve) for text in case.shown)
    try:
        asked = Asked(shown, resolve, only_unit=case.only_unit, most=Decimal(case.most))
        learnt = learn([case.run], asked, name="learnt", title="Learnt")
    except ProfileError as error:
        return Outcome(number, case.family, case.learnable, REFUSED, error.code)
    faults = Counter(fault for each in case.further for fault in faults_of(learnt.profile, each, case))
    unsure = {f"{WRONG}: {UNSURE[told.code]}" for told in learnt.told if told.code in UNSURE}
    if any(fault in unsure for fault in faults) and not any(f.startswith(WRONG) and f not in unsure for f in faults):
        return Outcome(number, case.family, case.learnable, DOUBTED, ", ".join(sorted(faults)))
    for what in (WRONG, PARTLY):
        amiss = sorted(name for name in faults if name.startswith(what))
        if amiss:
            return Outcome(number, case.family, case.learnable, what, ", ".join(amiss))
    return Outcome(number, case.family, case.learnable, RIGHT)


def faults_of(profile: Profile, each: Further, case: Case) -> list[str]:
    """What is amiss in the reading of one message held back; each fault begins with the outcome that it leads to."""
    items = Receiver(profile, synced=True).feed(each.raw)
    messages = [item for item in items if isinstance(item, Message)]
    if each.broken:
        return [f"{WRONG}: broken" for message in messages if not _same(message, each)]
    if not messages:
        return [] if each.new else [f"{PARTLY}: not read"]
    if len(messages) > 1:
        return [f"{WRONG}: several"]
    read, sent = messages[0], each.sent
    pairs = {
        "value": (Decimal(read.value), Decimal(sent.value)),
        "unit": (None if read.unit is None else resolve(read.unit), _unit(read, each, case)),
        "counter": (read.counter, sent.counter if "counter" in case.sends and not sent.live else read.counter),
        "turn": (read.direction, _turn(read, each, case)),
        "live": (read.live, sent.live),
    }
    left_out = [f"{PARTLY}: {name}" for name, (got, wanted) in pairs.items() if got is None and wanted is not None]
    return left_out + [f"{WRONG}: {name}" for name, (got, wanted) in pairs.items() if got is not None and got != wanted]


def _unit(read: Message, each: Further, case: Case) -> str | None:
    """The unit that is wanted: where nothing showed it and nobody said that it is the only one, it must stay open."""
    return each.sent.unit if case.unit_shown or read.unit is not None else None


def _turn(read: Message, each: Further, case: Case) -> str | None:
    """The direction that is wanted: what the capture never showed may stay open, but not be made up."""
    if "turn" not in case.sends:
        return None
    return each.sent.turn if case.both_ways or read.direction is not None else None


def _same(message: Message, each: Further) -> bool:
    """Whether a message with a flipped bit still says what was sent, as where the bit was in a spare end byte."""
    return Decimal(message.value) == Decimal(each.sent.value) and message.counter in (None, each.sent.counter)
