"""What a key means at this moment: a pure dialog from keys to what a person says.

| key   | what is recorded                                                |
|-------|-----------------------------------------------------------------|
| 1 2 3 | the answer to the question                                      |
| l     | a position was loosened; asks which                             |
| p     | the part at a position is new; asks which                       |
| m, s  | in a round pass the nut of the last pull moved, or stood still  |
| d     | the look or condition that is due is done                       |
| r     | a hold point is released by another person; asks which and who  |
| o     | a named person decides on an open step; asks which, how and why |
| v     | a value measured by hand; asks for it                           |
| x     | the last pull is not for this job                               |
| w     | a wrench was dropped; asks which where there are more           |
| c     | a wrench that was set aside was checked; asks which and how     |
| u     | the unit that a wrench's display shows; asks for it             |
| f     | the job is signed as finished; asks again                       |
| q     | nothing: the job stays unfinished                               |
"""

from dataclasses import dataclass, replace
from decimal import Decimal

from bridge import words
from bridge.cli.screen_deciding import Deciding
from bridge.core.events import Body, JobSigned, Said
from bridge.core.view import BenchView
from specs import units

ENTER, BACK, ESCAPE = ("\r", "\n"), ("\x7f", "\b"), "\x1b"
PULLED = frozenset({"torque", "angle"})
_LONGEST = 80


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a key led to: something to record, a hint to show, or the end."""

    body: Body | None = None
    hint: str = ""
    quit: bool = False
    person: str | None = None  # who says it, where that is not the person at the bench


@dataclass(frozen=True, slots=True)
class Dialog:
    """Where a dialog stands: which word still wants text, about what, and what is typed so far."""

    word: str = ""
    about: str | None = None
    typed: str = ""
    deciding: Deciding | None = None

    @property
    def prompt(self) -> str:
        """The line that asks for text; empty while nothing is asked."""
        if self.deciding is not None:
            return f"{self.deciding.prompt} {self.typed}_"
        return f"{words.say(f'capture.ask-{self.word}', self.about or '')} {self.typed}_" if self.word else ""

    def press(self, key: str, view: BenchView, now: Decimal, people: tuple[str, ...] = ()) -> tuple["Dialog", Outcome]:
        """The dialog after a key, and what the key led to; `people` are those who may be asked who decides."""
        if self.word:
            return self._type(key, view, now)
        if key in "123" and key:
            return self, _answer(int(key), view, now)
        match key.lower():
            case "q" | "":
                return self, Outcome(quit=True)
            case "x":
                return self, _stray(view, now)
            case "m" | "s":
                return self, _round("moved" if key.lower() == "m" else "still", view, now)
            case "d":
                return self._done(view, now)
            case "l" | "p":
                return Dialog("loosened" if key.lower() == "l" else "replaced", _last_place(view)), Outcome()
            case "r":
                return Dialog("hold"), Outcome()
            case "o":
                if not view.open_steps:
                    return self, _hint("capture.no-open-step")
                return Dialog("decide", deciding=Deciding.of(view, people)), Outcome()
            case "v":
                step = _to_measure(view)
                return (self, _hint("capture.no-value")) if step is None else (Dialog("value", step), Outcome())
            case "w":
                return self._dropped(view, now)
            case "c":
                aside = [link.lane for link in view.links if link.set_aside is not None]
                return (Dialog("checked", ", ".join(aside)), Outcome()) if aside else (self, _hint("capture.no-aside"))
            case "u":
                wanted = (*(each.lane for each in view.read_backs), *(lane.lane for lane in view.lanes))
                return Dialog("display", wanted[0] if wanted else ""), Outcome()
            case "f":
                return Dialog("sign", f"{view.done}/{view.steps}"), Outcome()
        return self, Outcome()

    def _done(self, view: BenchView, now: Decimal) -> tuple["Dialog", Outcome]:
        due = next((due for due in view.due if due.do not in PULLED and due.do not in ("wait", "measure")), None)
        if due is None:
            return self, _hint("capture.no-done")
        return self, Outcome(Said(now, "done", due.step))

    def _dropped(self, view: BenchView, now: Decimal) -> tuple["Dialog", Outcome]:
        if len(view.lanes) == 1:
            return self, Outcome(Said(now, "dropped", view.lanes[0].lane))
        return Dialog("dropped", ", ".join(lane.lane for lane in view.lanes)), Outcome()

    def _type(self, key: str, view: BenchView, now: Decimal) -> tuple["Dialog", Outcome]:
        if key in ENTER:
            if self.deciding is not None:
                return self._decide(self.deciding, view, now)
            return Dialog(), self._enter(view, now)
        if key in (ESCAPE, ""):
            return Dialog(), Outcome(quit=key == "")
        if key in BACK:
            return replace(self, typed=self.typed[:-1]), Outcome()
        if key.isprintable() and len(self.typed) < _LONGEST:
            return replace(self, typed=self.typed + key), Outcome()
        return self, Outcome()

    def _decide(self, deciding: Deciding, view: BenchView, now: Decimal) -> tuple["Dialog", Outcome]:
        after = deciding.take(self.typed.strip())
        if after is None:
            code = "capture.no-such-number" if self.typed.strip() and deciding.numbered else "capture.nothing-typed"
            return Dialog(), _hint(code, self.typed.strip())
        if after.asked is not None:
            return Dialog("decide", deciding=after), Outcome()
        body = after.disposed(now)
        if body.step not in {step for step, _ in view.open_steps}:
            return Dialog(), _hint("capture.no-longer-open", body.step)
        return Dialog(), Outcome(body, person=after.person)

    def _enter(self, view: BenchView, now: Decimal) -> Outcome:
        typed = self.typed.strip()
        match self.word:
            case "loosened" | "replaced":
                place = _place(typed, view) if typed else self.about
                if not place:
                    return _hint("capture.no-such-place", typed)
                return Outcome(Said(now, self.word, place))
            case "value":
                return Outcome(Said(now, "value", self.about, typed)) if typed else _hint("capture.nothing-typed")
            case "dropped":
                lane = next((lane.lane for lane in view.lanes if lane.lane.lower() == typed.lower()), None)
                return _hint("capture.no-such-wrench", typed) if lane is None else Outcome(Said(now, "dropped", lane))
            case "checked":
                return _checked(typed, view, now)
            case "display":
                return self._display(typed, view, now)
            case "hold":
                stage, _, name = typed.partition(" ")
                return (
                    Outcome(Said(now, "done", stage), person=name.strip()) if name else _hint("capture.nothing-typed")
                )
            case "sign" if typed.lower() in ("y", "yes"):
                return Outcome(JobSigned(now, "fitter", "finished"))
        return _hint("capture.not-signed")

    def _display(self, typed: str, view: BenchView, now: Decimal) -> Outcome:
        first, _, rest = typed.partition(" ")
        lanes = {lane.lane.lower(): lane.lane for lane in view.lanes}
        lane, token = (lanes[first.lower()], rest) if first.lower() in lanes else (self.about, typed)
        try:
            return Outcome(Said(now, "display", units.canonical(token), lane=lane))
        except units.UnitError as error:
            return Outcome(hint=words.say(error.code, *error.words))


def place_of(step: str | None) -> str | None:
    """The place of a step id, `UF/C3/C.5` → `UF/C.5`; None for a step of a whole stage."""
    parts = (step or "").split("/")
    if "." not in parts[-1]:
        return None
    return "/".join((*parts[:-2], parts[-1]))


def _answer(number: int, view: BenchView, now: Decimal) -> Outcome:
    question = view.question
    if question is None or number > len(question.choices):
        return _hint("capture.no-question")
    choice = question.choices[number - 1]
    return Outcome(Said(now, "stray" if choice is None else "step", choice, reading=question.reading))


def _stray(view: BenchView, now: Decimal) -> Outcome:
    if view.last is None:
        return _hint("capture.no-pull")
    return Outcome(Said(now, "stray", reading=view.last.n))


def _round(word: str, view: BenchView, now: Decimal) -> Outcome:
    place = _last_place(view)
    return _hint("capture.no-pull") if place is None else Outcome(Said(now, word, place))


def _last_place(view: BenchView) -> str | None:
    return place_of(view.last.step) if view.last is not None else None


def _to_measure(view: BenchView) -> str | None:
    measured = [due.step for due in view.due if due.do == "measure"]
    return next(iter((*measured, *(due.step for due in view.due))), None)


def _checked(typed: str, view: BenchView, now: Decimal) -> Outcome:
    first, _, how = typed.partition(" ")
    lane = next((link.lane for link in view.links if link.set_aside and link.lane.lower() == first.lower()), None)
    if lane is None:
        return _hint("capture.no-such-wrench", first)
    return Outcome(Said(now, "checked", lane, reason=how.strip())) if how.strip() else _hint("capture.nothing-typed")


def _place(typed: str, view: BenchView) -> str | None:
    """A place as typed: `C.5`, `UF/C.5`, or `5` for one of the group in work."""
    names = [place.place for place in view.places]
    wanted = typed.lower()
    for ending in (wanted, f"/{wanted}", f".{wanted}"):
        found = [name for name in names if name.lower() == wanted or name.lower().endswith(ending)]
        if len(found) == 1:
            return found[0]
    return typed.upper() if "." in typed else None


def _hint(code: str, *args: str) -> Outcome:
    return Outcome(hint=words.say(code, *args))
