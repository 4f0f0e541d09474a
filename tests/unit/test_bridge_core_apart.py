"""Several wrenches of one role, each on assemblies of its own: found out, told beforehand, or asked."""

from collections.abc import Callable, Iterable, Sequence
from random import Random
from typing import Any

import pytest

from bridge.audit.findings import findings
from bridge.core import costs
from bridge.core.apart import Apart
from bridge.core.crews import Crew
from bridge.core.events import Assigned
from bridge.core.looking import look
from bridge.core.registry import Registry
from bridge.core.routes import Routes, routes_of
from specs.model import Plan

Start = Callable[..., Any]
Parts = tuple[Callable[..., str], Callable[..., str]]
Pulled = tuple[float, str, str]  # when, by which lane, what it truly served
PAIR = (("left", "W1"), ("right", "W1"))
TORQUE = {"G1": 30, "G2": 62, "H1": 44, "T1": 25}


def staged(*assemblies: str, order: str = "stage by stage") -> str:
    """The head of a sheet with these assemblies."""
    named = ", ".join(f'"{each}"' for each in assemblies)
    return f'assemblies = [{named}]\nassembly_order = "{order}"'


def two_stages(parts: Parts, positions: int = 4) -> str:
    """One group, two passes."""
    group, torque = parts
    return group("G", "W1", positions) + torque("G1", "G", "30 ft·lb") + torque("G2", "G", "62 ft·lb")


def through(lane: str, stages: Iterable[str], positions: int, walk: float, begins: float) -> list[Pulled]:
    """One person goes through stages of assemblies, `UF/G1`, with a pause four walks long before each."""
    t, made = begins, []
    for stage in stages:
        t += 3 * walk
        for n in range(1, positions + 1):
            t += walk
            made.append((t, lane, f"{stage}/{stage.split('/')[1][0]}.{n}"))
    return made


def worked(job: Any, *people: Sequence[Pulled]) -> list[tuple[Assigned, str]]:
    """The job with what these people did; each row with what it truly served."""
    done = sorted((pull for person in people for pull in person), key=lambda pull: pull[0])
    rng = Random(1)
    now = 0.0
    for t, lane, step in done:
        value = TORQUE[step.split("/")[1].split("#")[0]] * rng.uniform(0.98, 1.02)
        job.pull(f"{value:.1f}", lane=lane, gap=f"{t - now:.3f}")
        now = t
    job.end()
    return list(zip(job.rows, [step for _, _, step in done], strict=True))


def right(rows: Sequence[tuple[Assigned, str]]) -> int:
    """How many rows name what was truly served, unasked."""
    return sum(row.assignment != "asked" and row.step == step for row, step in rows)


def silent(rows: Sequence[tuple[Assigned, str]]) -> int:
    """How many rows name something else without a question."""
    return sum(row.assignment != "asked" and row.step != step for row, step in rows)


LEFT = through("left", ("UF/G1", "UF/G2"), 5, 7, 5)
RIGHT = through("right", ("UR/G1", "UR/G2"), 5, 12, 9)


@pytest.mark.parametrize("knows", [True, False])
def test_two_people_each_on_an_assembly_of_a_stage_by_stage_sheet(
    work: Start, parts: Parts, monkeypatch: pytest.MonkeyPatch, *, knows: bool
) -> None:
    if not knows:  # the control: in the sheet's order alone, what one of them serves is given to the other
        monkeypatch.setattr("bridge.core.align.routes_of", lambda plan, crew: routes_of(plan, crew)[:1])
    job = work(two_stages(parts, 5), extra=staged("UF", "UR"), lanes=PAIR)
    rows = worked(job, LEFT, RIGHT)
    assert silent(rows) == 0
    assert (right(rows) == 20) is knows
    told = [finding.args for finding in findings(job.job) if finding.code == "finding.apart-assumed"]
    assert told == ([("left", "UF"), ("right", "UR")] if knows else [])


def halves(stage: str) -> tuple[list[str], list[str]]:
    """The first three positions of a stage, and the last three."""
    places = [f"{stage}/G.{n}" for n in range(1, 7)]
    return places[:3], places[3:]


def test_two_people_who_share_every_stage_are_taken_together(work: Start, parts: Parts) -> None:
    job = work(two_stages(parts, 6), extra=staged("UF", "UR"), lanes=PAIR)
    left, right_, t = [], [], 0.0
    for stage in ("UF/G1", "UR/G1", "UF/G2", "UR/G2"):
        t += 45.0
        for n, (one, other) in enumerate(zip(*halves(stage), strict=True)):
            left.append((t + 9.0 * n, "left", one))
            right_.append((t + 4.0 + 9.0 * n, "right", other))
        t += 27.0
    rows = worked(job, left, right_)
    stages = [(row.step or "").rpartition("/")[0] == step.rpartition("/")[0] for row, step in rows]
    assert all(stages)  # which of two equal positions of one stage it was nobody can tell
    assert not [row for row, _ in rows if row.assignment == "asked"]
    codes = {finding.code for finding in findings(job.job)}
    assert "finding.order-shared" in codes
    assert "finding.apart-assumed" not in codes


