"""Makes up one whole job on a sheet: people at work, slips and all, as the record hears of it, and the truth."""

from decimal import Decimal
from random import Random

from bridge.core.events import Binding, Body, LinkSeen, MemoryMarked, ReadingTaken, Reason, Said
from bridge.figures.book import Book, pulls_of
from bridge.figures.crew import Crew
from bridge.figures.draft import Draft, Marked, Pulled, Spoke
from bridge.figures.rates import Rates
from bridge.figures.truth import Happened, Story, Truth
from bridge.figures.wire import heard
from specs.model import Plan

PROFILE = "line-basic"


def tell(plan: Plan, rates: Rates, rng: Random, sample: str | None = None) -> Story:
    """One job on that plan; everything in it follows from the state of `rng`."""
    crew = Crew(plan, rng, rates)
    crew.work()
    tools = {tool.lane: tool for worker in crew.workers for tool in worker.hand.kit.values()}
    drafts = [draft for worker in crew.workers for draft in worker.hand.drafts]
    record = heard(drafts, tools, rates, rng, crew.barriers)
    book = Book(plan, crew.bands)
    for item in pulls_of(record):
        book.take(item)
    due, open_ = book.standing()
    serials = {lane: f"S{number}" for number, lane in enumerate(sorted(tools), 1)}
    happened: list[Happened] = []
    n = 0
    for draft in record:
        n += isinstance(draft, Pulled)
        happened.append(_happened(plan, draft, n, serials))
    return Story(
        plan,
        tuple(Binding(lane, tools[lane].role, serials[lane], PROFILE, "figures") for lane in sorted(tools)),
        tuple(happened),
        due,
        open_,
        _alike(plan, {index for worker in crew.workers for index in worker.blurred}),
        frozenset(plan.visits[index].id for worker in crew.workers for index in worker.left_out),
        sample,
    )


def _alike(plan: Plan, blurred: set[int]) -> frozenset[str]:
    """All visits to the fasteners of a stage that cannot be told exactly: what is missing there shows up later too."""
    groups = {(plan.visits[index].assembly, plan.visits[index].stage.group) for index in blurred}
    return frozenset(visit.id for visit in plan.visits if (visit.assembly, visit.stage.group) in groups)


def _happened(plan: Plan, draft: Draft, n: int, serials: dict[str, str]) -> Happened:
    t = Decimal(draft.t).scaleb(-3)
    body: Body
    match draft:
        case Spoke():
            return Happened(Said(t, draft.word, draft.about, draft.value, lane=draft.lane), None, draft.person)
        case Marked(what="begin" | "end"):
            body = MemoryMarked(draft.lane, t, draft.what, draft.newest_first)
            return Happened(body)
        case Marked():
            return Happened(LinkSeen(draft.lane, t, draft.what, Reason("match.capture-says")))
        case Pulled():
            return Happened(_reading(draft, n, t, serials[draft.lane]), _truth(plan, draft))


def _reading(draft: Pulled, n: int, t: Decimal, serial: str) -> ReadingTaken:
    direction = "CCW" if draft.against else "CW"
    counter = "" if draft.counter is None else str(draft.counter)
    raw = f"{serial},{counter},{draft.value},{draft.unit or ''},{direction},{draft.angle or ''}\r\n"
    return ReadingTaken(
        n,
        draft.lane,
        t,
        raw.encode().hex(),
        draft.value,
        draft.unit,
        counter=draft.counter,
        direction=direction,
        angle=draft.angle,
    )


def _truth(plan: Plan, draft: Pulled) -> Truth:
    step = None if draft.step is None else plan.steps[draft.step].id
    return Truth(step, draft.slips, draft.traceless, draft.late)
