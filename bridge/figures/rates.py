"""How often people and wrenches slip, per step unless a comment says otherwise; invented from trade sense."""

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace

MOST = 0.5  # no slip is made likelier than this
MODES = frozenset({"counters", "second_person"})  # ways of working, not slips: no factor touches them


@dataclass(frozen=True, slots=True)
class Rates:
    """Share of steps, pulls, stages or jobs in which a slip happens; the name of a field is that of the slip."""

    skip: float = 0.0005  # never noticed
    skip_noticed: float = 0.001  # done before the stage ends
    swap: float = 0.001  # with the next of the order
    rehit: float = 0.02  # within 3 s
    late_rehit: float = 0.0005  # 3.2 to 12 s later
    rocking: float = 0.007  # 3 to 8 rising peaks
    ratchet: float = 0.01  # 2 to 4 rising strokes
    under_redone: float = 0.008  # at once
    under_redone_later: float = 0.0003  # in the same stage
    under_left: float = 0.0003
    over: float = 0.002  # left for a decision; nobody tops down
    stray: float = 0.001  # a test pull on the vice
    interruption: float = 0.002
    loosened: float = 0.001  # said, and all that it voids is done again
    against: float = 0.0005  # as loosened, with a peak against the tightening direction
    other_wrench: float = 0.0003  # that of another role, where its range allows
    other_tool: float = 0.0002  # a tool that sends nothing
    lost: float = 0.0005  # per message, on the air
    repeat: float = 0.003  # per message, of wrenches that count
    stage_left_out: float = 0.0002  # per stage
    unit_flip: float = 0.003  # per stage
    unit_missing: float = 0.002  # per stage
    unit_never: float = 0.02  # per job: a wrench without units, its display read back
    memory: float = 0.06  # per job: a part of it comes as a memory download
    second_person: float = 0.3  # per job on a sheet with assemblies
    counters: float = 0.6  # per job: wrenches that count their messages

    def times(self, factor: float) -> "Rates":
        """Every slip that much likelier, none above `MOST`."""
        return replace(self, **{name: min(MOST, getattr(self, name) * factor) for name in SLIPS})

    def without(self, names: Iterable[str]) -> "Rates":
        """The slips of these names never happen. Raises `KeyError` for a name that is none."""
        zero = {}
        for name in names:
            if name not in NAMES:
                raise KeyError(name)
            zero[name] = 0.0
        return replace(self, **zero)


NAMES: tuple[str, ...] = tuple(item.name for item in fields(Rates))
SLIPS: tuple[str, ...] = tuple(name for name in NAMES if name not in MODES)
REALISTIC = Rates()
TRIPLED = REALISTIC.times(3)
NONE = REALISTIC.without(SLIPS)
SETS = {"realistic": REALISTIC, "tripled": TRIPLED, "none": NONE}
