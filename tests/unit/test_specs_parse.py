"""Sheets as text: what each key gives, exact limits, and every fault at once with its line."""

import re
from decimal import Decimal
from fractions import Fraction
from hashlib import sha256
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.words import say
from specs.errors import SheetErrors
from specs.limits import Limits
from specs.model import Adapter, AssemblyOrder, Do, Torque
from specs.parse import parse
from specs.units import newton_metres

SHEETS = Path(__file__).resolve().parents[2] / "fixtures" / "sheets"
EVERY_KEY = (SHEETS / "every-key.toml").read_text(encoding="utf-8")
INTERLEAVED = (SHEETS / "interleaved.toml").read_text(encoding="utf-8")
HEAD = """sheet = 1
id = "t"
revision = "1"
title = "T"
source = "Invented for tests."
class = "C"
wrenches.W1 = {title = "large", unit = "N·m"}
groups.C = {title = "studs", wrench = "W1", positions = 4}
"""


def staged(*lines: str, before: str = "") -> str:
    """A sheet with one stage of those lines; the stage begins in line 9."""
    return HEAD + before + '[[stages]]\nid = "C1"\n' + "\n".join(lines) + "\n"


def torqued(*lines: str) -> str:
    """A sheet with one torque stage of group C; `lines` begin in line 13."""
    return staged('do = "torque"', 'group = "C"', *lines)


def faults_of(text: str) -> list[tuple[int | None, str, str]]:
    """Line, path and code of each fault; every fault can be said."""
    with pytest.raises(SheetErrors) as caught:
        parse(text)
    assert all(say(fault.code, *fault.args) for fault in caught.value.faults)
    return [(fault.line, fault.path, fault.code.removeprefix("sheet.")) for fault in caught.value.faults]


def ft_lb(number: str) -> Fraction:
    """N·m of that many ft·lb."""
    return newton_metres(Decimal(number), "ft·lb")


def test_every_key_is_read() -> None:
    sheet = parse(EVERY_KEY)
    assert (sheet.id, sheet.revision, sheet.class_, sheet.decision) == ("every-key", "7", "A", "simple")
    assert (sheet.assemblies, sheet.assembly_order) == (("UF", "UR"), AssemblyOrder.STAGE_BY_STAGE)
    assert (sheet.source_revision, sheet.effectivity) == ("2", "pumps from number 100")
    assert (sheet.copied_by, sheet.checked_by) == ("N. Vale", "O. Ash")
    assert len(sheet.cautions) == 2
    role = sheet.wrenches["W1"]
    assert (role.unit, role.low, role.high) == (
        "ft·lb",
        Torque(Decimal(15), "ft·lb"),
        Torque(Decimal(350), "N·m"),
    )
    assert (role.resolution, role.uncertainty_percent) == (Torque(Decimal("0.1"), "ft·lb"), Decimal("2.5"))
    group = sheet.groups["C"]
    assert (group.positions, group.order, group.pattern) == (
        ("1", "2", "3", "4"),
        ("4", "2", "3", "1"),
        "listed",
    )
    assert (group.nut_factor, group.single_use, group.thread) == (Decimal("0.16"), True, "5/8-11 UNC")
    assert group.grip_mm == Fraction("38.1")
    assert group.adapter == Adapter("crowfoot", Fraction("76.2"), Fraction("457.2"), Fraction(90))
    assert group.places[1] == (Decimal("0.5"), Decimal(-1))
    assert sheet.groups["D"].order == ("left", "right")
    assert sheet.groups["D"].pattern == "row"
    assert (group.friction, sheet.groups["D"].friction) == (None, (Decimal("0.12"), Decimal("0.14")))


