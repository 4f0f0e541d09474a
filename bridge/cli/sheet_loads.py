"""What `sheet loads` tells: clamp load and stress of each stage's pull, as far as the sheet says what it takes."""

from dataclasses import dataclass

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.markup import escape
from rich.table import Table

from bridge.cli.sheet_drawing import PIPED_WIDTH
from bridge.words import say
from specs.loads import StageLoad, left_by_neighbours, stage_loads
from specs.model import Sheet


@dataclass(frozen=True, slots=True)
class LoadLine:
    """One stage. Loads in kN, shares in percent of proof or yield; None where the sheet does not say enough."""

    stage: str
    group: str
    torque: str  # target, or snug of a turn, as written; N·m where only limits are
    thread: str
    grade: str | None
    nut_factor: float
    nut_factor_assumed: bool
    clamp_kn: float
    least_kn: float | None  # the same torque at K + 25 %
    most_kn: float | None  # at K − 25 %
    tension_of_proof: float | None
    combined_of_proof: float | None
    combined_of_yield: float | None
    most_combined_of_yield: float | None
    turn_from_contact_deg: float | None
    clamp_after_turn_kn: float | None
    settling_percent: float | None  # of the clamp load, lost when the faces embed
    overshoot_percent: float | None  # of the target, at 20 degrees a second


@dataclass(frozen=True, slots=True)
class RingLine:
    """What the worst placed fastener of a ring still holds after one round, percent of what it was given."""

    group: str
    hard_percent: tuple[float, float]  # neighbours that take 15 % and 5 %
    gasket_percent: float  # neighbours that take 35 %


def ring_lines(sheet: Sheet) -> tuple[RingLine, ...]:
    """Groups whose fasteners stand in a ring."""
    found = ((group.id, left_by_neighbours(group)) for group in sheet.groups.values())
    return tuple(
        RingLine(name, (_percent(left[1]), _percent(left[0])), _percent(left[2]))
        for name, left in found
        if left is not None
    )


def load_lines(sheet: Sheet) -> tuple[LoadLine, ...]:
    """In the order of the stages; those without a thread that is understood are left out."""
    return tuple(_line(load) for load in stage_loads(sheet))


def _line(load: StageLoad) -> LoadLine:
    asked = load.stage.target or load.stage.snug
    band = load.band
    return LoadLine(
        stage=load.stage.id,
        group=load.group.id,
        torque=f"{load.torque_nm:.4g} N·m" if asked is None else str(asked),
        thread=load.thread.name,
        grade=None if load.grade is None else load.grade.name,
        nut_factor=load.nut_factor,
        nut_factor_assumed=load.assumed,
        clamp_kn=_kn(load.clamp_n),
        least_kn=None if band is None else _kn(band.dry.clamp_n),
        most_kn=None if band is None else _kn(band.slippery.clamp_n),
        tension_of_proof=None if band is None else _percent(band.usual.of_proof),
        combined_of_proof=None if band is None else _percent(band.usual.combined_of_proof),
        combined_of_yield=None if band is None else _percent(band.usual.combined_of_yield),
        most_combined_of_yield=None if band is None else _percent(band.slippery.combined_of_yield),
        turn_from_contact_deg=None if load.contact_deg is None else round(load.contact_deg, 1),
        clamp_after_turn_kn=None if load.after_turn_n is None else _kn(load.after_turn_n),
        settling_percent=None if load.settled is None else _percent(load.settled),
        overshoot_percent=None if load.overshoot is None else _percent(load.overshoot),
    )


def draw(lines: tuple[LoadLine, ...], rings: tuple[RingLine, ...]) -> None:
    """Print them to stdout with what they rest on."""
    console = Console(highlight=False)
    if not console.is_terminal:
        console.width = PIPED_WIDTH
    if not lines:
        console.print(escape(say("sheet.loads-none")))
        return
    table = Table(box=SIMPLE_HEAD, pad_edge=False)
    for column in ("stage", "torque", "thread", "k", "clamp", "spread", "proof", "yield"):
        table.add_column(say(f"sheet.loads-column-{column}"), no_wrap=True)
    for line in lines:
        table.add_row(*map(escape, _cells(line)))
    console.print(table)
    console.print(escape(say("sheet.loads-what")))
    if any(line.nut_factor_assumed for line in lines):
        console.print(escape(say("sheet.loads-assumed")))
    for line in lines:
        if line.turn_from_contact_deg is not None:
            console.print(escape(_turn(line)))
    for ring in rings:
        ends = (f"{percent:.0f}" for percent in (*ring.hard_percent, ring.gasket_percent))
        console.print(escape(say("sheet.loads-ring", ring.group, *ends)))
    console.print(escape(say("sheet.loads-caution")))


def _cells(line: LoadLine) -> tuple[str, ...]:
    return (
        line.stage,
        line.torque,
        " ".join(text for text in (line.thread, line.grade) if text),
        f"{line.nut_factor:g}{'*' if line.nut_factor_assumed else ''}",
        f"{line.clamp_kn:g}",
        "" if line.least_kn is None else f"{line.least_kn} … {line.most_kn}",
        "" if line.combined_of_proof is None else f"{line.tension_of_proof:.0f} / {line.combined_of_proof:.0f}",
        "" if line.combined_of_yield is None else f"{line.combined_of_yield:.0f} … {line.most_combined_of_yield:.0f}",
    )


def _turn(line: LoadLine) -> str:
    """What a person feels and the joint loses, for a stage whose grip is written."""
    numbers = (line.turn_from_contact_deg, line.settling_percent, line.overshoot_percent)
    told = say("sheet.loads-turn", line.stage, *(f"{number or 0:.0f}" for number in numbers))
    if line.clamp_after_turn_kn is not None:
        told += " " + say("sheet.loads-after-turn", f"{line.clamp_after_turn_kn:g}")
    return told


def _kn(newtons: float) -> float:
    return float(f"{newtons / 1000:.3g}")


def _percent(share: float) -> float:
    return round(100 * share, 1)
