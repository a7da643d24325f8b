"""More current lays more metal and puts in more heat, in proportion, and only near the own one."""

import pytest

from repairs.welding.at_current import at_current, current_range_a
from repairs.welding.deposit import heat_input_kj_per_mm
from repairs.welding.procedures import Procedure
from repairs.welding.refusals import OutsideValidity


def test_deposit_and_feed_go_with_the_current_and_travel_stays(wire: Procedure) -> None:
    more = at_current(wire, wire.settings.current_a * 1.1).settings
    assert more.deposit_rate_kg_per_h == pytest.approx(wire.settings.deposit_rate_kg_per_h * 1.1)
    assert more.travel_mm_per_min == wire.settings.travel_mm_per_min
    assert more.wire_feed_m_per_min == pytest.approx(wire.settings.wire_feed_m_per_min * 1.1)


def test_heat_input_goes_with_the_current(wire: Procedure) -> None:
    # EN 1011-1: Q = k U I / v, so in proportion to the current at the same voltage and travel.
    def heat(of: Procedure) -> float:
        s = of.settings
        return heat_input_kj_per_mm(s.arc_efficiency, s.voltage_v, s.current_a, s.travel_mm_per_min)

    less = at_current(wire, wire.settings.current_a * 0.9)
    assert heat(less) == pytest.approx(0.9 * heat(wire))


def test_sticks_have_no_feed_at_any_current(stick: Procedure) -> None:
    assert at_current(stick, stick.settings.current_a * 0.9).settings.wire_feed_m_per_min is None


@pytest.mark.parametrize(("end", "step"), [(0, -0.01), (1, 0.01)])
def test_the_ends_of_the_range_are_forecast_and_a_hair_beyond_is_refused(
    wire: Procedure, end: int, step: float
) -> None:
    edge = current_range_a(wire)[end]
    assert at_current(wire, edge).settings.current_a == edge
    with pytest.raises(OutsideValidity, match="264 to 396 A"):
        at_current(wire, edge + step)
