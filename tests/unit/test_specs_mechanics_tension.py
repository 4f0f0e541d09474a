"""Torque, clamp load and stress against printed tables and worked examples."""

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.mechanics.grade import grade
from specs.mechanics.tension import (
    assembly_clamp_n,
    band,
    bearing_mm,
    clamp_n,
    even_friction,
    friction_torque_nm,
    load,
    nut_factor,
    torque_nm,
)
from specs.mechanics.thread import Thread, thread

POUND_N = 4.4482216152605
FOOT_POUND_NM = 1.3558179483314004


def known(name: str) -> Thread:
    """A thread that is understood."""
    found = thread(name)
    assert found is not None
    return found


# Fine threads of the 2001 edition of VDI 2230 at 90 % of the yield, as a public catalogue page prints them:
# for friction 0.10, 0.12, 0.14 and classes 8.8, 10.9, 12.9 the clamp loads in kN, then the torques in N·m.
VDI = {
    "M8x1": ("20.7 30.4 35.6 20.2 29.7 34.7 19.7 28.9 33.9", "22.8 33.5 39.2 26.1 38.3 44.9 29.2 42.8 50.1"),
    "M10x1.25": ("32.4 47.5 55.6 31.6 46.4 54.3 30.8 45.2 52.9", "44 65 76 51 75 87 57 83 98"),
    "M12x1.25": ("49.1 72.1 84.4 48.0 70.5 82.5 46.8 68.7 80.4", "79 116 135 90 133 155 101 149 174"),
    "M16x1.5": ("89.6 131.6 154.0 87.6 128.7 150.6 85.5 125.5 146.9", "189 278 325 218 320 374 244 359 420"),
    "M20x1.5": ("151 215 252 148 211 246 144 206 241", "392 558 653 454 646 756 511 728 852"),
    "M24x2": ("213 304 355 209 297 348 204 290 339", "666 949 1110 769 1095 1282 865 1232 1442"),
}


@pytest.mark.parametrize("name", VDI)
def test_the_fine_thread_table_of_vdi_2230(name: str) -> None:
    """Loads within 0.4 %, torques within 1.2 %: the table prints whole N·m."""
    of = known(name)
    loads, torques = ([float(cell) for cell in row.split()] for row in VDI[name])
    cells = [(friction, kind) for friction in (0.10, 0.12, 0.14) for kind in ("8.8", "10.9", "12.9")]
    for (friction, kind), printed_kn, printed_nm in zip(cells, loads, torques, strict=True):
        strength = grade(kind, of)
        assert strength is not None
        clamp = assembly_clamp_n(of, strength, friction)
        assert clamp / 1000 == pytest.approx(printed_kn, rel=0.004)
        assert friction_torque_nm(clamp, of, friction, friction, bearing_mm(of)) == pytest.approx(printed_nm, rel=0.012)


# T = K·D·F as a public conveyor user guide tabulates it: plain K 0.20 and zinc K 0.22, ft·lb, at 43, 69 and 98 ksi.
@pytest.mark.parametrize(
    ("name", "area_in2", "printed"),
    [
        ("1/4-20", 0.0318, (6, 6, 9, 10, 13, 14)),
        ("3/8-16", 0.0775, (21, 23, 33, 37, 47, 52)),
        ("1/2-13", 0.1419, (51, 56, 82, 90, 116, 127)),
        ("3/4-10", 0.3340, (180, 197, 288, 317, 409, 450)),
        ("3/4-16", 0.3730, (200, 221, 322, 354, 457, 503)),
    ],
)
def test_a_public_table_of_torques(name: str, area_in2: float, printed: tuple[int, ...]) -> None:
    cells = [(psi, factor) for psi in (43_000, 69_000, 98_000) for factor in (0.20, 0.22)]
    for (psi, factor), foot_pounds in zip(cells, printed, strict=True):
        clamp = psi * area_in2 * POUND_N
        assert torque_nm(clamp, factor, known(name)) / FOOT_POUND_NM == pytest.approx(foot_pounds, abs=0.55)


# A hardware seller's chart: 75 % of proof at grade 2, K 0.20; ft·lb computed exactly (the chart cuts 5.47 to 5.4).
@pytest.mark.parametrize(
    ("name", "pounds", "foot_pounds"),
    [("1/4-20", 1312, 5.466), ("1/2-13", 5853, 48.78), ("3/4-10", 13778, 172.2), ("7/8-9", 11435, 166.75)],
)
def test_a_sellers_chart(name: str, pounds: float, foot_pounds: float) -> None:
    clamp = pounds * POUND_N
    assert torque_nm(clamp, 0.20, known(name)) / FOOT_POUND_NM == pytest.approx(foot_pounds, rel=0.001)
    assert clamp_n(foot_pounds * FOOT_POUND_NM, 0.20, known(name)) == pytest.approx(clamp, rel=0.001)


