"""Runs a made-up job through the real one, and answers its questions truthfully."""

from decimal import Decimal

from bridge.core.events import Assigned, Event, JobStarted, ReadingTaken, Said
from bridge.core.job import Job
from bridge.figures.truth import Story, Truth

BATCH = 64  # happenings decided together
ONE_BY_ONE = 40  # rounds of one answer a question; after that every asked pull is answered at once
MOST_ROUNDS = 60
PERSON = "Orla Venn"


class Working:
    """One job at work; `truths` by the number of the reading."""

    def __init__(self, story: Story) -> None:
        self.story = story
        self.truths: dict[int, Truth] = {}
        self.answers = 0
        people = tuple(sorted({each.person for each in story.happened if each.person is not None} | {PERSON}))
        started = JobStarted(story.plan.sheet.digest, "figures", people, story.bindings, "replay", Decimal(0))
        self.job = Job(story.plan, "figures", started)
        self._seq = 1
        serials = {binding.lane: binding.serial for binding in story.bindings}
        events: list[Event] = []
        for each in story.happened:
            body = each.body
            if isinstance(body, ReadingTaken) and each.truth is not None:
                self.truths[body.n] = each.truth
            lane = getattr(body, "lane", None)
            events.append(Event(body, each.person, serials.get(lane) if isinstance(lane, str) else None, self.job.id))
        for at in range(0, len(events), BATCH):
            self._count(self.job.decide(events[at : at + BATCH], self._seq))
        self._count(self.job.settle(self._seq))

    def rows(self) -> dict[int, Assigned]:
        """The assignments in force by reading."""
        return {n: body for n, (_, body) in self.job.rows.items()}

    def answer(self) -> bool:
        """Answer truthfully until nothing is asked; False where that does not end."""
        for round_ in range(MOST_ROUNDS):
            asked = self._asked(every=round_ >= ONE_BY_ONE)
            if not asked:
                return True
            answers = [self._truthful(pull) for pull in asked]
            self.answers += len(answers)
            self._count(self.job.decide(answers, self._seq))
            self._count(self.job.settle(self._seq))
        return not self._asked(every=True)

    def _asked(self, *, every: bool) -> list[int]:
        """First readings of the asked pulls to answer next: one of each question, or all."""
        found: dict[int, int] = {}
        for _, (_, row) in sorted(self.job.rows.items()):
            if row.assignment == "asked":
                found.setdefault(row.pull if every or row.question is None else -row.question, row.pull)
        return sorted(set(found.values()))

    def _truthful(self, n: int) -> Event:
        step = self.truths[n].step
        said = Said(self.job.now, "stray" if step is None else "step", step, reading=n)
        return Event(said, PERSON, None, self.job.id)

    def _count(self, events: list[Event]) -> None:
        self._seq += len(events)
