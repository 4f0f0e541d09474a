"""What is known before a pull, and how likely a way has to be to matter."""

from dataclasses import dataclass

from bridge.core import costs

Way = tuple[int, float, str]  # step, prior, code of why


@dataclass(frozen=True, slots=True)
class Before:
    """What is known before a pull: pauses on its lane and in the job, and messages missing."""

    lane: str
    role: str
    job_gap_s: float  # since the last pull of any lane
    change: float  # how much more the pause speaks for a change of stage than for a walk on
    again: float  # … and for a further pull on the same step
    redo: float  # … and for a second try at once after an under
    again_now: float  # share of unders that are tried again at once
    lost: int  # numbers missing in the counter
    trust: float  # how far that is believed
    named: str | None = None  # place that a person spoke of straight after it
    put_right: bool = False  # the wrench shows the unit of its role again, and did not before it
    late: bool = False  # from a memory download: another wrench's may come later still

    @property
    def rare(self) -> float:
        """No prior of a way that is not in the order of the stage at hand is higher, where nothing is left behind."""
        return max(costs.AGAIN * self.again, costs.JUMP * self.change, costs.SWITCH * self.change, costs.AGAIN_OLD)


@dataclass(slots=True)
class Bar:
    """Least prior that still matters; whoever weighs the ways raises it on the way."""

    least: float = 0.0