def test_what_nobody_could_know_is_asked_and_one_answer_tells(work: Start, parts: Parts) -> None:
    job = work(two_stages(parts), extra=staged("UF", "UR", "DF"), lanes=PAIR)
    first = through("left", ("UF/G1", "UR/G1", "UF/G2", "UR/G2"), 4, 7, 5)
    rows = worked(job, first, through("right", ("DF/G1", "DF/G2"), 4, 12, 30))
    assert silent(rows) == 0
    asked = [row for row, _ in rows if row.assignment == "asked"]
    assert asked
    assert len({row.question for row in asked}) == 1
    job.say("step", "DF/G1/G.1", reading=next(row.n for row, step in rows if step == "DF/G1/G.1"))
    job.end()
    assert [row.step for row in job.rows] == [step for _, step in rows]
    assert not [row for row in job.rows if row.assignment == "asked"]


TOLD = (("left", "W1", "UF", "DF"), ("right", "W1", "UR", "DR"))
FOUR = ("UF", "UR", "DF", "DR")


@pytest.mark.parametrize("lanes", [TOLD, PAIR])
def test_who_was_said_to_work_where_is_not_asked_about(work: Start, parts: Parts, lanes: Any) -> None:
    job = work(two_stages(parts), extra=staged(*FOUR), lanes=lanes)
    left = through("left", ("UF/G1", "DF/G1", "UF/G2", "DF/G2"), 4, 12, 5)
    rows = worked(job, left, through("right", ("UR/G1", "DR/G1", "UR/G2", "DR/G2"), 4, 8, 40))
    assert silent(rows) == 0
    said = [finding.args for finding in findings(job.job) if finding.code == "finding.on-said"]
    if lanes is TOLD:
        assert right(rows) == 32
        begun = next(row.n for row, step in rows if step == "UR/G1/G.1")
        assert job.job.explain(begun).best.why == "as-said"
        assert said == [("left", "UF, DF"), ("right", "UR, DR")]
        assert "finding.apart-assumed" not in {finding.code for finding in findings(job.job)}
    else:  # the control: who took the third and who the fourth assembly is anybody's guess
        assert right(rows) < 24
        assert said == []


@pytest.mark.parametrize("order", ["one after another", "any"])
def test_where_assemblies_come_one_by_one_so_do_those_of_a_wrench(work: Start, parts: Parts, order: str) -> None:
    job = work(two_stages(parts), extra=staged(*FOUR, order=order), lanes=TOLD)
    left = through("left", ("UF/G1", "UF/G2", "DF/G1", "DF/G2"), 4, 12, 5)
    rows = worked(job, left, through("right", ("UR/G1", "UR/G2", "DR/G1", "DR/G2"), 4, 8, 2))
    assert right(rows) == 32


def test_rounds_of_a_loop_count_as_one_stage(work: Start, parts: Parts) -> None:
    group, torque = parts
    loop = torque("H1", "H", "44 ft·lb").rstrip() + '\nrounds = [1, 4]\nuntil = "still"\n'
    job = work(group("H", "W1", 2) + loop + group("T", "W1", 1) + torque("T1", "T", "25 ft·lb"), staged(*FOUR), TOLD)
    (routes,) = dict.fromkeys(routes_of(job.plan, job.job.crew))
    crews, spots = routes.crews, routes.spots
    assert isinstance(crews, Apart)
    spot = spots.start
    for visit in ("UF/H1#1", "UF/H1#2", "UF/H1#3", "DF/H1#1"):  # one assembly took more rounds than the other
        for place in ("H.1", "H.2"):
            step = job.plan.by_id[f"{visit}/{place}"]
            spot = spots.led(spot, [(step, 2)], ("left", step))
    chains = spots.of_role["W1"]
    shares = crews.onward(spot, chains, "left", chains[2], routes.openings)
    assert shares[chains[0]] > 0.9  # the next stage begins at the first assembly again


def due(job: Any, lane: str) -> str | None:
    """What the screen asks a lane for."""
    view = look(job.job, seq=1, head="", mode="work", registry=Registry())
    return next((each.step for each in view.due if each.lane == lane), None)


