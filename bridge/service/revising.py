"""Moves an unfinished job to a corrected revision of its sheet, by a named person's decision."""

from uuid import uuid4

from bridge.core.commands import Answer, Command
from bridge.core.events import SheetStored
from bridge.core.events_sheet import SheetRevised
from bridge.core.job import Job
from bridge.errors import BadInput
from bridge.service.bench import Bench
from specs.advice import STOPS
from specs.lint import lint
from specs.model import Plan
from specs.unsaid import unsaid

DECIDES = "authority"  # role of who may move a job


def refuse(job: Job, plan: Plan) -> None:
    """Raises `BadInput` for a sheet that is no corrected revision of the job's, or that may not be released itself."""
    old, new = job.plan.sheet, plan.sheet
    if old.id != new.id:
        raise BadInput("bench.revised-other-sheet", new.id, old.id)
    if old.digest == new.digest:
        raise BadInput("bench.revised-same", job.id, old.revision)
    if old.revision == new.revision:
        raise BadInput("bench.revised-unnumbered", new.revision)
    gone = sorted({binding.role for binding in job.bindings.values()} - new.wrenches.keys())
    if gone:
        raise BadInput("bench.revised-role-gone", ", ".join(gone), new.revision)
    stops = next((advice for advice in (*lint(new, plan), *unsaid(new)) if advice.severity == STOPS), None)
    if stops is not None:
        raise BadInput(stops.code, *stops.args)


async def revise_job(bench: Bench, job_id: str, plan: Plan, person: str, reason: str) -> Answer:
    """Record the corrected sheet and the decision; the decision's answer. Raises `BadInput` for what is refused."""
    if person not in bench.registry.people:
        raise BadInput("bench.person-unknown", person)
    if not bench.registry.has_role(person, DECIDES):
        raise BadInput("bench.revised-needs-role", person, DECIDES)
    job = bench.jobs().get(job_id)
    if job is None:
        raise BadInput("bench.job-unknown", job_id)
    refuse(job, plan)
    bench.set_time(job.now)
    sheet = plan.sheet
    stored = SheetStored(sheet.digest, sheet.id, sheet.revision, sheet.text)
    revised = SheetRevised(bench.now(), sheet.digest, job.plan.sheet.digest, reason)
    answers = await bench.submit(
        Command(str(uuid4()), stored, person), Command(str(uuid4()), revised, person, job=job_id)
    )
    for answer in answers:
        if answer.refused is not None:
            raise BadInput(answer.refused.code, *answer.refused.args)
    return answers[-1]
