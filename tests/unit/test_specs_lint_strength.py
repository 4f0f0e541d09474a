"""Advice from mechanics: each piece with a sheet beside it that does not earn it."""

from decimal import Decimal

import pytest

from bridge.words import say
from specs.advice import Advice
from specs.expand import expand
from specs.lint import lint
from specs.load import sample
from specs.loads import left_by_neighbours, stage_loads
from specs.mechanics.grade import grade
from specs.mechanics.tension import assembly_clamp_n, bearing_mm, friction_torque_nm, nut_factor
from specs.mechanics.thread import thread
from specs.parse import parse

TOP = 'sheet = 1\nid = "t"\nrevision = "1"\ntitle = "T"\nsource = "Invented for tests."\nclass = "C"\n'
WRENCH = '[wrenches.W1]\ntitle = "large"\nunit = "{unit}"\n'
GROUP = '[groups.C]\ntitle = "studs"\nwrench = "W1"\npositions = 2\n{keys}\n'
TURN = '[[stages]]\nid = "C2"\ngroup = "C"\ndo = "angle"\nsnug = "80 N·m"\nturn = "{turn} deg"\ntolerance = "4 deg"\n'
BOLT = 'thread = "M12x1.75"\ngrade = "10.9"\nnut_factor = "0.15"'


def stage(target: str, name: str = "C1") -> str:
    """One torque stage."""
    keys = f'id = "{name}"\ngroup = "C"\ndo = "torque"\ntarget = "{target}"\ntolerance = "10 %"'
    return f"[[stages]]\n{keys}\n"


def advice(*stages: str, keys: str = BOLT, unit: str = "N·m") -> list[Advice]:
    """All advice, each with words."""
    sheet = parse(TOP + WRENCH.format(unit=unit) + GROUP.format(keys=keys) + "".join(stages))
    found = lint(sheet, expand(sheet))
    assert all(say(one.code, *one.args) for one in found)
    return list(found)


def codes(*stages: str, keys: str = BOLT, unit: str = "N·m") -> set[str]:
    """Their names."""
    return {one.code.removeprefix("sheet.") for one in advice(*stages, keys=keys, unit=unit)}


# 75 N·m on M12 10.9 at K 0.15 is 71 % of proof with twist (computed for the made-up jobs by other hands); twice that is
# above the yield, which lies 13 % above the proof.
@pytest.mark.parametrize(("target", "code"), [("75 N·m", set()), ("150 N·m", {"thread-overloaded"})])
def test_a_torque_that_the_thread_does_not_bear(target: str, code: set[str]) -> None:
    assert codes(stage(target)) == code


@pytest.mark.parametrize("kind", ["8.8", "10.9", "12.9"])
@pytest.mark.parametrize("size", [6, 8, 10, 12, 14, 16, 18, 20, 22, 24])
def test_torques_of_vdi_2230_are_right(size: int, kind: str) -> None:
    """Each at 0.9 of the yield by the formulae that give its fine-thread table, friction 0.08 to 0.16."""
    of = thread(f"M{size}")
    assert of is not None
    strength = grade(kind, of)
    assert strength is not None
    for friction in (0.08, 0.10, 0.12, 0.14, 0.16):
        clamp = assembly_clamp_n(of, strength, friction)
        target = friction_torque_nm(clamp, of, friction, friction, bearing_mm(of))
        factor = nut_factor(of, friction, friction, bearing_mm(of))
        keys = f'thread = "M{size}"\ngrade = "{kind}"\nnut_factor = "{factor:.3f}"'
        assert codes(stage(f"{target:.1f} N·m"), keys=keys) == set()
        assert codes(stage(f"{1.15 * target:.1f} N·m"), keys=keys) == {"thread-overloaded"}


@pytest.mark.parametrize(
    ("thread_name", "target", "typed", "scale"),
    [
        ("M10", "48", "ft·lb", "N·m"),
        ("M12", "84", "ft·lb", "N·m"),
        ("M10", "3", "N·m", "kgf·m"),  # 29 N·m
        ("M10", "490", "N·m", "kgf·cm"),
        ("M10", "280", "N·m", "in·lb"),  # 32 N·m is 70 % of proof; as kgf·cm 27
    ],
)
def test_the_likeliest_scale_is_named(thread_name: str, target: str, typed: str, scale: str) -> None:
    """Torques near VDI 2230's 48 and 84 N·m (from memory), each number typed on another scale."""
    keys = f'thread = "{thread_name}"\ngrade = "8.8"\nnut_factor = "0.164"'
    found = advice(stage(f"{target} {typed}"), keys=keys, unit=typed)
    assert [one.code.endswith("-scale") for one in found] == [True]
    assert f"{Decimal(target)} {scale}" in found[0].args