def test_every_stage_is_read() -> None:
    sheet = parse(EVERY_KEY)
    assert [stage.id for stage in sheet.stages] == ["Q0", "R0", "C1", "C2", "W", "K", "L1", "O1", "D1"]
    drag, gap = sheet.stage("Q0"), sheet.stage("R0")
    assert (drag.group, drag.measure_unit, drag.measure_limits) == ("C", "N·m", Limits(None, Fraction(5)))
    assert (gap.group, gap.measure_unit) == (None, "µm")
    assert gap.measure_limits == Limits(Fraction(200), Fraction(300))
    loop = sheet.stage("C1")
    assert loop.limits is not None
    assert (loop.limits.low, loop.limits.high) == (ft_lb("27"), ft_lb("29.7"))
    assert (loop.add, loop.on_over, loop.any_order, loop.rounds, loop.until) == (
        "Q0",
        "replace",
        True,
        (3, 6),
        "still",
    )
    assert (loop.class_, loop.voids, loop.hold, loop.note) == ("B", ("D",), "inspector", "Once round, slowly.")
    turn = sheet.stage("C2")
    assert turn.snug == Torque(Decimal(80), "N·m")
    assert (turn.turn_deg, turn.turn_limits) == (Fraction(60), Limits(Fraction(56), Fraction(64)))
    assert (turn.final, turn.within_time_s) == (Limits(Fraction(225), Fraction(350)), 7200)
    assert (sheet.stage("W").do, sheet.stage("W").wait_s) == (Do.WAIT, 5400)
    assert (sheet.stage("K").text, sheet.stage("K").evidence) == ("Cover is cold to the hand.", "photo")
    most = sheet.stage("D1")
    assert (most.target, most.limits) == (None, Limits(None, Fraction(40)))


def test_defaults() -> None:
    sheet = parse(torqued('target = "10 N·m"', 'tolerance = "1 N·m"'))
    assert (sheet.decision, sheet.assembly_order) == ("simple", AssemblyOrder.ONE_AFTER_ANOTHER)
    stage = sheet.stages[0]
    assert (stage.on_under, stage.on_over, stage.any_order, stage.rounds) == ("pull on", "ask", False, None)


@pytest.mark.parametrize(
    ("stage", "low", "high"),
    [
        ("A1", ft_lb("40.48"), ft_lb("47.52")),
        ("B1", ft_lb("10.12"), ft_lb("11.88")),
        ("A2", ft_lb("65.32"), ft_lb("76.68")),
        ("B2", ft_lb("34.04"), ft_lb("39.96")),
        ("C1", ft_lb("24.84"), ft_lb("29.16")),
        ("T1", newton_metres(Decimal(9), "in·lb"), newton_metres(Decimal(13), "in·lb")),
    ],
)
def test_limits_are_exact_and_include_their_ends(stage: str, low: Fraction, high: Fraction) -> None:
    """Eight percent of the target is worked out by hand."""
    limits = parse(INTERLEAVED).stage(stage).limits
    assert limits is not None
    assert (limits.low, limits.high) == (low, high)
    grain = Fraction(1, 10**30)
    assert [limits.side(x) for x in (low - grain, low, high, high + grain)] == [-1, 0, 0, 1]


@pytest.mark.parametrize(
    ("lines", "low", "high"),
    [
        (('target = "50 N·m"', 'tolerance = "12.5 %"'), Fraction("43.75"), Fraction("56.25")),
        (('target = "50 N·m"', 'tolerance = "50 cN·m"'), Fraction("49.5"), Fraction("50.5")),
        (('target = "50 N·m"', 'tolerance = ["-2 N·m", "+4 %"]'), 48, 52),
        (('target = "50 N·m"', 'tolerance = ["−0 %", "+0 %"]'), 50, 50),
        (('min = "45 N·m"', 'max = "50 N·m"'), 45, 50),
        (('min = "45 N·m"',), 45, None),
        (('target = "50 N·m"', 'max = "50 N·m"'), None, 50),
    ],
)
def test_ways_to_write_limits(lines: tuple[str, ...], low: Fraction | None, high: Fraction | None) -> None:
    limits = parse(torqued(*lines)).stages[0].limits
    assert limits is not None
    assert (limits.low, limits.high) == (low, high)


@given(st.decimals("0.01", "9999", places=2), st.decimals("0", "99", places=1))
def test_percent_of_any_target(target: Decimal, percent: Decimal) -> None:
    limits = parse(torqued(f'target = "{target} ft·lb"', f'tolerance = "{percent} %"')).stages[0].limits
    assert limits is not None
    assert limits.low == ft_lb("1") * Fraction(target) * (100 - Fraction(percent)) / 100
    assert limits.high == ft_lb("1") * Fraction(target) * (100 + Fraction(percent)) / 100


