"""What `sheet loads` tells: clamp load and stress of each stage's pull, as far as the sheet says what it takes."""

from dataclasses import dataclass

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.markup import escape
from rich.table import Table

from bridge.cli.sheet_drawing import PIPED_WIDTH
from bridge.words import say
from specs import units
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
    friction: tuple[str, str] | None  # of thread and head, as written; the nut factor is then reckoned from them
    clamp_kn: float
    least_kn: float | None  # the same torque at K + 25 %
    most_kn: float | None  # at K − 25 %
    tension_mpa: float
    torque_at_most: str | None  # at 0.9 of yield by VDI 2230, in the unit of the torque
    tension_of_proof: float | None
    combined_of_proof: float | None
    combined_of_yield: float | None
    most_combined_of_yield: float | None
    turn_from_contact_deg: float | None
    clamp_after_turn_kn: float | None
    after_turn_of_proof: float | None  # in tension
    after_turn_of_yield: float | None  # with twist
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
        torque=f"{figures(load.torque_nm)} N·m" if asked is None else str(asked),
        thread=load.thread.name,
        grade=None if load.grade is None else load.grade.name,
        nut_factor=load.nut_factor,
        nut_factor_assumed=load.assumed,
        friction=None if load.group.friction is None else (str(load.group.friction[0]), str(load.group.friction[1])),
        clamp_kn=_kn(load.clamp_n),
        least_kn=None if band is None else _kn(band.dry.clamp_n),
        most_kn=None if band is None else _kn(band.slippery.clamp_n),
        tension_mpa=round(load.tension_mpa, 1),
        torque_at_most=None if load.most_nm is None else _torque(load.most_nm, "N·m" if asked is None else asked.unit),
        tension_of_proof=None if band is None else _percent(band.usual.of_proof),
        combined_of_proof=None if band is None else _percent(band.usual.combined_of_proof),
        combined_of_yield=None if band is None else _percent(band.usual.combined_of_yield),
        most_combined_of_yield=None if band is None else _percent(band.slippery.combined_of_yield),
        turn_from_contact_deg=None if load.contact_deg is None else round(load.contact_deg, 1),
        clamp_after_turn_kn=None if load.after_turn_n is None else _kn(load.after_turn_n),
        after_turn_of_proof=None if load.after_of_proof is None else _percent(load.after_of_proof),
        after_turn_of_yield=None if load.after_of_yield is None else _percent(load.after_of_yield),
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
    for column in ("stage", "torque", "most", "thread", "k", "clamp", "spread", "tension", "proof", "yield"):
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
        line.torque_at_most or "",
        " ".join(text for text in (line.thread, line.grade) if text),
        _k(line),
        figures(line.clamp_kn),
        "" if line.least_kn is None or line.most_kn is None else f"{figures(line.least_kn)} … {figures(line.most_kn)}",
        f"{line.tension_mpa:.0f}",
        "" if line.combined_of_proof is None else f"{line.tension_of_proof:.0f} / {line.combined_of_proof:.0f}",
        "" if line.combined_of_yield is None else f"{line.combined_of_yield:.0f} … {line.most_combined_of_yield:.0f}",
    )


def _k(line: LoadLine) -> str:
    text = f"{line.nut_factor:.3f}".removesuffix("0")
    if line.friction is not None:
        return f"{text} ({', '.join(line.friction)})"
    return f"{text}{'*' if line.nut_factor_assumed else ''}"


def _turn(line: LoadLine) -> str:
    """What a person feels and the joint loses, for a stage whose grip is written."""
    numbers = (line.turn_from_contact_deg, line.settling_percent, line.overshoot_percent)
    told = say("sheet.loads-turn", line.stage, *(f"{number or 0:.0f}" for number in numbers))
    if line.clamp_after_turn_kn is not None:
        told += " " + say("sheet.loads-after-turn", figures(line.clamp_after_turn_kn))
    if line.after_turn_of_proof is not None and line.after_turn_of_yield is not None:
        shares = (f"{line.after_turn_of_proof:.0f}", f"{line.after_turn_of_yield:.0f}")
        told += " " + say("sheet.loads-after-turn-of", *shares)
    return told


def figures(number: float) -> str:
    """Three figures, noughts at the end kept: 5.00, 35.7, 131; whole numbers above that."""
    return f"{number:.0f}" if number >= 999.5 else f"{number:#.3g}".removesuffix(".")


def _torque(newton_metres: float, unit: str) -> str:
    return f"{figures(newton_metres / float(units.factor(unit)))} {unit}"


def _kn(newtons: float) -> float:
    return float(f"{newtons / 1000:.3g}")


def _percent(share: float) -> float:
    return round(100 * share, 1)
