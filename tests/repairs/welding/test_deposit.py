"""Handbook figures for weld metal, filler, stub loss, cost and heat input."""

from math import floor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from repairs.welding.cavity import Cavity
from repairs.welding.deposit import (
    efficiency_with_stub,
    filler_cost_per_kg,
    filler_kg,
    heat_input_kj_per_mm,
    mass_kg,
    weld_metal_cost_per_kg,
)
from repairs.welding.refusals import OutsideValidity

INCH, POUND = 25.4, 0.45359237
STEEL = 0.283 * POUND / INCH**3 * 1e9  # 0.283 lb/in3, the handbook's density of steel


def test_a_half_inch_fillet_weighs_0_424_lb_a_foot() -> None:
    # Welding handbook: 0.5 x 0.5 x 0.5 x 12 x 0.283 = 0.424 lb/ft.
    fillet = Cavity(12 * INCH, 0.0, INCH / 2, 0, side_slope=1, run_out=0, closed_sides=1)
    assert mass_kg(fillet.volume_mm3, STEEL) / POUND == pytest.approx(0.424, abs=0.001)


def test_three_pounds_laid_from_four_is_an_efficiency_of_75_per_cent() -> None:
    # Welding handbook, definition of deposition efficiency: 4 lb used, 3 lb deposit.
    assert filler_kg(3, 0.75) == pytest.approx(4)


# Electrode efficiency table, per cent, for stubs of 2, 3, 4 and 5 in (handbook; one entry
# is rounded, the others drop the figures after the first decimal).
STUB_TABLE = {
    (12, 60): (50.0, 45.0, 40.0, 35.0),
    (12, 65): (54.2, 48.7, 43.3, 37.9),
    (12, 70): (58.3, 52.5, 46.6, 40.8),
    (14, 60): (51.4, 47.1, 42.8, 38.5),
    (14, 65): (55.7, 51.1, 46.4, 41.8),
    (14, 70): (60.0, 55.0, 50.0, 45.0),
    (18, 60): (53.3, 50.0, 46.6, 43.3),
    (18, 65): (57.7, 54.2, 50.5, 46.9),
    (18, 70): (62.2, 58.3, 54.4, 50.5),
}


@pytest.mark.parametrize(
    ("rod_in", "laboratory", "stub_in", "expected"),
    [
        (rod, laboratory, stub, value)
        for (rod, laboratory), row in STUB_TABLE.items()
        for stub, value in zip((2, 3, 4, 5), row, strict=True)
    ],
)
def test_stub_loss_gives_the_handbook_table(
    rod_in: int, laboratory: int, stub_in: int, expected: float
) -> None:
    found = 100 * efficiency_with_stub(laboratory / 100, rod_in * INCH, stub_in * INCH)
    assert expected in (floor(found * 10 + 1e-6) / 10, round(found, 1))


def test_the_cost_worksheets_wire_and_stick_cost_what_it_prints() -> None:
    # Published worksheet, $ a pound of weld metal at 45 $/h: wire 10.2 lb/h, operating factor 0.45,
    # efficiency 0.87, 1.78 $/lb: 9.80 + 2.05; stick 5.4 lb/h, 0.30, 0.64, 0.85 $/lb: 27.78 + 1.33.
    wire = weld_metal_cost_per_kg(45, 10.2 * POUND, 0.45) * POUND
    stick = weld_metal_cost_per_kg(45, 5.4 * POUND, 0.30) * POUND
    assert wire == pytest.approx(9.80, abs=0.005)
    assert stick == pytest.approx(27.78, abs=0.005)
    assert filler_cost_per_kg(1.78, 0.87) == pytest.approx(2.05, abs=0.005)
    assert filler_cost_per_kg(0.85, 0.64) == pytest.approx(1.33, abs=0.005)


def test_heat_input_of_the_standards_formula() -> None:
    # EN 1011-1: 0.8 x 28 V x 250 A x 60 / (1000 x 300 mm/min) = 1.120 kJ/mm.
    assert heat_input_kj_per_mm(0.8, 28, 250, 300) == pytest.approx(1.120)


@given(st.floats(0.01, 50), st.floats(0.05, 1))
def test_filler_is_never_lighter_than_its_deposit(deposit: float, efficiency: float) -> None:
    assert filler_kg(deposit, efficiency) >= deposit


@pytest.mark.parametrize("efficiency", [0.0, -0.1, 1.01, float("nan")])
def test_an_efficiency_outside_0_to_1_is_refused(efficiency: float) -> None:
    with pytest.raises(OutsideValidity, match="Deposit efficiency"):
        filler_kg(1, efficiency)


def test_a_stub_as_long_as_its_rod_is_refused() -> None:
    with pytest.raises(OutsideValidity, match="stub"):
        efficiency_with_stub(0.65, 350, 350)


def test_an_arc_that_does_not_travel_has_no_heat_input() -> None:
    with pytest.raises(OutsideValidity, match="Travel speed"):
        heat_input_kj_per_mm(0.8, 28, 250, 0)
