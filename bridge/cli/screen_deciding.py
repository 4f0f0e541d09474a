"""A decision on an open step, asked for one line at a time: which step, how, by whom, on whose authority, and why."""

from dataclasses import dataclass, replace
from decimal import Decimal

from bridge import words
from bridge.core.events import Disposed
from bridge.core.view import BenchView

CHOICES = ("accept", "loosen and redo", "replace")
LINES = ("authority", "reason")


@dataclass(frozen=True, slots=True)
class Deciding:
    """What is decided so far; `steps` and `people` are those that stood to choose from when it began."""

    steps: tuple[str, ...]
    people: tuple[str, ...] = ()
    step: str | None = None
    choice: str | None = None
    person: str | None = None  # None: the person at the bench
    authority: str | None = None
    reason: str | None = None

    @classmethod
    def of(cls, view: BenchView, people: tuple[str, ...]) -> "Deciding":
        """A decision that begins; what leaves no choice is not asked. The view has at least one open step."""
        steps = tuple(step for step, _ in view.open_steps)
        return cls(
            steps,
            people,
            step=steps[0] if len(steps) == 1 else None,
            person=people[0] if len(people) == 1 else None,
        )

    @property
    def asked(self) -> str | None:
        """What is asked next: step, choice, person, authority or reason; None once all is said."""
        for name, said in (
            ("step", self.step),
            ("choice", self.choice),
            ("person", self.person if self.people else ""),
            ("authority", self.authority),
            ("reason", self.reason),
        ):
            if said is None:
                return name
        return None

    @property
    def numbered(self) -> bool:
        """Whether the answer is one of the numbers shown."""
        return self.asked not in (None, *LINES)

    @property
    def prompt(self) -> str:
        """The line that asks, behind the step that is decided on."""
        shown = ", ".join(
            words.say("capture.numbered", str(number), option) for number, option in enumerate(self._options(), start=1)
        )
        asked = words.say(f"capture.ask-decide-{self.asked}", shown)
        return f"{self.step}: {asked}" if self.step is not None else asked

    def take(self, typed: str) -> "Deciding | None":
        """The decision with one more answer; None where the answer is empty or no number shown."""
        if not typed or self.asked is None:
            return None
        if not self.numbered:
            return replace(self, authority=typed) if self.asked == "authority" else replace(self, reason=typed)
        options = self._options()
        if not (typed.isascii() and typed.isdecimal() and 1 <= int(typed) <= len(options)):
            return None
        said = options[int(typed) - 1]
        match self.asked:
            case "step":
                return replace(self, step=said)
            case "choice":
                return replace(self, choice=said)
        return replace(self, person=said)

    def disposed(self, now: Decimal) -> Disposed:
        """The decision as it is recorded, once nothing is asked any more."""
        return Disposed(now, self.step or "", self.choice or "", self.authority or "", self.reason or "")

    def _options(self) -> tuple[str, ...]:
        match self.asked:
            case "step":
                return self.steps
            case "choice":
                return CHOICES
            case "person":
                return self.people
        return ()
