"""A piece under a torch: the lumped law, its balance and its bounds."""

from itertools import pairwise
from math import e

import pytest
from hypothesis import given
from hypothesis import strategies as st

from repairs.welding.lump import HeatedBody, heated_body
from repairs.welding.refusals import OutsideValidity
from repairs.welding.rows_toml import table_of
from turnouts.analysis.terms import ComponentKind, Steel

EXAMPLE = HeatedBody(3e4, 20.0)
AIR = 15.0


def test_a_lump_keeps_one_part_in_e_of_its_excess_after_a_time_constant() -> None:
    # Lumped capacitance: T - Ta = (T0 - Ta) exp(-t / tau), tau = rho V c / (h A).
    tau_min = 3e4 / 20.0 / 60
    after = EXAMPLE.after(215, tau_min, AIR, 0)
    assert EXAMPLE.time_constant_min == pytest.approx(tau_min)
    assert after - AIR == pytest.approx(200 / e)


@given(st.floats(50, 500), st.floats(1000, 20000), st.floats(0.1, 120))
def test_heat_put_in_is_heat_kept_and_heat_lost(
    start: float, power_w: float, minutes: float
) -> None:
    # Energy balance by a fine trapezoid over the loss to the air.
    steps = 2000
    seconds = minutes * 60 / steps
    curve = [EXAMPLE.after(start, minutes * n / steps, AIR, power_w) for n in range(steps + 1)]
    lost = sum(20.0 * ((a + b) / 2 - AIR) * seconds for a, b in pairwise(curve))
    kept = 3e4 * (curve[-1] - start)
    assert kept + lost == pytest.approx(power_w * minutes * 60, rel=1e-4)


def test_torch_minutes_bring_the_steel_just_to_its_preheat() -> None:
    minutes = EXAMPLE.minutes_to_heat(5, 260, AIR, 20e3)
    assert EXAMPLE.after(5, minutes, AIR, 20e3) == pytest.approx(260)
    assert EXAMPLE.minutes_to_heat(260, 260, AIR, 20e3) == 0


def test_a_torch_too_small_for_the_preheat_is_refused() -> None:
    # 4 kW against 20 W/K settles 200 K over the air.
    with pytest.raises(OutsideValidity, match="second torch"):
        EXAMPLE.minutes_to_heat(5, AIR + 200, AIR, 4e3)
    assert EXAMPLE.minutes_to_heat(5, AIR + 199, AIR, 4e3) > 0


def test_the_lumped_law_is_only_used_under_its_biot_limit() -> None:
    # Incropera: valid for Bi = h (V / A) / k < 0.1.
    rows, metal = table_of("heating", "frog"), table_of("metals", "manganese")
    biot = (
        table_of("heating", "cooling").number("air_quench")
        * rows.number("section_mm2")
        / rows.number("perimeter_mm")
        / 1e3
        / metal.number("conductivity_w_per_m_k")
    )
    assert biot < 0.1
    assert heated_body(ComponentKind.FROG, Steel.MANGANESE, 300, "air_quench").loss_w_per_k > 0
    with pytest.raises(OutsideValidity, match="Biot"):
        # A row of 150 W/mK read as a coefficient of 150 W/m2K gives Bi 0.16.
        heated_body(ComponentKind.FROG, Steel.MANGANESE, 300, "reach_mm")
