"""The one thread that records: it owns the writer and the running job, decides, commits, and only then tells.

What waits when it is free goes into one commit; it never waits to fill one. When a commit fails the same events are
tried again, with growing pauses, until they are in the trail; meanwhile the bench says that it is not recording. A disk
that fails to sync is different: nobody knows what is on it, so recording ends.
"""

import queue
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from bridge.core.commands import Answer, Command
from bridge.core.events import (
    Assigned,
    Body,
    BytesRejected,
    Event,
    JobResumed,
    JobStarted,
    ReadingTaken,
    Reason,
    Said,
    SheetStored,
    StorageFaulted,
    Stored,
    WrenchChecked,
    WrenchQuarantined,
)
from bridge.core.events_sheet import SheetRevised
from bridge.core.health import OVERLOAD
from bridge.core.job import Job
from bridge.core.looking import look
from bridge.core.registry import Registry
from bridge.core.view import BenchView
from bridge.errors import TrailTrouble
from bridge.service.admit import RefusedError, refusal
from bridge.trail.errors import Failure, NotRecorded
from bridge.trail.writer import Writer
from specs.expand import expand
from specs.model import Plan
from specs.parse import parse

FIRST_PAUSE_S = 0.1
LONGEST_PAUSE_S = 2.0
MOST_IN_COMMIT = 2048  # commands; a memory download does not hold up everybody's verdict
REMEMBERED = 4096  # answers kept, so that a double submit is one


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one batch: answers by ticket, events recorded, and the bench as it now is."""

    answers: tuple[tuple[int, Answer], ...]
    stored: tuple[Stored, ...]
    view: BenchView
    trouble: TrailTrouble | None = None


Tell = Callable[[Outcome], None]


class Recorder(threading.Thread):
    """Start it with an open writer's maker; it closes the writer when it ends."""

    def __init__(
        self, open_writer: Callable[[], Writer], history: Callable[[], Sequence[Stored]], tell: Tell, mode: str
    ) -> None:
        super().__init__(name="recorder", daemon=False)
        self._open_writer = open_writer
        self._history = history
        self._tell = tell
        self._mode = mode
        self._queue: queue.SimpleQueue[tuple[int, Command] | None] = queue.SimpleQueue()
        self._closing = threading.Event()
        self._remembered: dict[str, Answer] = {}
        self._sheets: dict[str, Plan] = {}
        self._texts: dict[str, str] = {}
        self._jobs: dict[str, Job] = {}
        self.registry = Registry()
        self.job: Job | None = None
        self._shown = BenchView(0, "", mode, recording=False, trouble=None)
        self._fault: Exception | None = None  # of ours: what arrived is recorded, then it ends the recording
        self.ready = threading.Event()
        self.refused: Exception | None = None

    def submit(self, ticket: int, command: Command) -> None:
        """Queue a command; the outcome comes through `tell`."""
        self._queue.put((ticket, command))

    def close(self) -> None:
        """Record what is queued, then end."""
        self._closing.set()
        self._queue.put(None)

    # --- the thread

    def run(self) -> None:
        """Record until closed."""
        try:
            writer = self._open_writer()
        except Exception as error:  # thread's edge: handed to the opener
            self.refused = error
            self.ready.set()
            return
        try:
            self._fold_history(writer)
            self.ready.set()
            self._serve(writer)
        except Exception as error:  # thread's edge: handed to the opener or to every caller
            self.refused = error
            self._tell(self._ended(writer, error))
            self.ready.set()
        finally:
            writer.close()

    def _fold_history(self, writer: Writer) -> None:
        jobs = self._jobs
        for stored in self._history():
            event = stored.event
            self.registry = self.registry.fold(stored)
            self._keep_sheet(event)
            if isinstance(event.body, JobStarted) and event.job is not None:
                jobs[event.job] = Job(self._plan(event.body.sheet), event.job, event.body, self._plan)
            elif event.job is not None and event.job in jobs:
                jobs[event.job].fold(stored.seq, event)
        self._shown = self._view(writer)
        self._tell(Outcome((), (), self._shown))

    def _serve(self, writer: Writer) -> None:
        while True:
            batch = [self._queue.get()]
            while not self._queue.empty() and len(batch) < MOST_IN_COMMIT:
                batch.append(self._queue.get())
            taken = [item for item in batch if item is not None]
            if taken:
                self._record(writer, taken)
            if len(taken) < len(batch):
                return

    def _record(self, writer: Writer, taken: list[tuple[int, Command]]) -> None:
        made = _Made(writer.size + 1)
        jump = writer.clock_jump()
        if jump is not None:
            made.events.append(Event(jump))
        answers: list[tuple[int, Answer]] = []
        tickets: dict[str, list[int]] = {}
        run: list[Command] = []  # readings in a row are decided together: a backlog costs one alignment
        for ticket, command in taken:
            known = self._remembered.get(command.id)
            if known is not None:
                answers.append((ticket, known))
                continue
            tickets.setdefault(command.id, []).append(ticket)
            if len(tickets[command.id]) > 1:
                continue
            if run and not (isinstance(command.body, ReadingTaken) and command.job == run[0].job):
                self._take(run, made)
                run = []
            if isinstance(command.body, ReadingTaken):
                run.append(command)
            else:
                self._take([command], made)
        if run:
            self._take(run, made)
        stored = self._commit(writer, made.events, len(taken))
        for each in stored:
            self.registry = self.registry.fold(each)
        for id_, waiting in tickets.items():
            answer = Answer(id_, tuple(stored[at] for at in made.owned.get(id_, ())), made.refused.get(id_))
            if answer.refused is None:
                self._remember(answer)
            answers += [(ticket, answer) for ticket in waiting]
        self._shown = self._view(writer)
        self._tell(Outcome(tuple(answers), tuple(stored), self._shown))
        if self._fault is not None:
            raise self._fault

    def _commit(self, writer: Writer, events: list[Event], commands: int) -> list[Stored]:
        """Record the events, however long it takes; behind them, that recording had stopped."""
        stored: list[Stored] = []
        while True:
            try:
                return stored + writer.append(events)
            except NotRecorded as error:
                stored += self._insist(writer, events, error)
                events = [Event(StorageFaulted(_reason(error), commands + self._queue.qsize()))]

    def _insist(self, writer: Writer, events: list[Event], error: NotRecorded) -> list[Stored]:
        pause = FIRST_PAUSE_S
        while True:
            if error.failure is Failure.SYNC:
                raise error
            # What the job has taken meanwhile is not recorded: the last picture stands.
            self._tell(Outcome((), (), replace(self._shown, recording=False, trouble=_reason(error))))
            last_try = self._closing.wait(pause)
            pause = min(pause * 2, LONGEST_PAUSE_S)
            try:
                return writer.recover(events)
            except NotRecorded as again:
                error = again
                if last_try:
                    raise

    def _ended(self, writer: Writer, error: Exception) -> Outcome:
        trouble = error if isinstance(error, TrailTrouble) else TrailTrouble("bench.ended", type(error).__name__)
        if trouble is not error:
            trouble.__cause__ = error
        view = BenchView(writer.size, str(writer.head), self._mode, False, _reason(trouble))
        return Outcome((), (), view, trouble)

    def _remember(self, answer: Answer) -> None:
        self._remembered[answer.command] = answer
        if len(self._remembered) > REMEMBERED:
            self._remembered.pop(next(iter(self._remembered)))

    # --- what a command leads to

    def _take(self, commands: list[Command], made: "_Made") -> None:
        """Add what the commands lead to: one command, or readings of one job in a row."""
        job, events, given = None, [], []
        for command in commands:
            try:
                job, event = self._event(command)
            except RefusedError as refused:
                made.refused[command.id] = refused.reason
                continue
            events.append(event)
            given.append(command.id)
        if not events:
            return
        decided = events if job is None else self._decided(job, _numbered(events, job), made.next_seq)
        decided = [*decided, *self._in_other_jobs(decided, job, made.next_seq + len(decided))]
        of_reading = {}
        for at, event in enumerate(decided):
            body = event.body
            owner = given[at] if at < len(given) else given[-1]
            if isinstance(body, ReadingTaken):
                of_reading[body.n] = owner
            elif isinstance(body, Assigned):
                owner = of_reading.get(body.n, owner)
            made.owned.setdefault(owner, []).append(len(made.events))
            made.events.append(event)

    def _event(self, command: Command) -> tuple[Job | None, Event]:
        """The event that a command asks for, and the job that is to decide on it. Raises `RefusedError`."""
        body = command.body
        job = self.job if command.job is None or isinstance(body, JobStarted) else self._jobs.get(command.job)
        reason = refusal(command, job, self.registry)
        if reason is not None:
            raise RefusedError(reason)
        running = self.job
        begins = isinstance(body, JobStarted | JobResumed)
        if begins and running is not None and not running.signed and running.id != command.job:
            raise RefusedError(Reason("bench.job-running", (running.id, running.started.asset)))
        if isinstance(body, JobStarted) and command.job is not None:
            event = Event(body, command.person, None, command.job)
            self.job = self._jobs[command.job] = Job(self._plan(body.sheet), command.job, body, self._plan)
            return None, event
        if isinstance(body, SheetRevised):
            self._plan(body.sheet)  # refused while nothing is recorded if the trail does not hold it
        event = Event(body, command.person, command.wrench, None if job is None else job.id)
        self._keep_sheet(event)
        if job is not None:
            self.job = job
        return job, event

    def _decided(self, job: Job, events: list[Event], next_seq: int) -> list[Event]:
        """What the job makes of it. Behind a fault of ours what arrived is recorded, then that is raised."""
        if self._fault is not None:
            return events
        behind = [each for event in events for each in _of_the_wrench(event, job)]
        try:
            decided = job.decide([*events, *behind], next_seq)
            return decided + [each for event in events for each in _overloaded(event, job)]
        except Exception as fault:  # raised behind the commit
            self._fault = fault
            return events

    def _in_other_jobs(self, decided: list[Event], job: Job | None, next_seq: int) -> list[Event]:
        """What sets a wrench aside or frees it counts in every job that it has not left, whichever it came from."""
        found: list[Event] = []
        for event in decided:
            body = event.body
            if not isinstance(body, WrenchQuarantined | WrenchChecked):
                continue
            for other in self._jobs.values():
                if other is not job and _concerns(other, body):
                    told = replace(event, wrench=body.serial, job=other.id)
                    found += self._decided(other, [told], next_seq + len(found))
        return found

    def _keep_sheet(self, event: Event) -> None:
        if isinstance(event.body, SheetStored):
            self._texts[event.body.digest] = event.body.text

    def _plan(self, digest: str) -> Plan:
        if digest not in self._sheets:
            if digest not in self._texts:
                raise RefusedError(Reason("bench.sheet-not-stored", (digest[:12],)))
            self._sheets[digest] = expand(parse(self._texts[digest]))
        return self._sheets[digest]

    @property
    def jobs(self) -> dict[str, Job]:
        """Every job of the trail, folded; for the opener, before the first command."""
        return self._jobs

    def _view(self, writer: Writer) -> BenchView:
        return look(self.job, seq=writer.size, head=str(writer.head), mode=self._mode, registry=self.registry)