@pytest.mark.parametrize(
    ("keys", "target", "code"),
    [
        ('thread = "M6"', "100 N·m", {"thread-overloaded-any"}),
        ('thread = "M6"\ngrade = "soft"', "100 N·m", {"thread-overloaded-any", "grade-unknown"}),
        ('thread = "M6"', "20 N·m", set()),  # 12.9 bears it at K 0.20
        ('thread = "1/4-20"', "100 N·m", {"thread-overloaded-any"}),
        ('thread = "1/4-20"', "17 N·m", set()),
        ('thread = "M6"\ngrade = "12.9"', "100 N·m", {"thread-overloaded-scale"}),
    ],
)
def test_what_not_even_the_strongest_bears(keys: str, target: str, code: set[str]) -> None:
    assert codes(stage(target), keys=keys) == code


def test_foot_pounds_typed_for_inch_pounds_stand_out() -> None:
    """132 in·lb is right for a 5/16-18 of grade 5; as ft·lb it is twelve times that."""
    bolt = 'thread = "5/16-18 UNC"\ngrade = "SAE 5"\nnut_factor = "0.16"'
    assert codes(stage("132 in·lb"), keys=bolt, unit="in·lb") == set()
    found = advice(stage("132 ft·lb"), keys=bolt, unit="ft·lb")
    assert [(one.code, one.args[4:]) for one in found] == [("sheet.thread-overloaded-scale", ("132 in·lb", "73"))]
    assert found[0].path == "stages.C1.target"


def test_inch_pounds_typed_for_foot_pounds_stand_out() -> None:
    bolt = 'thread = "5/8-11 UNC"\ngrade = "SAE 5"\nnut_factor = "0.16"'
    assert codes(stage("90 ft·lb"), keys=bolt, unit="ft·lb") == set()
    found = advice(stage("90 in·lb"), keys=bolt, unit="in·lb")
    assert [(one.code, one.args[3:]) for one in found] == [("sheet.thread-slack-scale", ("90 ft·lb", "68"))]


def test_only_the_last_pass_must_stretch_the_bolt() -> None:
    assert "thread-slack-scale" not in codes(stage("75 in·lb"), stage("75 N·m", "C2"))
    assert codes(stage("75 in·lb")) == {"thread-slack-scale"}
    assert codes(stage("75 in·lb"), TURN.format(turn="60").replace("80 N·m", "75 in·lb")) == set()


@pytest.mark.parametrize(
    ("keys", "code"),
    [
        ('thread = "M10 hollow"', {"thread-unknown"}),
        ('thread = "M10"\ngrade = "soft"', {"grade-unknown"}),
        ('thread = "M10"', set()),
        ('grade = "soft"', set()),
        ('nut_factor = "1.6"', {"nut-factor-odd"}),
        ('nut_factor = "0.016"', {"nut-factor-odd"}),
        ('nut_factor = "0.08"', set()),
        ('nut_factor = "0.40"', set()),
    ],
)
def test_what_is_not_understood_is_said(keys: str, code: set[str]) -> None:
    assert codes(stage("30 N·m"), keys=keys) == code


@pytest.mark.parametrize(
    ("turn", "single", "grip", "code"),
    [
        ("60", "false", 'grip = "80 mm"', {"turn-past-yield"}),
        ("60", "true", 'grip = "80 mm"', set()),
        ("60", "false", "", set()),
        ("20", "false", 'grip = "80 mm"', set()),
    ],
)
def test_a_turn_into_the_yield_is_for_new_bolts(turn: str, single: str, grip: str, code: set[str]) -> None:
    """M16×2 10.9, grip 80, from 80 N·m by 60°: 103 % of proof before it yields (by other hands)."""
    keys = f'thread = "M16x2"\ngrade = "10.9"\nnut_factor = "0.14"\nsingle_use = {single}\n{grip}'
    assert codes(stage("80 N·m"), TURN.format(turn=turn), keys=keys) == code


