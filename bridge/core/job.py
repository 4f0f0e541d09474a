"""State of one job: a fold over its events, and the decision what an input means.

`fold` takes recorded events one by one: live work, restart, replay and audit all build the state so. `decide` takes
new inputs, aligns the whole job so far and answers with the events to record: the inputs and, for every reading whose
assignment is new or changed, an `Assigned` that points back at the one it supersedes.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from decimal import Decimal
from itertools import islice

from bridge.core import costs
from bridge.core.align import Alignment, Choice, likelier
from bridge.core.chapter import Chapter
from bridge.core.crews import crew_of
from bridge.core.events import (
    Assigned,
    Body,
    BytesRejected,
    Disposed,
    Event,
    JobResumed,
    JobSigned,
    JobStarted,
    LinkSeen,
    MemoryMarked,
    Overridden,
    ReadingTaken,
    Reason,
    Said,
    Tick,
    WrenchChecked,
    WrenchQuarantined,
)
from bridge.core.events_sheet import SheetRevised
from bridge.core.explaining import Explanation
from bridge.core.health import Health, losses_of
from bridge.core.intake import Intake
from bridge.core.ledger import Ledger
from bridge.core.pulls import Input, Pull
from bridge.core.questions import Questions
from bridge.core.recorded import alike, body_of, differs
from bridge.core.telling import Telling
from specs import units
from specs.model import Plan

INPUTS = (ReadingTaken, Said, MemoryMarked, LinkSeen, Tick, Disposed, Overridden, WrenchQuarantined, WrenchChecked)


class Job:
    """One job. `rows` are the assignments as recorded, by reading; `ledger` is what they amount to.

    `plans` finds the plan of a sheet by its digest, for a job that is moved to a corrected revision.
    """

    def __init__(
        self, plan: Plan, job_id: str, started: JobStarted, plans: Callable[[str], Plan] | None = None
    ) -> None:
        self._plans = plans
        self.id = job_id
        self.started = started
        self.bindings = {binding.lane: binding for binding in started.bindings}
        self.intake = Intake()
        self.intake.bind(started.bindings)
        self.health = Health(started.bindings, self.intake.missing)
        self.rows: dict[int, tuple[int, Assigned]] = {}  # reading -> seq and body of the event in force
        self.last = 0  # the last reading that has one
        self.asked: dict[int, dict[int, Assigned]] = {}  # those that are asked, by question and reading
        self.superseded: list[tuple[int, Assigned]] = []
        self.rejects: list[BytesRejected] = []
        self.overrides: list[tuple[str | None, Overridden]] = []
        self.decisions: list[tuple[str | None, Disposed]] = []
        self.signed: list[tuple[str | None, JobSigned]] = []
        self.said: list[tuple[str | None, Said]] = []
        self.people: set[str] = set(started.people)
        self.links: dict[str, LinkSeen] = {}
        self.lost: list[LinkSeen] = []
        self.resumed: list[JobResumed] = []
        self.memory: list[MemoryMarked] = []
        self.now = started.t
        self.crew = crew_of(started.bindings)
        self.revised: list[tuple[str | None, SheetRevised]] = []
        self.chapters = [Chapter(plan, 0, self.crew)]  # one for each revision of the sheet
        self._alignment = self.chapter.alignment()
        self._changed_from = 0
        self._ledger: Ledger | None = None
        self._booked: list[Choice | None] = []
        self._questions = Questions()
        self._telling = Telling()
        self._copies: dict[int, list[int]] = {}  # reading -> those known to repeat it
        self._repeats = 0  # … all of them together
        self._last_n = 0

    @property
    def chapter(self) -> Chapter:
        """The stretch of the job that goes on now."""
        return self.chapters[-1]

    @property
    def plan(self) -> Plan:
        """The plan in force."""
        return self.chapter.plan

    # --- the fold

    def fold(self, seq: int, event: Event) -> None:
        """Take one recorded event of this job."""
        body = event.body
        if event.person:
            self.people.add(event.person)
        match body:
            case Assigned():
                self._fold_row(seq, body)
                self._telling.forget(body.pull)
            case BytesRejected():
                self.rejects.append(body)
                self.intake.missing.unread(body)
                self._last_n = max(self._last_n, body.n)
            case JobSigned():
                self.signed.append((event.person, body))
            case JobResumed():
                self.resumed.append(body)
                # A download that was going on when the program ended takes no later reading in.
                self._touch(self.intake.close_blocks())
                self.intake.bind(body.bindings)
                self.bindings |= {binding.lane: binding for binding in body.bindings}
            case SheetRevised():
                self._revise(event.person, body)
            case _ if isinstance(body, INPUTS):
                self._fold_input(body, event.person)
        self.health.take(body, self.intake.repeats)
        self.now = max(self.now, getattr(body, "t", self.now))

    def _fold_row(self, seq: int, body: Assigned) -> None:
        if body.n in self.rows:
            old = self.rows[body.n][1]
            self.superseded.append(self.rows[body.n])
            if old.question is not None:
                self.asked[old.question].pop(body.n)
                if not self.asked[old.question]:
                    del self.asked[old.question]
        self.rows[body.n] = (seq, body)
        self.last = max(self.last, body.n)
        if body.question is not None:
            self._questions.numbers[body.pull] = body.question
            self.asked.setdefault(body.question, {})[body.n] = body

    def _fold_input(self, body: Body, person: str | None) -> None:
        match body:
            case ReadingTaken():
                self._last_n = max(self._last_n, body.n)
            case Overridden():
                self.overrides.append((person, body))
            case Disposed():
                self.decisions.append((person, body))
            case Said():
                self.said.append((person, body))
            case LinkSeen():
                self.lost += [body] * losses_of(self.links.get(body.lane), body)
                self.links[body.lane] = body
            case MemoryMarked():
                self.memory.append(body)
        assert isinstance(body, INPUTS)
        self._touch(self.intake.take(body, person))

    def _touch(self, first: int) -> None:
        """Inputs from `first` on are new or changed."""
        self._changed_from = min(self._changed_from, first, self.chapter.put_in_order(self.intake, first))

    def _revise(self, person: str | None, body: SheetRevised) -> None:
        """Go on with the corrected revision; what was done so far stands as it is."""
        if self._plans is None:
            raise LookupError(body.sheet)
        rows = {n: row for n, (_, row) in self.rows.items()}
        known = self._alignment_in_force().known
        bindings = tuple(self.bindings.values())
        plan = self._plans(body.sheet)
        self.chapters.append(self.chapter.next(plan, self.intake, rows, bindings, self.ledger, known))
        self.revised.append((person, body))
        self._alignment = self.chapter.alignment()
        self._ledger, self._booked, self._changed_from = None, [], self.chapter.since

    def _alignment_in_force(self) -> Alignment:
        """Brought up to the inputs: of a job that was only folded nothing was aligned yet."""
        self._alignment.sync(self._inputs(), max(self._changed_from - self.chapter.since, 0))
        return self._alignment

    # --- deciding

    def decide(self, events: Sequence[Event], next_seq: int) -> list[Event]:
        """The events to record for these inputs, numbered from `next_seq`: themselves, then new assignments."""
        out: list[Event] = []
        for event in events:
            if isinstance(event.body, SheetRevised):  # what was done stands before it is judged anew
                out += self.settle(next_seq + len(out))
            numbered = self._numbered(event)
            self.fold(next_seq + len(out), numbered)
            out.append(numbered)
        return out + self._assign(next_seq + len(out))

    def settle(self, next_seq: int) -> list[Event]:
        """Assignments that change when nothing more comes: open memory blocks end here."""
        self._touch(self.intake.close_blocks())
        return self._assign(next_seq, whole=True)

    def _numbered(self, event: Event) -> Event:
        body = event.body
        if isinstance(body, ReadingTaken | BytesRejected) and body.n == 0:
            return replace(event, body=replace(body, n=self._last_n + 1))
        return event

    def _assign(self, next_seq: int, *, whole: bool = False) -> list[Event]:
        inputs, since = self._inputs(), self.chapter.since
        touched = max(self._changed_from - since, 0)
        first = self._alignment.sync(inputs, touched, whole=whole)
        self._changed_from = since + len(inputs)
        anew = whole or self._turned_over()
        ledger = self._book(first, touched)
        out: list[Event] = []
        for body in self._changed(ledger, 0 if anew else since + first, whole=whole):
            serial = self.bindings[self.intake.readings[body.n].lane].serial
            event = Event(body, None, serial, self.id)
            self._fold_row(next_seq + len(out), body)
            out.append(event)
        return out

    def _inputs(self) -> Sequence[Input]:
        """Inputs of the chapter."""
        inputs, since = self.intake.inputs, self.chapter.since
        return inputs[since:] if since else inputs

    def _turned_over(self) -> bool:
        """Whether rows of before the chapter may not be recorded yet as it judges them."""
        return self._ledger is None and self.chapter.since > 0

    def _book(self, first: int, touched: int) -> Ledger:
        """Bring the books up to the alignment, from where an input or what a choice comes to changed behind them.

        Choices from `first` on are new or changed, inputs from `touched` on.
        """
        inputs, choices, booked = self._inputs(), self._alignment.choices, self._booked
        if self._ledger is None:
            self._ledger, booked = self.chapter.ledger(self.started.bindings), []
        end = min(touched, len(booked))
        same = next((at for at in range(first, end) if not alike(booked[at], choices[at])), end)
        self._ledger.back(same)
        for at in range(same, len(choices)):
            self._ledger.take(inputs[at], choices[at], at + self.chapter.since)
        self._booked = choices
        return self._ledger

    def _changed(self, ledger: Ledger, first: int, *, whole: bool) -> Iterable[Assigned]:
        """Rows to record, of those that the inputs from `first` on come to and of repeats."""
        for body in self._wanted(ledger, first, whole=whole):
            seq, recorded = self.rows.get(body.n, (0, None))
            if recorded is None or differs(recorded, body, whole=whole):
                recorded = replace(body, replaces=seq or None)
                yield recorded
            self._telling.stands(recorded)

    def _wanted(self, ledger: Ledger, first: int, *, whole: bool) -> Iterable[Assigned]:
        inputs, repeats, bodies = self.intake.inputs, self._new_repeats(), []
        self._questions.number(inputs, first, ledger, self._one_doubt)
        for place in range(first, len(inputs)):
            pull = inputs[place]
            if not isinstance(pull, Pull):
                continue
            choice = likelier(self._choice_at(place))
            question = self._questions.numbers.get(pull.n) if ledger.asks(pull) else None
            for n in self._telling.due(pull, ledger.booked.get(pull.n), choice, question, whole=whole):
                row = ledger.rows[n]
                bodies.append(body_of(row, choice, question if row.assignment == "asked" else None))
                repeats.update(self._copies.get(n, ()))
        yield from sorted(bodies, key=lambda body: body.n)
        for n in sorted(repeats):
            yield self._repeat(n, self.intake.repeats[n], ledger)

    def _new_repeats(self) -> set[int]:
        """Repeats that became known since they were looked at last."""
        repeats = self.intake.repeats
        new = set(islice(reversed(repeats), len(repeats) - self._repeats))
        for n in new:
            self._copies.setdefault(repeats[n], []).append(n)
        self._repeats = len(repeats)
        return new

    def _repeat(self, n: int, original: int, ledger: Ledger) -> Assigned:
        first = ledger.rows.get(original)
        step = first.step if first is not None and first.assignment != "asked" else None
        because = (Reason("match.repeat-of", (str(original),)),)
        unit = None if first is None else first.unit
        nm = None if first is None or first.nm is None else units.exact_text(first.nm)
        position_by = None if first is None or step is None else first.position_by
        word = "repeat of a transmission"
        return Assigned(n, n, word, step, position_by, "not judged", "1.000", None, because, unit, nm)

    def _one_doubt(self, before: int, after: int) -> bool:
        """Whether two pulls are both asked because their step is not sure enough, and hang on one open question."""
        choices = [self._choice_at(place) for place in (before, after)]
        unsure = all(choice is not None and choice.confidence < costs.ASK_BELOW for choice in choices)
        since = self.chapter.since
        return unsure and self._alignment.same_question(before - since, after - since)

    # --- what it amounts to

    def choice_of(self, n: int) -> Choice | None:
        """The choice that a reading's pull rests on, by all that is known now; None for a repeat or a reject."""
        place = None if n in self.intake.repeats else self.intake.place_of(n)
        return None if place is None else self._choice_at(place)

    def stands(self, n: int | None) -> bool:
        """Whether reading `n`, by default the last, stands as it was found before a revision."""
        place = self.intake.place_of(n if n is not None else self._last_n)
        return place is not None and place < self.chapter.since

    def _choice_at(self, place: int) -> Choice | None:
        """The choice of an input of the chapter that goes on; None for those before it."""
        at, choices = place - self.chapter.since, self._alignment.choices
        return choices[at] if 0 <= at < len(choices) else None

    def hands(self) -> dict[int, str]:
        """By visit the lane that has its assembly as its own, as of what was decided last."""
        return self._alignment.hands()

    def explain(self, n: int) -> Explanation | None:
        """Why reading `n` is where it is, by all that is known now; None for a repeat, a reject or no reading."""
        place = None if n in self.intake.repeats else self.intake.place_of(n)
        if place is None:
            return None
        at = self._chapter_at(place)
        end = self.chapters[at + 1].since if at + 1 < len(self.chapters) else len(self.intake.inputs)
        chapter = self.chapters[at]
        return chapter.explain(self.intake.inputs[chapter.since : end], place - chapter.since)

    @property
    def due_by_revision(self) -> frozenset[str]:
        """Steps that the revision in force let be due again."""
        return frozenset(self.chapter.boundaries[-1].voided) if self.chapter.boundaries else frozenset()

    def plan_of(self, n: int) -> Plan:
        """The plan that was in force when reading `n` was pulled."""
        place = self.intake.place_of(n)
        return self.plan if place is None else self.chapters[self._chapter_at(place)].plan

    def _chapter_at(self, place: int) -> int:
        """Which chapter an input belongs to."""
        return max(at for at, chapter in enumerate(self.chapters) if chapter.since <= place)

    @property
    def ledger(self) -> Ledger:
        """The books by the recorded assignments."""
        if self._ledger is None or self._changed_from < len(self.intake.inputs):
            return self._book_recorded()
        return self._ledger

    def _book_recorded(self) -> Ledger:
        since = self.chapter.since
        ledger = self.chapter.ledger(self.started.bindings)
        for at, item in enumerate(self._inputs(), since):
            recorded = self.rows.get(item.n) if isinstance(item, Pull) else None
            ledger.take(item, None if recorded is None else self._recorded_choice(recorded[1]), at)
        return ledger

    def _recorded_choice(self, body: Assigned) -> Choice:
        by_id = self.plan.by_id
        step = None if body.step is None else by_id[body.step]
        runner_up = None if body.runner_up is None else by_id[body.runner_up]
        asked = body.assignment == "asked"
        return Choice(step, float(Decimal(body.confidence)), runner_up, not body.provisional, asked)
