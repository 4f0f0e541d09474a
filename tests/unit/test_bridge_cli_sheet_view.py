"""What `sheet show` works out: limits in both units, the adapter counted in once, steps and pulls."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from bridge.cli.sheet_view import StageLine, sheet_view
from specs.bands import Band
from specs.limits import Limits
from specs.model import Adapter, Do, Group, Plan, Sheet, Stage, Step, Torque, Visit, WrenchRole
from specs.units import newton_metres

WRENCH = WrenchRole("W1", "large wrench", "ft·lb", Torque(Decimal(15), "ft·lb"), Torque(Decimal(150), "ft·lb"))
COVER = Group("C", "Casing cover studs", "W1", ("1", "2"), ("1", "2"))


def limits(low: str, high: str, unit: str) -> Limits:
    """Limits in newton-metres from text in a unit."""
    return Limits(newton_metres(Decimal(low), unit), newton_metres(Decimal(high), unit))


def plan(stage: Stage, group: Group = COVER, visits: int = 1, optional: int = 0) -> Plan:
    """A sheet of one stage, visited so many times, the last of them only if needed."""
    sheet = Sheet("s", "1", "Sheet", "Invented.", "C", {"W1": WRENCH}, {"C": group}, (stage,))
    steps = tuple(
        Step(f"{visit}/{name}", 2 * visit + index, visit, stage, group, f"C.{name}", f"C.{name}", None, visit + 1, None)
        for visit in range(visits)
        for index, name in enumerate(group.positions)
    )
    made = tuple(
        Visit(visit, str(visit), stage, None, visit + 1, 2 * visit, 2 * visit + 2, None, visit >= visits - optional)
        for visit in range(visits)
    )
    return Plan(sheet, made, steps, {step.id: step.index for step in steps}, {})


def line(stage: Stage, group: Group = COVER) -> StageLine:
    """The view of that one stage."""
    return sheet_view(plan(stage, group)).stages[0]


def test_limits_of_the_sheet_are_exact() -> None:
    """27 ft·lb ± 15 % is 22.95 … 31.05 ft·lb, whatever newton-metres lie between."""
    stage = Stage("C1", Do.TORQUE, "C", Torque(Decimal(27), "ft·lb"), limits("22.95", "31.05", "ft·lb"))
    assert line(stage).limits == line(stage).on_wrench == Band("22.95", "31.05", "ft·lb", "27")
    assert line(stage).target == "27 ft·lb"


def test_limits_in_the_unit_of_the_wrench_move_inward() -> None:
    """80 … 90 N·m on a wrench in ft·lb: 59.0050 … 66.3807 (1 ft·lb = 1.3558179483314004 N·m, exact by definition)."""
    stage = Stage("C1", Do.TORQUE, "C", Torque(Decimal(85), "N·m"), limits("80", "90", "N·m"))
    assert line(stage).limits == Band("80", "90", "N·m", "85")
    assert line(stage).on_wrench == Band("59.01", "66.38", "ft·lb", "62.69")


def test_adapter_is_counted_in_once_and_named() -> None:
    """L = 18 in, E = 3 in straight: the wrench reads 18/21 of 84 … 105 ft·lb; the sheet's own limits stay."""
    inch = Fraction("25.4")
    group = replace(COVER, adapter=Adapter("extension", 3 * inch, 18 * inch))
    stage = Stage("C1", Do.TORQUE, "C", Torque(Decimal(90), "ft·lb"), limits("84", "105", "ft·lb"))
    assert line(stage, group).limits == Band("84", "105", "ft·lb", "90")
    assert line(stage, group).on_wrench == Band("72", "90", "ft·lb", "77.14")
    assert sheet_view(plan(stage, group)).groups[0].adapter == "extension 76.2 mm on 457.2 mm at 0 deg"


def test_open_side_stays_open() -> None:
    """A minimum alone has no upper number, and is written in the wrench's unit where the sheet names no target."""
    stage = Stage("C1", Do.TORQUE, "C", limits=Limits(low=newton_metres(Decimal(20), "ft·lb")))
    assert line(stage).limits == Band("20", None, "ft·lb")


def test_turn_has_degrees_and_a_window_of_torque() -> None:
    """The snug's unit is that of the window; a turn has no torque limits of its own."""
    stage = Stage(
        "M2",
        Do.ANGLE,
        "C",
        snug=Torque(Decimal(80), "N·m"),
        turn_deg=Fraction(60),
        turn_limits=Limits(Fraction(56), Fraction(64)),
        final=limits("225", "350", "N·m"),
    )
    shown = line(stage)
    assert (shown.turn, shown.turn_limits) == ("60", Band("56", "64", "deg", "60"))
    assert shown.final == Band("225", "350", "N·m")
    assert shown.limits is None
    assert shown.snug_on_wrench == Band(
        None, None, "ft·lb", "59"
    )  # trade: 80 N·m is 59.0 ft·lb, 225 … 350 is 166 … 258
    assert shown.final_on_wrench == Band("166", "258.1", "ft·lb")


def test_loops_count_their_fewest_rounds() -> None:
    """Three rounds of two positions, the third only if needed: four steps due, two more possible."""
    stage = Stage("H2", Do.TORQUE, "C", limits=limits("20", "30", "ft·lb"), rounds=(2, 3), until="still")
    view = sheet_view(plan(stage, visits=3, optional=1))
    assert (view.steps, view.most_steps, view.pulls) == (4, 6, 4)


def test_a_look_is_a_step_and_no_pull() -> None:
    """What a person looks at is due too, but no wrench is asked for."""
    view = sheet_view(plan(Stage("L1", Do.LOOK, "C")))
    assert (view.steps, view.pulls, view.stages[0].wrench) == (2, 0, None)


def test_measured_value_keeps_its_own_unit() -> None:
    """A run-out is measured in millimetres, and read off no wrench."""
    stage = Stage("R1", Do.MEASURE, "C", measure_unit="mm", measure_limits=Limits(high=Fraction("0.2")))
    assert line(stage).limits == Band(None, "0.2", "mm")
    assert line(stage).on_wrench is None
