"""What `revise` does: looks at what becomes of each step, and records the move."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from bridge.cli.recorded_job import chosen, folded
from bridge.cli.sheet_check import remarks
from bridge.cli.sheet_compare import lines
from bridge.cli.stopping import run_loop
from bridge.core.events import Assigned
from bridge.errors import BadInput
from bridge.service.bench import Bench
from bridge.service.revising import refuse, revise_job
from bridge.trail.reader import Reader
from specs.advice import NOTE
from specs.compare import compare
from specs.compare_steps import Became
from specs.compare_steps import steps as compared
from specs.expand import expand
from specs.load import find
from specs.model import Plan


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the command line asks for."""

    trail: Path
    job: str
    sheet: str
    person: str | None
    reason: str | None
    look: bool


@dataclass(frozen=True, slots=True)
class VerdictChange:
    """A reading that the revision judges otherwise."""

    n: int
    step: str | None
    was: str
    now: str


@dataclass(frozen=True, slots=True)
class Moved:
    """What became, or would become, of the job; `steps` by what becomes of them."""

    job: str
    before: str  # revision
    after: str
    looked: bool  # nothing was recorded
    steps: Mapping[Became, tuple[str, ...]]
    verdicts: tuple[VerdictChange, ...] = ()
    due: int = 0
    open: int = 0
    differs: tuple[str, ...] = ()  # all that differs between the sheets, in words
    remarks: tuple[str, ...] = ()  # what `sheet check` says of the corrected sheet beyond notes


def run(wanted: Wanted) -> Moved:
    """Look, or record. Raises `BadInput`, `SpecError`, `TrailTrouble`."""
    plan = expand(find(wanted.sheet))
    place = str(wanted.trail)
    with Reader.open(place) as reader:
        listed = chosen(reader, place, wanted.job)
        job = folded(reader, place, listed)
    if listed.origin != "live":
        raise BadInput("bench.revised-not-live", listed.id)
    refuse(job, plan)
    before = job.plan
    found = compared(before, plan)
    steps = {became: tuple(each.step for each in found if each.became is became) for became in Became}
    told = tuple(lines(compare(before.sheet, plan.sheet)))
    warned = tuple(remark.text() for remark in remarks(wanted.sheet) if remark.severity != NOTE)
    looked = Moved(listed.id, before.sheet.revision, plan.sheet.revision, True, steps, differs=told, remarks=warned)
    if wanted.look:
        return looked
    if wanted.person is None or wanted.reason is None:
        raise BadInput("revise.person-missing")
    return run_loop(_record(wanted, looked, plan, wanted.person, wanted.reason))


async def _record(wanted: Wanted, looked: Moved, plan: Plan, person: str, reason: str) -> Moved:
    from importlib.metadata import version

    bench = await Bench.open(wanted.trail, mode="work", program=version("witnessmark"))
    try:
        old = {n: row for n, (_, row) in bench.jobs()[looked.job].rows.items()}
        answer = await revise_job(bench, looked.job, plan, person, reason)
        rows = [stored.event.body for stored in answer.events if isinstance(stored.event.body, Assigned)]
        changes = tuple(
            VerdictChange(row.n, row.step or old[row.n].step, old[row.n].verdict, row.verdict)
            for row in rows
            if row.n in old and row.verdict != old[row.n].verdict
        )
        view = bench.view
        return replace(looked, looked=False, verdicts=changes, due=view.due_count, open=view.open_count)
    finally:
        await bench.close()


def plain(moved: Moved) -> dict[str, object]:
    """For another program."""
    return asdict(moved) | {"steps": {became.value: list(steps) for became, steps in moved.steps.items()}}