TORQUE_FAULTS = [
    (['target = "0 N·m"', 'tolerance = "5 %"'], [(13, "target", "not-positive")]),
    (['target = "50 N·m"'], [(9, "", "limits-missing")]),
    (['tolerance = "5 %"'], [(13, "tolerance", "key-needs")]),
    (['target = "50 N·m"', "tolerance = 15"], [(14, "tolerance", "number-bare")]),
    (["target = 50.0", 'tolerance = "5 %"'], [(13, "target", "number-bare")]),
    (['target = "50 N·m"', 'tolerance = "-5 %"'], [(14, "tolerance", "tolerance-signed")]),
    (['target = "50 N·m"', 'tolerance = "120 %"'], [(14, "tolerance", "tolerance-wide")]),
    (['target = "50 N·m"', 'tolerance = ["0 %", "+5 %"]'], [(14, "tolerance[0]", "tolerance-sign")]),
    (['target = "50 N·m"', 'tolerance = ["+5 %", "-5 %"]'], [(14, "tolerance", "low-above-high")]),
    (['target = "50 N·m"', 'tolerance = ["+1 %", "+5 %"]'], [(14, "tolerance", "target-outside")]),
    (['target = "50 N·m"', 'tolerance = ["+1 %"]'], [(14, "tolerance", "list-length")]),
    (['target = "50 N·m"', 'tolerance = "5 %"', 'min = "1 N·m"'], [(15, "min", "key-clash")]),
    (['target = "50 N·m"', 'min = "51 N·m"'], [(13, "target", "target-outside")]),
    (['min = "51 N·m"', 'max = "50 N·m"'], [(13, "min", "low-above-high")]),
    (['min = "51 nm"'], [(13, "min", "unit-unknown")]),
    (['min = "51 N·m"', "rounds = [1, 2]"], [(14, "rounds", "key-needs")]),
    (['min = "51 N·m"', 'until = "still"'], [(14, "until", "key-needs")]),
    (['min = "51 N·m"', 'until = "still"', "rounds = [3, 2]"], [(15, "rounds", "low-above-high")]),
    (['min = "51 N·m"', 'until = "still"', "rounds = [0, 2]"], [(15, "rounds[0]", "not-whole")]),
    (['min = "51 N·m"', 'voids = ["X"]'], [(14, "voids", "group-unknown")]),
    (['min = "51 N·m"', 'add = "Q0"'], [(14, "add", "stage-unknown")]),
    (['min = "51 N·m"', 'on_over = "top down"'], [(14, "on_over", "choice-unknown")]),
    (['min = "51 N·m"', "snug = 1"], [(14, "snug", "key-not-here")]),
    (['min = "51 N·m"', 'ordre = "any"'], [(14, "ordre", "key-unknown-near")]),
    (['min = "51 N·m"', 'note = ""'], [(14, "note", "text-empty")]),
    (['min = "51 N·m"', 'note = "\\u001b[2J"'], [(14, "note", "text-control")]),
    (['min = "1.2.3 N·m"'], [(13, "min", "unreadable")]),
    (['min = "1e3 N·m"'], [(13, "min", "unreadable")]),
]


@pytest.mark.parametrize(("lines", "expected"), TORQUE_FAULTS)
def test_faults_of_a_torque(lines: list[str], expected: list[tuple[int, str, str]]) -> None:
    paths = [(line, f"stages.C1.{path}".rstrip("."), code) for line, path, code in expected]
    assert faults_of(torqued(*lines)) == paths


