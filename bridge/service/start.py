"""Start of a job: the wrenches are looked at before the first pull, and so is every target they are to reach."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from uuid import uuid4

from bridge.core import judge
from bridge.core.commands import Command
from bridge.core.crews import unfit
from bridge.core.events import Binding, JobResumed, JobStarted, Overridden, Reason, SheetStored, WrenchAdded
from bridge.core.registry import Registry
from bridge.errors import BadInput
from bridge.service.bench import Bench
from specs import units
from specs.conformance import usable
from specs.model import Plan


async def start_job(
    bench: Bench,
    plan: Plan,
    asset: str,
    people: Sequence[str],
    bindings: Sequence[Binding],
    trial: str | None = None,
    overrides: Sequence[Overridden] = (),
) -> str:
    """Record sheet and start; the job's id. Raises `BadInput` for what refuses a first pull, unless set aside.

    An override names what it sets aside (`what` is the refusal's code without its room, `about` the wrench's serial
    no.) and is recorded with its person, the first of `people`, and its reason; without a person it sets nothing aside.
    """
    sheet = plan.sheet
    for name in people:
        if name not in bench.registry.people:
            raise BadInput("bench.person-unknown", name)
    set_aside = _set_aside(overrides if people else ())
    for serial, reason in refusals(plan, bindings, bench.registry, _today(bench)):
        if (reason.code.partition(".")[2], serial) not in set_aside:
            raise BadInput(reason.code, *reason.args)
    job = uuid4().hex[:12]
    origin = "practice" if bench.view.mode == "practice" else "live"
    started = JobStarted(sheet.digest, asset, tuple(people), tuple(bindings), origin, bench.now(), trial)
    person = people[0] if people else None
    commands = [
        Command(str(uuid4()), SheetStored(sheet.digest, sheet.id, sheet.revision, sheet.text), person),
        Command(str(uuid4()), started, person, job=job),
        *_recorded(bench, overrides, person, job),
    ]
    for answer in await bench.submit(*commands):
        if answer.refused is not None:
            raise BadInput(answer.refused.code, *answer.refused.args)
    return job


async def resume_job(
    bench: Bench, job_id: str, bindings: Sequence[Binding], person: str, overrides: Sequence[Overridden] = ()
) -> None:
    """Go on with an unfinished job; job time goes on from its last event. Raises `BadInput`.

    What was set aside when the job was started stays set aside; `overrides` are as for `start_job`. Where each wrench
    works stays as it was said then.
    """
    if person not in bench.registry.people:
        raise BadInput("bench.person-unknown", person)
    job = bench.jobs().get(job_id)
    if job is None:
        raise BadInput("bench.job-unknown", job_id)
    bindings = [_where_it_was(each, job.bindings.get(each.lane)) for each in bindings]
    set_aside = _set_aside((*(override for _, override in job.overrides), *overrides))
    for serial, reason in refusals(job.plan, bindings, bench.registry, _today(bench)):
        if (reason.code.partition(".")[2], serial) not in set_aside:
            raise BadInput(reason.code, *reason.args)
    last = next((each.last_utc for each in bench.unfinished if each.job == job_id), "")
    gap_s = 0
    if last:
        gap_s = max(int((datetime.fromisoformat(bench.clock.utc()) - datetime.fromisoformat(last)).total_seconds()), 0)
    bench.set_time(job.now + gap_s)
    body = JobResumed(bench.now(), tuple(bindings), gap_s)
    commands = [
        Command(str(uuid4()), body, person, job=job_id),
        *_recorded(bench, overrides, person, job_id),
    ]
    for answer in await bench.submit(*commands):
        if answer.refused is not None:
            raise BadInput(answer.refused.code, *answer.refused.args)


def _where_it_was(binding: Binding, before: Binding | None) -> Binding:
    was = () if before is None else before.on
    if binding.on not in ((), was):
        raise BadInput("bench.on-changed", binding.lane, ", ".join(was) or "—")
    return replace(binding, on=was)


def _set_aside(overrides: Sequence[Overridden]) -> set[tuple[str, str]]:
    return {(override.what, override.about) for override in overrides if override.reason.strip()}


def _recorded(bench: Bench, overrides: Sequence[Overridden], person: str | None, job: str) -> Iterator[Command]:
    """Commands that stand behind the start of the job in job time, whenever the overrides were made."""
    for override in overrides:
        yield Command(str(uuid4()), replace(override, t=bench.now()), person, override.about, job)


def refusals(plan: Plan, bindings: Sequence[Binding], registry: Registry, today: date) -> Iterator[tuple[str, Reason]]:
    """What speaks against the first pull, each with the serial no. it is about."""
    bound = {binding.role for binding in bindings}
    for role in plan.sheet.wrenches:
        if role not in bound:
            yield "", Reason("bench.role-unbound", (role,))
    yield from unfit(plan, bindings)
    for binding in bindings:
        serial = binding.serial
        wrench = registry.wrenches.get(serial)
        if binding.role not in plan.sheet.wrenches:
            yield serial, Reason("bench.role-unknown", (binding.role, ", ".join(plan.sheet.wrenches)))
        elif wrench is None:
            yield serial, Reason("bench.wrench-unknown", (serial,))
        else:
            if serial in registry.quarantined:
                yield serial, Reason("bench.wrench-quarantined", (serial,))
            if wrench.due_on is None:
                yield serial, Reason("bench.wrench-without-certificate", (serial,))
            elif date.fromisoformat(wrench.due_on) < today:
                yield serial, Reason("bench.wrench-out-of-date", (serial, wrench.due_on))
            yield from _out_of_range(plan, binding, wrench)


def _out_of_range(plan: Plan, binding: Binding, wrench: WrenchAdded) -> Iterator[tuple[str, Reason]]:
    low, high = verified_range(wrench)
    for visit in plan.visits:
        step = plan.steps[visit.first]
        read = judge.aim(step, None)
        if read is None or step.group is None or step.group.wrench != binding.role:
            continue
        if usable(read, low, high) in ("under", "over"):
            told = (wrench.serial, step.stage.id, str(step.stage.target))
            yield wrench.serial, Reason("bench.wrench-out-of-range", told)
            return


def verified_range(wrench: WrenchAdded) -> tuple[Fraction | None, Fraction | None]:
    """Range that the certificate verifies, else the stated one, in N·m."""
    points = sorted(_torque(point.at) for point in wrench.points)
    if len(points) > 1:
        return points[0], points[-1]
    return (
        None if wrench.low is None else _torque(wrench.low),
        None if wrench.high is None else _torque(wrench.high),
    )


def _torque(text: str) -> Fraction:
    number, _, unit = text.partition(" ")
    return units.newton_metres(Decimal(number), units.canonical(unit))


def _today(bench: Bench) -> date:
    return date.fromisoformat(bench.clock.utc()[:10])