def test_friction_of_a_metric_screw_as_a_page_on_jis_b_1083_has_it() -> None:
    """M10, both frictions 0.15, bearing face 13.0 mm: K = 0.1995110 by its exact form; ours rounds 1/2π."""
    assert nut_factor(known("M10"), 0.15, 0.15, 13.0) == pytest.approx(0.1995110, rel=0.005)


@pytest.mark.parametrize(("friction", "torque"), [(0.10, 28.08484), (0.12, 32.74180), (0.14, 37.39877)])
def test_the_form_of_vdi_2230_at_20_kilonewtons(friction: float, torque: float) -> None:
    """M10, bearing diameter 12.815 mm; the form of ISO 16047 gives 0.3 % less."""
    assert friction_torque_nm(20_000, known("M10"), friction, friction, 12.815) == pytest.approx(torque, rel=1e-6)


def test_shigleys_example_8_4() -> None:
    """3/4-16 UNF at 25,000 lbf, friction 0.15: 3551 lbf·in by the full formula, 3750 with K = 0.2 (from memory)."""
    of = known("3/4-16 UNF")
    clamp = 25_000 * POUND_N
    inch_pounds = FOOT_POUND_NM / 12
    assert torque_nm(clamp, 0.2, of) / inch_pounds == pytest.approx(3750, rel=1e-6)
    # His collar is 0.625·D in radius terms, which is a bearing face of 1.25·D.
    assert friction_torque_nm(clamp, of, 0.15, 0.15, 1.25 * of.diameter_mm) / inch_pounds == pytest.approx(
        3551, rel=0.005
    )


# AC 43.13-1B table 7-1: no formula made it, but its torques are plausible for 40 ksi in the bolt: K 0.11 to 0.22.
@pytest.mark.parametrize(
    ("name", "low", "high"),
    [("1/4-28", 50, 70), ("5/16-24", 100, 140), ("3/8-24", 160, 190), ("1/2-13", 400, 480), ("9/16-18", 800, 1000)],
)
def test_aircraft_torques_lie_between_plausible_frictions(name: str, low: float, high: float) -> None:
    of = known(name)
    clamp = 40_000 * of.stress_area_mm2 / 25.4**2 * POUND_N
    for inch_pounds in (low, high):
        torque = inch_pounds * FOOT_POUND_NM / 12
        assert torque_nm(clamp, 0.11, of) < torque < torque_nm(clamp, 0.22, of)


@given(
    factor=st.floats(0.08, 0.4),
    torque=st.floats(0.1, 2000),
    name=st.sampled_from(["M5", "M12x1.75", "5/8-11", "M24x2"]),
)
def test_clamp_and_torque_are_each_others_inverse(factor: float, torque: float, name: str) -> None:
    of = known(name)
    assert torque_nm(clamp_n(torque, factor, of), factor, of) == pytest.approx(torque)
    even = even_friction(of, factor)
    assert even == 0 or nut_factor(of, even, even, bearing_mm(of)) == pytest.approx(factor)


def test_twist_adds_to_tension_as_von_mises_has_it() -> None:
    """By hand: M12 at 75 N·m, K 0.15. Thread moment, its shear in a bar of the stress diameter, √(σ² + 3τ²)."""
    of, torque, factor = known("M12x1.75"), 75.0, 0.15
    strength = grade("10.9", of)
    assert strength is not None
    found = load(torque, factor, of, strength)
    force = 75_000 / (0.15 * 12)
    friction = (0.15 * 12 - 0.16 * 1.75) / (0.58 * (12 - 0.649519 * 1.75) + (16.63 + 13.5) / 4)
    moment = force * (0.16 * 1.75 + 0.58 * (12 - 0.649519 * 1.75) * friction)
    diameter = 12 - 0.9382 * 1.75
    shear = 16 * moment / (pi * diameter**3)
    tension = force / (pi / 4 * diameter**2)
    assert found.combined_mpa == pytest.approx((tension**2 + 3 * shear**2) ** 0.5)
    assert found.combined_of_yield == pytest.approx(found.combined_mpa / 940)


def test_the_band_is_widest_where_friction_is_least() -> None:
    of = known("5/8-11")
    strength = grade("SAE 5", of)
    assert strength is not None
    found = band(122.0, 0.16, of, strength)
    assert found.dry.clamp_n < found.usual.clamp_n < found.slippery.clamp_n
    assert found.slippery.clamp_n - found.usual.clamp_n > found.usual.clamp_n - found.dry.clamp_n
    assert found.slippery.clamp_n == pytest.approx(found.usual.clamp_n / 0.75)


def test_numbers_that_are_none() -> None:
    of = known("M8")
    strength = grade("8.8", of)
    assert strength is not None
    for factor in (0.0, -0.1):
        with pytest.raises(ValueError, match="nut factor"):
            clamp_n(10, factor, of)
    with pytest.raises(ValueError, match="scatter"):
        band(10, 0.15, of, strength, 1.0)
