"""When a limit is reached, and how sure that is."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from turnouts.analysis.wear.limits import Limit, chance_by, mgt_by, reach
from turnouts.analysis.wear.line import Line, line_of

TODAY = date(2026, 11, 25)
WORN = Limit(9.525, rising=True, name="3/8 in")


def line(level: float = 1.0, rate: float = 0.1, v00: float = 0.01, v11: float = 1e-4) -> Line:
    return Line(level, rate, ((v00, 0.0), (0.0, v11)), 0.3, 1e6)


def test_the_level_is_as_likely_as_not_past_the_limit_where_the_line_crosses_it() -> None:
    assert mgt_by(line(), WORN, 0.0, 0.5) == pytest.approx(85.25, abs=1e-4)
    assert chance_by(line(), WORN, 0.0, 85.25) == pytest.approx(0.5)


def test_the_chance_is_that_of_the_normal_distribution_worked_by_hand() -> None:
    # level at 60 MGT 7.0, error sqrt(0.01 + 1e-4 x 3600) = 0.6083; (7 - 9.525)/0.6083 = -4.151
    assert chance_by(line(), WORN, 0.0, 60.0) == pytest.approx(1.65e-5, rel=0.01)


def test_tonnage_limits_are_those_of_fieller() -> None:
    # Fieller: (1 + 0.1 x - 9.525)^2 = z^2 (0.01 + 1e-4 x^2), z = 1.2815516 for 10 and 90 %
    z2 = 1.2815515655446004**2
    roots = np.roots([0.01 - z2 * 1e-4, -2 * 8.525 * 0.1, 8.525**2 - z2 * 0.01])
    low, high = sorted(roots.real)
    assert mgt_by(line(), WORN, 0.0, 0.1) == pytest.approx(low, rel=1e-5)
    assert mgt_by(line(), WORN, 0.0, 0.9) == pytest.approx(high, rel=1e-5)


def test_a_falling_quantity_reaches_its_limit_from_above() -> None:
    flangeway = Line(47.6, -0.03, ((0.01, 0.0), (0.0, 1e-6)), 0.2, 1e6)
    limit = Limit(34.925, rising=False, name="1 3/8 in")
    assert mgt_by(flangeway, limit, 0.0, 0.5) == pytest.approx((47.6 - 34.925) / 0.03, rel=1e-6)


def test_a_rate_that_may_be_zero_never_makes_the_limit_sure() -> None:
    unsure = line(rate=0.001, v11=1e-4)
    assert mgt_by(unsure, WORN, 10.0, 0.9) is None
    told = reach(unsure, WORN, now_mgt=10, today=TODAY, mgt_a_year=20)
    assert told.crossings[2].on is None


def test_a_limit_that_lies_behind_is_reached_now() -> None:
    told = reach(line(level=12), WORN, now_mgt=5, today=TODAY, mgt_a_year=20)
    assert told.chance_now > 0.99
    assert {c.since_mgt for c in told.crossings} == {5}
    assert "past the limit already" in told.sentence


def test_the_chance_never_falls_with_tonnage() -> None:
    behind = Line(12.0, 0.01, ((0.01, 0.0), (0.0, 1e-2)), 0.3, 1e6)
    chances = [chance_by(behind, WORN, 2.0, float(x)) for x in range(2, 200)]
    assert min(chances) == chances[0]


@given(
    st.floats(0, 5), st.floats(0.01, 0.5), st.floats(1e-4, 0.3), st.floats(1e-8, 1e-5),
    st.sampled_from([0.1, 0.5, 0.9]),
)  # fmt: skip
def test_tonnage_and_chance_are_each_other_turned_round(
    level: float, rate: float, v00: float, v11: float, chance: float
) -> None:
    one = line(level, rate, v00, v11)
    found = mgt_by(one, WORN, 0.0, chance)
    if found is not None and found > 0:
        assert chance_by(one, WORN, 0.0, found) == pytest.approx(chance, abs=1e-4)


def test_the_day_follows_from_the_yearly_tonnage() -> None:
    sure = line(v00=1e-12, v11=1e-12)
    told = reach(sure, WORN, now_mgt=75.25, today=TODAY, mgt_a_year=20)
    # 10 MGT more at 20 a year: half a year, 182 days
    assert told.crossings[1].on == date(2027, 5, 26)


def test_no_day_follows_where_nothing_runs() -> None:
    with pytest.raises(ValueError, match="where tonnage passes"):
        reach(line(), WORN, now_mgt=0, today=TODAY, mgt_a_year=0)


def test_the_past_is_not_forecast() -> None:
    with pytest.raises(ValueError, match="before the present"):
        chance_by(line(), WORN, 10.0, 9.9)


def test_forecast_chances_come_true_as_often_as_they_say() -> None:
    """Lines through eight readings: how often is the limit truly reached by the 50 % point?"""
    rng = np.random.default_rng(7)
    x, reached = np.linspace(0, 40, 8), {0.1: 0, 0.5: 0, 0.9: 0}
    for _ in range(150):
        y = 1 + 0.1 * x + rng.normal(0, 0.3, 8)
        fitted = line_of(x, y, 1e-3)
        for chance in reached:
            by = mgt_by(fitted, WORN, 40.0, chance)
            assert by is not None
            reached[chance] += 1 + 0.1 * by >= 9.525
    for chance, times in reached.items():
        assert times / 150 == pytest.approx(chance, abs=3.5 * (chance * (1 - chance) / 150) ** 0.5)
