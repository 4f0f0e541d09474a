"""What loosening voids, written twice: here and in the core. Both must say the same."""

from hypothesis import given
from hypothesis import strategies as st

from bridge.core.states import State, voided_by_loosening
from bridge.figures.loosening import voids
from specs.expand import expand
from specs.load import sample, samples

PLANS = [expand(sample(name)) for name in samples()]


@given(st.sampled_from(PLANS), st.data())
def test_both_say_the_same(plan: object, data: st.DataObject) -> None:
    """On any steps served, at any place of the samples."""
    from specs.model import Plan

    assert isinstance(plan, Plan)
    begun = set(data.draw(st.lists(st.integers(0, len(plan.steps) - 1), max_size=60)))
    place = data.draw(st.sampled_from(sorted(plan.at_place)))
    states = [State.WITHIN if index in begun else State.NEVER for index in range(len(plan.steps))]
    assert tuple(voids(plan, begun, place)) == voided_by_loosening(plan, states, place)


def test_the_last_round_goes_with_the_place_and_an_unknown_place_voids_nothing() -> None:
    plan = expand(sample("skerrivane-p2"))
    begun = {step.index for step in plan.steps if step.stage.id in ("C1", "C4") and step.round < 3}
    ids = [plan.steps[index].id for index in voids(plan, begun, "C.5")]
    assert ids == ["C1/C.5", "C4#1/C.5", *(f"C4#2/C.{n}" for n in (1, 5, 3, 7, 2, 6, 4, 8))]
    assert voids(plan, begun, "Z.1") == []