@pytest.mark.parametrize(
    ("lines", "expected"),
    [
        (['do = "torque"', 'min = "5 N·m"'], "key-missing"),
        (['do = "loosen"'], "key-missing"),
        (['do = "look"', 'group = "D"'], "group-unknown"),
        (['do = "wait"'], "key-missing"),
        (['do = "wait"', 'for = "0 h"'], "not-positive"),
        (['do = "wait"', 'for = "0.0001 h"'], "part-of-second"),
        (['do = "condition"'], "key-missing"),
        (['do = "measure"'], "ends-missing"),
        (['do = "measure"', 'min = "2 mm"', 'max = "1 mm"'], "low-above-high"),
        (['do = "measure"', 'min = "2 mm"', 'max = "1 h"'], "measure-units-differ"),
        (['do = "measure"', 'min = "2 florins"'], "measure-unit-unknown"),
        (['do = "measure"', 'min = "2"'], "unit-missing"),
        (['do = "polish"'], "choice-unknown"),
        (['group = "C"'], "key-missing"),
        (['do = "angle"', 'group = "C"', 'snug = "1 N·m"', 'turn = "0 deg"', 'tolerance = "1 deg"'], "not-positive"),
        (['do = "angle"', 'group = "C"', 'snug = "0 N·m"', 'turn = "9 deg"', 'tolerance = "1 deg"'], "not-positive"),
        (['do = "angle"', 'group = "C"', 'snug = "1 N·m"', 'turn = "9 deg"'], "key-missing"),
        (['do = "angle"', 'group = "C"', 'snug = "1 N·m"', 'turn = "9 deg"', 'tolerance = "10 deg"'], "tolerance-wide"),
    ],
)
def test_faults_of_other_stages(lines: list[str], expected: str) -> None:
    assert [code for _, _, code in faults_of(staged(*lines))] == [expected]


@pytest.mark.parametrize("bad", ["C/1", "C.1", "C#1", "C 1", "", "-C", "Ç", "C" * 33])
def test_ids_that_would_spoil_a_step_id(bad: str) -> None:
    stage = f'[[stages]]\nid = "{bad}"\ndo = "wait"\nfor = "1 h"\n'
    assert [code for _, _, code in faults_of(HEAD + stage)] == ["id-shape"]
    good = '[[stages]]\nid = "C1"\ndo = "wait"\nfor = "1 h"\n'
    group = f'groups."{bad}" = {{title = "x", wrench = "W1", positions = 1}}\n'
    assert [(line, code) for line, _, code in faults_of(HEAD + group + good)] == [(9, "id-shape")]
    assert "id-shape" in [code for _, _, code in faults_of(f'assemblies = ["{bad}"]\n' + HEAD + good)]
    assert parse(HEAD + good).stages[0].id == "C1"


@pytest.mark.parametrize(
    ("found", "wrong", "expected"),
    [
        ("order = [4, 2,", "order = [4, 4,", "order-missing"),
        ("order = [4, 2,", "order = [4, 2, 9,", "order-extra"),
        ("order = [4, 2,", "order = [4, 4, 2,", "order-twice"),
        ('pattern = "listed"', "", "key-needs"),
        ("order = [4", "# [4", "key-missing"),
        ("positions = 4", "positions = 4.0", "not-whole"),
        ("positions = 4", "positions = 0", "not-whole"),
        ("positions = 4", "positions = true", "not-whole"),
        ('length = "3 in"', 'length = "3"', "unit-missing"),
        ('length = "3 in"', 'length = "-3 in"', "negative"),
        ('lever = "18 in", angle = "90 deg"', 'lever = "2 in", angle = "180 deg"', "adapter-no-lever"),
        ('kind = "crowfoot"', 'kind = "crowbar"', "choice-unknown"),
        ("[2, 2]]", "[2, 2.5]]", "number-bare"),
        (", [2, 2]]", "]", "list-length"),
        ("[2, 2]]", "[2]]", "not-place"),
        ('nut_factor = "0.16"', 'nut_factor = "0"', "not-positive"),
        ('nut_factor = "0.16"', 'nut_factor = "0.16"\nfriction = ["0.12", "0.14"]', "key-clash"),
        ('nut_factor = "0.16"', 'friction = ["0.12"]', "list-length"),
        ('nut_factor = "0.16"', 'friction = ["0.019", "0.14"]', "friction-range"),
        ('nut_factor = "0.16"', 'friction = ["0.12", "0.61"]', "friction-range"),
        ('nut_factor = "0.16"', 'friction = ["0.12", "0.14 mm"]', "unit-unasked"),
        ('grip = "1.5 in"', 'grip = "0 mm"', "not-positive"),
        ('grip = "1.5 in"', 'grip = "1.5"', "unit-missing"),
        ('resolution = "0.1 ft·lb"', 'resolution = "0 ft·lb"', "not-positive"),
        ('resolution = "0.1 ft·lb"', 'resolution = "0.1"', "unit-missing"),
        ('uncertainty = "2.5 %"', 'uncertainty = "0 %"', "not-positive"),
        ('uncertainty = "2.5 %"', 'uncertainty = "2.5"', "unit-missing"),
        ('uncertainty = "2.5 %"', 'uncertainty = "2.5 N·m"', "unreadable"),
        ('add = "Q0"', 'add = "R0"', "add-not-measure"),
        ('max = "5 N·m"', 'max = "5 mm"', "add-not-measure"),
        ('assemblies = ["UF", "UR"]', 'assemblies = ["UF", "UF"]', "id-twice"),
        ('"350 N·m"]\nresolution', '"3 N·m"]\nresolution', "low-above-high"),
        ('final = ["225 N·m"', 'final = ["350 N·m"', "low-above-high"),
        ("rounds = [3, 6]", "rounds = [3, 600]", "not-whole"),
    ],
)
def test_faults_by_one_change(found: str, wrong: str, expected: str) -> None:
    """The untouched sheet is the control: it has none."""
    assert EVERY_KEY.count(found) == 1
    assert [code for _, _, code in faults_of(EVERY_KEY.replace(found, wrong))] == [expected]


