"""A fastener turned back on purpose: said by the person, and everything that it voids is pulled again."""

from bridge.figures.hand import Hand
from specs.model import TIGHTENING, Plan, Step

BACK = (0.65, 0.9)  # breaking loose reads that share of what it was tightened to


def voids(plan: Plan, begun: set[int], place: str) -> list[int]:
    """Steps of `begun` that loosening a place voids, in due order.

    Its own tightening steps, its group's last round pass that was begun, and what its stages name in `voids`.
    """
    here = plan.at_place.get(place, ())
    if not here:
        return []
    group, assembly = plan.steps[here[0]].group, plan.steps[here[0]].assembly
    named = {name for index in here for name in plan.steps[index].stage.voids}
    found = {index for index in here if plan.steps[index].stage.do in TIGHTENING}
    newest: range | None = None
    for visit in plan.visits:
        stage, of_it = visit.stage, range(visit.first, visit.end)
        if visit.assembly != assembly or stage.do not in TIGHTENING or stage.group is None:
            continue
        if stage.group in named:
            found.update(of_it)
        if group is not None and stage.group == group.id and stage.rounds and not begun.isdisjoint(of_it):
            newest = of_it
    return sorted((found | set(newest or ())) & begun)


def loosen(hand: Hand, step: Step, *, against: bool) -> str | None:
    """Turn back one place that this hand has pulled, and redo; the place, None where nothing was pulled yet."""
    plan = hand.plan
    pulled = [plan.steps[index] for index in sorted(hand.pulled)]
    own = [each for each in pulled if each.assembly == step.assembly and each.stage.do in TIGHTENING]
    near = [each for each in own if each.group == step.group] or own
    if not near:
        return None
    last = hand.rng.choice(near)
    place = last.place or ""
    hand.walk()
    if against:
        tool = hand.instrument(last)
        band = hand.band(last, tool)
        made = hand.peak(tool, band, round(band.aim * hand.rng.uniform(*BACK)), None, ("against",))
        made.against = True
    hand.say("loosened", place)
    if last.group is not None and last.group.single_use:
        hand.say("replaced", place)
    for index in voids(plan, hand.pulled, place):
        again = plan.steps[index]
        hand.walk()
        hand.ordinary(again, ("against" if against else "loosened",))
        if again.stage.rounds is not None:
            hand.tell_move(again)
    return place
