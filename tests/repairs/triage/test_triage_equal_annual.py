"""Equal annual cost against published examples and a reference library."""

import numpy_financial as npf
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from repairs.triage.equal_annual import (
    Flow,
    equal_annual_cost,
    present_worth,
    recovery_factor,
    years_to_carry,
)


def yearly(amount: float, first: int, last: int) -> list[Flow]:
    return [Flow(year, amount) for year in range(first, last + 1)]


@pytest.mark.parametrize(
    ("first", "each", "salvage", "years", "exact", "printed"),
    [
        # Two methods of making a part, 15 % (wizedu.com question 1097152): printed 15,820 and
        # 14,831.2 from factors of four digits
        (20_000, 8_500, 5_000, 3, 15_819.65, 15_820),
        (15_000, 7_000, 3_000, 2, 14_831.40, 14_831.2),
    ],
)
def test_two_methods_at_15_percent(
    first: float, each: float, salvage: float, years: int, exact: float, printed: float
) -> None:
    flows = [Flow(0, first), *yearly(each, 1, years), Flow(years, -salvage)]
    cost = equal_annual_cost(flows, 0.15, years)
    assert cost == pytest.approx(exact, abs=0.005)
    assert cost == pytest.approx(printed, abs=0.5)


def test_maintenance_that_starts_after_five_years() -> None:
    """A machine without maintenance for five years, 10 % (wizedu.com question 23588)."""
    flows = [*yearly(1_000, 6, 10), *yearly(2_000, 11, 15)]
    assert present_worth(flows, 0.10) == pytest.approx(5_276.80, abs=0.01)
    assert equal_annual_cost(flows, 0.10, 15) == pytest.approx(693.76, abs=0.005)


def test_a_machine_with_two_major_services() -> None:
    """126,000 with services in years 3 and 6, 6 % over 8 years (brainquestionss question
    18597806, which prints 143,934.50 and 23,178.60)."""
    flows = [
        Flow(0, 126_000),
        *yearly(1_850, 1, 8),
        Flow(3, 14_000),
        Flow(6, 16_500),
        Flow(8, -27_000),
    ]
    assert present_worth(flows, 0.06) == pytest.approx(143_934.50, abs=0.005)
    assert equal_annual_cost(flows, 0.06, 8) == pytest.approx(23_178.63, abs=0.005)


def test_furniture_with_a_salvage_value() -> None:
    """1,000 falling to 200 in ten years at 7 %: 127.92 (Newnan, Engineering Economic Analysis,
    equation 6-4, with factors of four digits)."""
    cost = equal_annual_cost([Flow(0, 1_000), Flow(10, -200)], 0.07, 10)
    assert cost == pytest.approx(127.92, abs=0.03)


rates = st.just(0.0) | st.floats(1e-6, 0.3)
"""No interest, or some: between lie numbers with too few digits to divide by."""
amounts = st.lists(st.floats(-1e5, 1e5), min_size=1, max_size=30)


@given(amounts, rates)
def test_present_worth_is_that_of_the_reference_library(values: list[float], rate: float) -> None:
    flows = [Flow(year, amount) for year, amount in enumerate(values)]
    assert present_worth(flows, rate) == pytest.approx(npf.npv(rate, values), rel=1e-9, abs=1e-6)


@given(rates, st.integers(1, 60), st.floats(1, 1e6))
def test_equal_annual_cost_is_the_payment_of_the_reference_library(
    rate: float, years: int, worth: float
) -> None:
    wanted = -npf.pmt(rate, years, worth)
    assert equal_annual_cost([Flow(0, worth)], rate, years) == pytest.approx(wanted, rel=1e-6)


@given(st.floats(1e-4, 0.3), st.floats(0.2, 60), st.floats(1, 1e6))
def test_the_years_that_carry_a_cost_are_those_it_was_spread_over(
    rate: float, years: float, worth: float
) -> None:
    annual = worth * recovery_factor(rate, years)
    assume(rate * worth / annual < 0.999)  # a cost that never ends has lost its years
    assert years_to_carry(worth, annual, rate) == pytest.approx(years, rel=1e-4)


def test_an_annual_amount_below_the_interest_carries_nothing_ever() -> None:
    assert years_to_carry(1_000, 70, 0.07) is None
    assert years_to_carry(1_000, 70.01, 0.07) is not None
    assert years_to_carry(1_000, 100, 0) == 10
    assert years_to_carry(0, 100, 0.07) == 0


@pytest.mark.parametrize(("rate", "years"), [(-0.01, 5), (0.05, 0), (0.05, -1)])
def test_a_life_or_interest_that_cannot_be_is_refused(rate: float, years: float) -> None:
    with pytest.raises(ValueError, match=r"below zero|above zero"):
        equal_annual_cost([Flow(0, 1)], rate, years)