def test_all_twenty_faults_at_once_with_their_lines() -> None:
    """The fixture says in each faulty line what is wrong with it."""
    text = (SHEETS / "twenty-faults.toml").read_text(encoding="utf-8")
    lines = enumerate(text.splitlines(), start=1)
    written = [(number, match[1]) for number, line in lines if (match := re.search(r" # ([a-z-]+)$", line))]
    assert len(written) == 20
    assert [(line, code) for line, _, code in faults_of(text)] == written


def test_a_missing_key_stands_where_its_table_does() -> None:
    assert faults_of('sheet = 1\n[groups.C]\ntitle = "x"\nwrench = "W"\n[[stages]]\nid = "S"\n')[-4:] == [
        (None, "", "key-missing"),
        (2, "groups.C", "key-missing"),
        (4, "groups.C.wrench", "wrench-unknown"),
        (5, "stages.S", "key-missing"),
    ]


def test_syntax_is_reported_alone() -> None:
    text = (SHEETS / "syntax.toml").read_text(encoding="utf-8")
    assert faults_of(text) == [(3, "", "syntax")]
    assert faults_of(HEAD + "x = 2020-13-40\ncolour = 1\n") == [(9, "", "syntax")]
    assert faults_of("a = '''\n\n") == [(2, "", "syntax")]


def test_digest_is_that_of_the_bytes() -> None:
    for text in (EVERY_KEY, "\ufeff" + EVERY_KEY, EVERY_KEY.replace("\n", "\r\n")):
        sheet = parse(text)
        assert (sheet.text, sheet.digest) == (text, sha256(text.encode()).hexdigest())
    assert faults_of(EVERY_KEY.replace("\n", "\r\n") + "x = 1\r\n")[0][0] == EVERY_KEY.count("\n") + 1


def test_half_a_sign_is_a_fault() -> None:
    assert faults_of("a = 1\nb = '\ud800'") == [(2, "", "text-broken")]


def test_a_plan_too_large_is_a_fault() -> None:
    def sheet(rounds: int) -> str:
        many = HEAD.replace("positions = 4", "positions = 1000")
        return f"""assemblies = ["A", "B", "C", "D"]
{many}[[stages]]
id = "C1"
do = "torque"
group = "C"
min = "1 N·m"
rounds = [1, {rounds}]
until = "still"
"""

    assert parse(sheet(50)).stages[0].rounds == (1, 50)
    assert [code for _, _, code in faults_of(sheet(51))] == ["steps-many"]


def test_a_very_long_number_is_a_plain_fault() -> None:
    assert faults_of(torqued(f"min = 0x{'f' * 4000}")) == [(13, "stages.C1.min", "number-bare")]