def test_the_screen_asks_each_wrench_for_its_own_assemblies_first(work: Start, parts: Parts) -> None:
    job = work(two_stages(parts, 2), extra=staged(*FOUR), lanes=TOLD)
    assert (due(job, "left"), due(job, "right")) == ("UF/G1/G.1", "UR/G1/G.1")
    for value in (30, 30.2):
        job.pull(value, lane="right")
    assert due(job, "right") == "DR/G1/G.1"
    for value in (30, 30.2, 62, 62.1, 62, 62.3):
        job.pull(value, lane="right", gap="14")
    assert due(job, "right") == "UF/G1/G.2"  # nothing is left of its own; the first is asked of the other wrench
    free = work(two_stages(parts, 2), extra=staged(*FOUR), lanes=PAIR)  # the control: nobody was told
    assert (due(free, "left"), due(free, "right")) == ("UF/G1/G.1", "UF/G1/G.2")


def test_the_screen_follows_who_is_found_to_work_apart(work: Start, parts: Parts) -> None:
    job = work(two_stages(parts, 5), extra=staged("UF", "UR"), lanes=PAIR)
    for t, lane, step in sorted([*LEFT[:2], *RIGHT]):
        job.pull(TORQUE[step.split("/")[1]], lane=lane, gap=f"{max(t - float(job.t), 0.1):.3f}")
        if step == "UR/G2/G.1":
            break
    assert due(job, "right") == "UR/G2/G.2"
    assert due(job, "left") == "UF/G1/G.3"


def test_live_and_replay_agree_on_two_ways_of_working(work: Start, parts: Parts) -> None:
    for seed in range(6):
        rng = Random(seed)
        walks = rng.uniform(5, 20), rng.uniform(5, 20)
        people = [
            through(lane, (f"{at}/G1", f"{at}/G2"), 3, walk, rng.uniform(1, 20))
            for (lane, _), at, walk in zip(PAIR, ("UF", "UR"), walks, strict=True)
        ]
        live = work(two_stages(parts, 3), extra=staged("UF", "UR"), lanes=PAIR)
        worked(live, *people)
        again = work(two_stages(parts, 3), extra=staged("UF", "UR"), lanes=PAIR)
        inputs = [event for event in live.events if not isinstance(event.body, Assigned)]
        again.events = again.job.decide(inputs, 1)
        again.end()
        assert [(row.step, row.assignment) for row in again.rows] == [(row.step, row.assignment) for row in live.rows]


def plan_of(work: Start, parts: Parts) -> Plan:
    """Four assemblies, two passes."""
    plan: Plan = work(two_stages(parts), extra=staged(*FOUR), lanes=PAIR).plan
    return plan


def test_the_ways_of_working_follow_from_sheet_and_crew(work: Start, parts: Parts) -> None:
    plan = plan_of(work, parts)
    shared = {"W1": ("left", "right")}

    def ways(crew: Crew) -> list[bool]:
        return [each.spots.apart for each in dict.fromkeys(routes_of(plan, crew))]

    assert ways(Crew({}, {})) == [False]
    assert ways(Crew(shared, {})) == [False, True]
    assert ways(Crew(shared, {("W1", "UF"): "left"})) == [True]


def test_where_a_wrench_goes_on_is_shared_out_whole(work: Start, parts: Parts) -> None:
    plan = plan_of(work, parts)
    routes: Routes = routes_of(plan, Crew({"W1": ("left", "right")}, {}))[1]
    crews, spots = routes.crews, routes.spots
    assert isinstance(crews, Apart)
    chains = spots.of_role["W1"]
    spot = spots.start
    for step in range(4):  # the first assembly's first pass
        spot = spots.led(spot, [(step, 2)], ("left", step))
    shares = crews.onward(spot, chains, "left", chains[0], routes.openings)
    assert sum(shares.values()) == pytest.approx(1)
    assert set(shares) == set(chains)
    spot = spots.led(spot, [(plan.by_id["UR/G1/G.1"], 2)], ("right", plan.by_id["UR/G1/G.1"]))
    shares = crews.onward(spot, chains, "left", chains[0], routes.openings)
    assert sum(shares.values()) == pytest.approx(1)
    assert set(shares) == set(chains) - {chains[1]}  # that one is the other's
    assert crews.theirs(spot, chains, "left", chains[1])
    assert not crews.theirs(spot, chains, "right", chains[1])
    assert crews.beginning(spot, chains, "third", chains[1]) == costs.APART_JOINS