def test_a_missing_nut_factor_is_taken_high_and_said_to_be_assumed() -> None:
    sheet = parse(
        TOP + WRENCH.format(unit="N·m") + GROUP.format(keys='thread = "M10"\ngrade = "8.8"') + stage("45 N·m")
    )
    (load,) = stage_loads(sheet)
    assert (load.nut_factor, load.assumed) == (0.20, True)


# F in N, tension and combined stress as a share of proof, band in kN: computed for the made-up jobs by other hands.
@pytest.mark.parametrize(
    ("name", "stage_id", "clamp", "tension", "combined", "ends"),
    [
        ("skerrivane-p2", "C3", 48_000, 56, 68, (38, 64)),
        ("skerrivane-p2", "G2", 2640 * 4.448, 59, 73, (9.4, 15.7)),
        ("skerrivane-p2", "T1", 421 * 4.448, 58, 76, None),
        ("kestrelhorn-c2", "M1", 35_700, 27, None, None),
        ("kestrelhorn-c2", "G1", 19_400, 58, 72, None),
        ("kestrelhorn-c2", "S1", 4600, 40, None, None),
        ("corran-az3", "D3", 41_700, 60, 71, (33, 56)),
        ("corran-az3", "Q2", 12_500, 59, 70, None),
        ("corran-az3", "E1", 5000, 61, None, None),
        ("corran-az3", "X1", 1250, 57, None, None),
    ],
)
def test_loads_of_the_samples(
    name: str,
    stage_id: str,
    clamp: float,
    tension: float,
    combined: float | None,
    ends: tuple[float, float] | None,
) -> None:
    load = next(each for each in stage_loads(sample(name)) if each.stage.id == stage_id)
    assert load.band is not None
    assert load.clamp_n == pytest.approx(clamp, rel=0.01)
    assert 100 * load.band.usual.of_proof == pytest.approx(tension, abs=0.6)
    if combined is not None:
        assert 100 * load.band.usual.combined_of_proof == pytest.approx(combined, abs=0.6)
    if ends is not None:
        found = (load.band.dry.clamp_n / 1000, load.band.slippery.clamp_n / 1000)
        assert found == pytest.approx(ends, abs=0.6)


def test_friction_of_thread_and_head_apart() -> None:
    """M10 at 40 N·m: K and the twist of the thread's own friction, by the formula of Kellermann and Klein by hand."""
    keys = 'thread = "M10"\ngrade = "8.8"\nfriction = ["0.10", "0.16"]'
    sheet = parse(TOP + WRENCH.format(unit="N·m") + GROUP.format(keys=keys) + stage("40 N·m"))
    (load,) = stage_loads(sheet)
    in_thread = 0.16 * 1.5 + 0.58 * (10 - 0.649519 * 1.5) * 0.10
    assert load.clamp_n == pytest.approx(40_000 / (in_thread + 0.16 * (14.63 + 11) / 4))
    assert load.tension_mpa == pytest.approx(load.clamp_n / 58.0, rel=0.001)
    assert load.band is not None
    diameter = 10 - 0.9382 * 1.5
    shear = 16 * load.clamp_n * in_thread / (3.141593 * diameter**3)
    assert load.band.usual.combined_mpa == pytest.approx((load.tension_mpa**2 + 3 * shear**2) ** 0.5)
    assert load.band.slippery.clamp_n == pytest.approx(load.clamp_n / 0.75)


def test_what_neighbours_leave_of_a_star() -> None:
    """Eight in cross order: four are tightened before both of their neighbours, and lose to each."""
    star = sample("skerrivane-p2").groups["C"]
    assert left_by_neighbours(star) == pytest.approx((1 - 2 * 0.05, 1 - 2 * 0.15, 1 - 2 * 0.35))
    assert left_by_neighbours(sample("skerrivane-p2").groups["P"]) is None


def test_settling_and_overshoot_stand_where_a_grip_is_written() -> None:
    """M12 on 40 mm at 75 N·m: 8 µm cost 5 to 6 %; 31° at 20° a second with 0.2 s are 13 % past the target."""
    load = next(each for each in stage_loads(sample("corran-az3")) if each.stage.id == "D3")
    assert (load.settled, load.overshoot) == pytest.approx((0.053, 0.128), rel=0.01)
    assert all(each.settled is None for each in stage_loads(sample("skerrivane-p2")))
