"""Cooling time from 800 to 500 degC against the annex worked by hand, and what it refuses."""

import pytest

from repairs.welding.heat.t85 import Joint, cooling_advice, cooling_time
from repairs.welding.refusals import OutsideValidity
from turnouts.analysis.terms import Steel

# Worked by hand from the formulas as printed in a public source that cites EN 1011-2, F = 1.
VECTORS = [
    (1.0, 20, 25, 5.288, 1.818, 14.66),
    (1.2, 150, 20, 9.415, 7.627, 18.00),
    (2.0, 100, 15, 13.286, 28.959, 22.15),
]


@pytest.mark.parametrize(("heat", "start", "thick", "three", "two", "transition"), VECTORS)
def test_both_times_and_the_transition_are_the_annexs(
    heat: float, start: float, thick: float, three: float, two: float, transition: float
) -> None:
    found = cooling_time(Steel.CARBON, heat, thick, start)
    assert found.thick_s == pytest.approx(three, abs=0.001)
    assert found.thin_s == pytest.approx(two, abs=0.001)
    assert found.transition_mm == pytest.approx(transition, abs=0.01)
    assert found.seconds == max(found.thick_s, found.thin_s)
    assert found.dimensions == (3 if thick > transition else 2)


def test_at_the_transition_both_times_are_one() -> None:
    edge = cooling_time(Steel.CARBON, 1.0, 25, 20).transition_mm
    found = cooling_time(Steel.CARBON, 1.0, edge, 20)
    assert found.thick_s == pytest.approx(found.thin_s)


def test_a_butt_run_and_a_fillet_cool_faster_than_a_bead_on_plate() -> None:
    plate = cooling_time(Steel.CARBON, 1.0, 25, 20)
    butt = cooling_time(Steel.CARBON, 1.0, 25, 20, Joint.BUTT_RUN)
    fillet = cooling_time(Steel.CARBON, 1.0, 25, 20, Joint.CORNER_FILLET)
    assert butt.thick_s == pytest.approx(0.9 * plate.thick_s)
    assert butt.thin_s == pytest.approx(0.9 * plate.thin_s)
    assert fillet.thick_s == pytest.approx(0.67 * plate.thick_s)
    assert fillet.thin_s == pytest.approx(0.9 * plate.thin_s)


def test_manganese_steel_has_no_such_time() -> None:
    with pytest.raises(OutsideValidity, match="says nothing about manganese steel"):
        cooling_time(Steel.MANGANESE, 1.0, 40, 20)


@pytest.mark.parametrize(("heat", "thick", "start"), [(1, 25, 500), (0, 25, 20), (1, 0, 20)])
def test_values_the_formula_cannot_take_are_refused(
    heat: float, thick: float, start: float
) -> None:
    with pytest.raises(OutsideValidity):
        cooling_time(Steel.CARBON, heat, thick, start)
    assert cooling_time(Steel.CARBON, 1, 25, 499).seconds > 0


def test_the_advice_names_time_and_source() -> None:
    # 3D at 260 degC, 1 kJ/mm: 5400 (1/240 - 1/540) = 12.5 s; 2D on 40 mm is shorter.
    said = cooling_advice(Steel.CARBON, 1.0, 40, 260)
    assert "about 12 s" in said or "about 13 s" in said
    assert "EN 1011-2" in said