def test_whose_an_assembly_is_tells_states_apart(work: Start, parts: Parts) -> None:
    plan = plan_of(work, parts)
    spots = routes_of(plan, Crew({"W1": ("left", "right")}, {}))[1].spots
    first, other = plan.by_id["UF/G1/G.1"], plan.by_id["UR/G1/G.1"]
    for lanes in (("left", "right"), ("right", "left")):
        spot = spots.start
        for step, lane in zip((first, other), lanes, strict=True):
            key = spots.key(spot, [(step, 2)], (lane, step))
            spot = spots.led(spot, [(step, 2)], (lane, step))
            assert spot.key == key
    one = spots.led(spots.led(spots.start, [(first, 2)], ("left", first)), [], ("right", first))
    two = spots.led(spots.led(spots.start, [(first, 2)], ("right", first)), [], ("left", first))
    assert one.hands != two.hands
    assert one.key != two.key


@pytest.mark.parametrize("knows", [True, False])
@pytest.mark.parametrize("order", ["one after another", "any", "stage by stage"])
def test_who_takes_over_what_another_was_said_to_do(
    work: Start, parts: Parts, monkeypatch: pytest.MonkeyPatch, order: str, *, knows: bool
) -> None:
    """The left one never comes; the right one does its own assembly, then the other's."""
    if not knows:  # the control: it begins at another's as easily as it begins anywhere
        monkeypatch.setattr(costs, "SWITCH", 0.5)
    job = work(
        two_stages(parts), extra=staged("UF", "UR", order=order), lanes=(("left", "W1", "UF"), ("right", "W1", "UR"))
    )
    rows = worked(job, through("right", ("UR/G1", "UR/G2", "UF/G1", "UF/G2"), 4, 9, 5))
    assert silent(rows) == 0
    assert (right(rows) == 16) is (knows or order == "stage by stage")


def test_who_works_on_in_what_was_anothers_goes_through_it_in_order(work: Start, parts: Parts) -> None:
    """The right one leaves after its first pass of one assembly."""
    job = work(two_stages(parts), extra=staged(*FOUR), lanes=TOLD)
    own = ("UF/G1", "DF/G1", "UF/G2", "DF/G2", "DR/G1", "UR/G2", "DR/G2")
    rows = worked(job, through("left", own, 4, 9, 5), through("right", ("UR/G1",), 4, 9, 20))
    assert right(rows) == 32


@pytest.mark.parametrize("order", ["one after another", "any"])
def test_an_own_assembly_comes_before_one_of_which_nothing_was_said(work: Start, parts: Parts, order: str) -> None:
    lanes = (("left", "W1", "UF", "DF"), ("right", "W1", "UR"))
    job = work(two_stages(parts), extra=staged(*FOUR, order=order), lanes=lanes)
    left = through("left", ("UF/G1", "UF/G2", "DF/G1", "DF/G2"), 4, 9, 5)
    assert right(worked(job, left, through("right", ("UR/G1", "UR/G2"), 4, 9, 20))) == 24


def test_after_a_redo_behind_a_pass_the_next_pass_begins_at_the_first_assembly(work: Start, parts: Parts) -> None:
    job = work(two_stages(parts), extra=staged(*FOUR), lanes=TOLD)
    truth = [f"{stage}/G.{n}" for stage in ("UF/G1", "DF/G1") for n in range(1, 5)]
    for n, _ in enumerate(truth):
        job.pull(30, lane="left", gap="30" if n == 4 else "9")
    job.say("loosened", "UF/G.1")
    for n in range(9):
        job.pull(30 if n == 0 else 62, lane="left", gap="30" if n in (1, 5) else "9")
    job.end()
    truth += ["UF/G1/G.1", *(f"{stage}/G.{n}" for stage in ("UF/G2", "DF/G2") for n in range(1, 5))]
    assert [row.step for row in job.rows] == truth
    assert not [row for row in job.rows if row.assignment == "asked"]


@pytest.mark.parametrize("knows", [True, False])
def test_what_was_loosened_may_be_done_again_by_any_of_several_wrenches(
    work: Start, parts: Parts, monkeypatch: pytest.MonkeyPatch, *, knows: bool
) -> None:
    if not knows:  # the control: whoever pulls first is taken for the one
        monkeypatch.setattr(costs, "REDO_WHOSE", costs.REDO_VOIDED)
    job = work(two_stages(parts), extra=staged(*FOUR, order="any"), lanes=PAIR)
    left = through("left", ("UF/G1", "UF/G2", "DF/G1"), 4, 9, 5)[:-2]
    worked(job, left, through("right", ("UR/G1", "UR/G2", "DR/G1"), 4, 9, 20)[:-2])
    job.say("loosened", "UR/G.2")
    job.pull(30, lane="left")  # goes on with its own
    row = job.rows[-1]
    assert (row.assignment == "asked" or row.step == "DF/G1/G.3") is knows
