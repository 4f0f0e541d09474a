"""From the fold, the audit and the events of a job to what its paper shows."""

from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from fractions import Fraction

from bridge.audit.summary import Audit
from bridge.core import judge
from bridge.core.events import Assigned, BytesRejected, Disposed, JobSigned, Overridden, ReadingTaken, Said, Stored
from bridge.core.job import Job
from bridge.core.ledger import Ledger
from bridge.core.looking import MARK_OF
from bridge.core.pulls import Pull
from bridge.core.states import State
from bridge.pictures.of_sheet import field_of
from bridge.pictures.positions import Field
from bridge.reports.filled import FilledJob, FilledRow, FilledStage, FilledStep
from bridge.reports.wording import finding_text, sentence
from bridge.words import say
from specs import asked, bands, units
from specs.bands import Band
from specs.model import Do, Step, Visit

_WORST_FIRST = ("over", "unproven", "void", "under", "ahead", "due", "within", "not judged")
_SERVES = frozenset({"due", "ahead", "re-hit", "redo"})


def filled_job(job: Job, found: Audit, events: Iterable[Stored]) -> FilledJob:
    """The record of a job from its fold, its audit, and its events as the trail holds them."""
    return _Filled(job, found, events).whole()


class _Filled:
    def __init__(self, job: Job, found: Audit, events: Iterable[Stored]) -> None:
        self._job, self._found = job, found
        self._ledger: Ledger = job.ledger
        self._utc = job.started.origin == "live"  # else the trail's clock is not that of the work
        self._stored = list(events)
        self._when: dict[int, str] = {}
        self._acts: dict[str, list[tuple[Stored, Said]]] = {}
        for stored in self._stored:
            body = stored.event.body
            if isinstance(body, ReadingTaken | BytesRejected):
                self._when[body.n] = self._time(stored, body.t)
            elif isinstance(body, Said) and body.word in ("done", "value") and body.about is not None:
                self._acts.setdefault(body.about, []).append((stored, body))
        self._rows: dict[str, list[Assigned]] = {}
        for _, (_, row) in sorted(job.rows.items()):
            if row.step is not None and row.assignment in _SERVES:
                self._rows.setdefault(row.step, []).append(row)

    def whole(self) -> FilledJob:
        job, found, sheet = self._job, self._found, self._job.plan.sheet
        ledger = self._ledger
        standing = [ledger.standing(step.index) for step in ledger.steps()]
        counts = (len(standing), *(standing.count(word) for word in ("done", "due", "open")))
        return FilledJob(
            job=job.id,
            sheet=sheet.id,
            revision=sheet.revision,
            title=sheet.title,
            digest=sheet.digest,
            asset=found.asset or say("record.nobody-named"),
            origin=found.origin,
            closing=found.closing,
            head=found.head,
            counts=(str(counts[0]), str(counts[1]), str(counts[2]), str(counts[3])),
            people=found.people,
            cautions=sheet.cautions,
            wrenches=tuple(self._wrenches()),
            findings=tuple(self._findings()),
            fields=tuple(self._fields()),
            stages=tuple(self._stage(visit) for visit in job.plan.visits if ledger.active(visit)),
            others=tuple(self._others()),
            changed=tuple(self._changed()),
            said=tuple(self._said()),
            signed=tuple(self._signed()),
            timed_utc=self._utc,
        )

    def _time(self, stored: Stored, t: Decimal) -> str:
        return stored.utc[:19].replace("T", " ") if self._utc else f"{t:.1f}"

    # --- what stands on the first pages

    def _wrenches(self) -> Iterator[tuple[str, ...]]:
        nobody = say("record.nobody-named")
        for line in self._found.certificates:
            binding = self._job.bindings[line.lane]
            unit = binding.unit or self._job.plan.sheet.wrenches[binding.role].unit
            name = line.lane if line.lane == line.role else f"{line.lane} ({line.role})"
            yield name, line.serial, unit, line.certificate or nobody, line.due_on or nobody

    def _findings(self) -> Iterator[tuple[str, str, str]]:
        alike: dict[tuple[str, str], list[str]] = {}
        for finding in self._found.findings:
            alike.setdefault((finding.severity, finding_text(finding)), []).append(finding.step or "")
        for (severity, text), steps in alike.items():
            yield severity, ", ".join(step for step in steps if step), text

    def _fields(self) -> Iterator[Field]:
        sheet = self._job.plan.sheet
        worst: dict[tuple[str | None, str], dict[str, str]] = {}
        for step in self._ledger.steps():
            if step.group is None or step.position is None:
                continue
            marks = worst.setdefault((step.assembly, step.group.id), {})
            mark = self._mark(step)
            before = marks.get(step.position, mark)
            marks[step.position] = min(before, mark, key=_WORST_FIRST.index)
        for (assembly, group), marks in worst.items():
            yield field_of(sheet.groups[group], assembly, marks)

    def _mark(self, step: Step) -> str:
        if step.index in self._ledger.ahead:
            return "ahead"
        return MARK_OF[self._ledger.states[step.index]]

    # --- stages

    def _stage(self, visit: Visit) -> FilledStage:
        stage, sheet = visit.stage, self._job.plan.sheet
        group = None if stage.group is None else sheet.groups[stage.group]
        unit = None if group is None else units.canonical(sheet.wrenches[group.wrench].unit)
        band = asked.as_written(stage, unit)
        final = asked.final_written(stage, unit)
        parts = [str(stage.target or stage.snug or ""), band.span() if band else "", final.span() if final else ""]
        steps = self._job.plan.steps[visit.first : visit.end]
        cautions = (*(() if group is None else group.cautions), *stage.cautions) if visit.round == 1 else ()
        title = stage.text or ("" if group is None else group.title)
        return FilledStage(
            visit.id,
            title,
            "; ".join(part for part in parts if part),
            cautions,
            tuple(self._step(step, turn) for turn, step in enumerate(steps, start=1)),
        )

    def _step(self, step: Step, turn: int) -> FilledStep:
        assigned = self._rows.get(step.id, [])
        unit = next((row.unit for row in reversed(assigned) if row.unit is not None), None)
        if unit is None and step.group is not None:
            unit = units.canonical(self._job.plan.sheet.wrenches[step.group.wrench].unit)
        rows = [*(self._row(step, row, assigned, unit) for row in assigned), *self._written_down(step)]
        place = step.place or step.id
        return FilledStep(
            turn,
            place,
            tuple(self._asked(step, unit)),
            self._ledger.standing(step.index),
            self._mark(step),
            tuple(rows),
        )

    def _asked(self, step: Step, unit: str | None) -> Iterator[str]:
        stage = step.stage
        if stage.do is Do.ANGLE or unit is None or stage.do is not Do.TORQUE:
            written = asked.as_written(stage, unit)
            if written is not None:
                yield from _lines(written)
            if stage.do is Do.ANGLE and step.group is not None and unit is not None:
                final = asked.final_on_wrench(stage, step.group, unit)
                if final is not None:
                    yield final.span()
            return
        drag = self._ledger.drag(step)
        if stage.add is not None and drag is None:
            yield say("paper.drag-missing", stage.add)
            return
        yield from _lines(bands.torque_band(judge.torque_limits(step, drag), judge.aim(step, drag), unit))

    def _row(self, step: Step, row: Assigned, of_step: Sequence[Assigned], unit: str | None) -> FilledRow:
        reading = self._job.intake.readings[row.n]
        serial = self._job.bindings[reading.lane].serial
        return FilledRow(
            str(row.n),
            self._value(step, row, unit),
            row.verdict,
            row.assignment,
            self._when[row.n],
            self._person(row),
            serial if serial == reading.lane else f"{reading.lane} {serial}",
            self._evidence(row),
            self._became(step, row, of_step),
        )

    def _value(self, step: Step, row: Assigned, unit: str | None) -> str:
        reading = self._job.intake.readings[row.n]
        text = f"{reading.value} {row.unit or reading.unit or say('paper.no-unit')}"
        if unit is not None and row.unit is not None and row.unit != unit and row.newton_metres is not None:
            limits = judge.torque_limits(step, self._ledger.drag(step))
            here = None if limits is None else limits.times(1 / units.factor(unit))
            text += f" = {bands.reading(units.in_unit(Fraction(row.newton_metres), unit), here)} {unit}"
        if step.stage.do is Do.ANGLE and reading.angle is not None:
            text += f", {reading.angle} deg"
        return text

    def _person(self, row: Assigned) -> str:
        """Who is known to have pulled: the person who settled it, or the only one at the bench."""
        for reason in row.because:
            if reason.code == "match.person-said" and any(reason.args):
                return reason.args[0]
        people = self._job.started.people
        return people[0] if len(people) == 1 else ""

    def _evidence(self, row: Assigned) -> str:
        place = self._job.intake.place_of(row.n)
        pull = None if place is None else self._job.intake.inputs[place]
        return "late" if isinstance(pull, Pull) and pull.late else "live"

    def _became(self, step: Step, row: Assigned, of_step: Sequence[Assigned]) -> str:
        if self._ledger.states[step.index] is State.VOIDED:
            return say("paper.voided")
        redone = [other.n for other in of_step if other.assignment == "redo" and other.pull != row.pull]
        return say("paper.superseded") if redone and row.n < max(redone) else ""

    def _written_down(self, step: Step) -> Iterator[FilledRow]:
        for stored, said in self._acts.get(step.id, ()):
            value = said.value or say("paper.seen")
            person = stored.event.person or ""
            evidence = "typed" if said.word == "value" else "witnessed"
            mark = MARK_OF[self._ledger.states[step.index]]
            yield FilledRow("", value, mark, "", self._time(stored, said.t), person, "", evidence, "")

    # --- what is left

    def _others(self) -> Iterator[tuple[str, ...]]:
        """What a wrench sent that serves no step, and what could not be read."""
        lines: list[tuple[int, tuple[str, ...]]] = []
        for n, (_, row) in self._job.rows.items():
            if row.step is not None and row.assignment in _SERVES:
                continue
            reading = self._job.intake.readings[n]
            value = f"{reading.value} {row.unit or reading.unit or say('paper.no-unit')}"
            belongs = row.assignment if row.step is None else say("paper.belongs-to", row.assignment, row.step)
            why = " ".join(sentence(reason) for reason in row.because)
            lines.append((n, (str(n), self._when[n], reading.lane, value, belongs, row.verdict, why)))
        for reject in self._job.rejects:
            why = say("record.rejected", sentence(reject.reason))
            lines.append((reject.n, (str(reject.n), self._when[reject.n], reject.lane, reject.raw[:24], "", "", why)))
        return (line for _, line in sorted(lines))

    def _changed(self) -> Iterator[tuple[str, ...]]:
        """Assignments that a later one superseded: the first verdict stays to be seen."""
        now = {n: row for n, (_, row) in self._job.rows.items()}
        for _, old in sorted(self._job.superseded):
            new = now[old.n]
            was, is_ = ((row.assignment, row.step or "", row.verdict) for row in (old, new))
            if was != is_:
                yield str(old.n), ", ".join(filter(None, was)), ", ".join(filter(None, is_))

    def _said(self) -> Iterator[tuple[str, ...]]:
        for stored in self._stored:
            person = stored.event.person or say("record.nobody-named")
            match stored.event.body:
                case Said() as said:
                    told = " ".join(filter(None, (said.word, said.about, said.value, said.reason)))
                    about = "" if said.reading is None else say("paper.about-reading", str(said.reading))
                    yield self._time(stored, said.t), person, told, about
                case Overridden() as set_aside:
                    told = say("paper.set-aside", set_aside.what, set_aside.about)
                    yield self._time(stored, set_aside.t), person, told, set_aside.reason
                case Disposed() as disposed:
                    told = say("paper.decided", disposed.step, disposed.choice, disposed.authority)
                    yield self._time(stored, disposed.t), person, told, disposed.reason

    def _signed(self) -> Iterator[tuple[str, ...]]:
        for stored in self._stored:
            if isinstance(stored.event.body, JobSigned):
                body = stored.event.body
                person = stored.event.person or say("record.nobody-named")
                yield body.role, person, body.meaning, self._time(stored, body.t)


def _lines(band: Band) -> Iterator[str]:
    if band.target is not None:
        yield f"{band.target} {band.unit}"
    yield Band(band.low, band.high, band.unit).span()