@dataclass(slots=True)
class _Made:
    """Events of one commit, whose answer each belongs to, and what is refused."""

    first_seq: int
    events: list[Event] = field(default_factory=list)
    owned: dict[str, list[int]] = field(default_factory=dict)
    refused: dict[str, Reason] = field(default_factory=dict)

    @property
    def next_seq(self) -> int:
        return self.first_seq + len(self.events)


def _numbered(events: list[Event], job: Job) -> list[Event]:
    n = max(next(reversed(job.intake.readings), 0), job.rejects[-1].n if job.rejects else 0)
    numbered = []
    for event in events:
        body = event.body
        if isinstance(body, ReadingTaken | BytesRejected):
            n += 1
            serial = event.wrench or job.bindings[body.lane].serial
            numbered.append(replace(event, body=replace(body, n=n), wrench=serial))
        else:
            numbered.append(event)
    return numbered


def _overloaded(event: Event, job: Job) -> list[Event]:
    """An overloaded wrench is quarantined on this bench. The job knows the flag of the reading itself."""
    body = event.body
    if not isinstance(body, ReadingTaken) or OVERLOAD not in body.flags or job.started.origin == "replay":
        return []
    if body.n in job.intake.repeats:
        return []
    serial = job.bindings[body.lane].serial
    return [Event(WrenchQuarantined(serial, Reason("bench.overloaded", (body.value,))), None, serial)]


def _concerns(job: Job, body: WrenchQuarantined | WrenchChecked) -> bool:
    """An unsigned job with that wrench; of a signed one only the check that it still waits for."""
    lanes = [lane for lane in job.health.views() if lane.serial == body.serial]
    if job.started.origin == "replay" or not lanes:
        return False
    return not job.signed or (isinstance(body, WrenchChecked) and any(lane.set_aside for lane in lanes))


def _of_the_wrench(event: Event, job: Job) -> list[Event]:
    """A wrench said to be dropped is quarantined on this bench, one said to be good is free again."""
    body = event.body
    if not isinstance(body, Said) or body.word not in ("dropped", "checked"):
        return []
    binding = job.bindings.get(body.about or "")
    if binding is None:
        return []
    told: Body = WrenchChecked(binding.serial, body.reason or "")
    if body.word == "dropped":
        told = WrenchQuarantined(binding.serial, Reason("bench.dropped"))
    return [Event(told, event.person, binding.serial, job.id)]


def _reason(error: TrailTrouble) -> Reason:
    return Reason(error.code, tuple(error.words))
