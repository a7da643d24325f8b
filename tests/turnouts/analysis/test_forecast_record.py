"""The record of earlier forecasts, on both sides of where it stands."""

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import beta, norm

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.forecast_record import (
    ChanceForecast,
    ChanceRecord,
    IntervalForecast,
    IntervalRecord,
    chance_record,
    crps_normal,
    interval_record,
    interval_score,
    met,
)
from turnouts.analysis.wear.limits import Limit
from turnouts.analysis.wear.line import line_of


def intervals(held: int, missed: int) -> list[IntervalForecast]:
    inside = [IntervalForecast(f"h{n}", 0, 10, 0.9, 5) for n in range(held)]
    return inside + [IntervalForecast(f"m{n}", 0, 10, 0.9, 12) for n in range(missed)]


def judged(held: int, missed: int) -> IntervalRecord:
    found = interval_record(intervals(held, missed))
    assert isinstance(found, IntervalRecord)
    return found


def chances(chance: float, came: int, of: int) -> list[ChanceForecast]:
    return [ChanceForecast(str(n), chance, n < came) for n in range(of)]


def recorded(forecasts: list[ChanceForecast]) -> ChanceRecord:
    found = chance_record(forecasts)
    assert isinstance(found, ChanceRecord)
    return found


def test_the_interval_of_the_share_is_clopper_and_pearsons() -> None:
    found = judged(16, 4)
    assert found.low == pytest.approx(beta.ppf(0.025, 16, 5))
    assert found.high == pytest.approx(beta.ppf(0.975, 17, 4))


@pytest.mark.parametrize(
    # of 40 intervals of 90 %: Clopper-Pearson's upper limit is 90.9 % at 32 held, 89.1 % at 31
    ("held", "missed", "stands", "said"),
    [(32, 8, True, "no sign"), (31, 9, False, "narrow"), (39, 1, True, "no sign"),
     (40, 0, False, "wide")],
)  # fmt: skip
def test_intervals_stand_until_their_share_speaks_against_them(
    held: int, missed: int, stands: bool, said: str
) -> None:
    found = judged(held, missed)
    assert found.stands is stands
    assert said in found.sentence


def test_an_interval_that_missed_pays_twenty_times_by_how_much() -> None:
    # Gneiting and Raftery (2007), equation 43, with alpha = 0.1: 10 + (2 / 0.1) x 2
    assert interval_score(IntervalForecast("A", 0, 10, 0.9, 12)) == pytest.approx(50)
    assert interval_score(IntervalForecast("A", 0, 10, 0.9, 10)) == 10
    assert interval_score(IntervalForecast("A", 0, 10, 0.9, -2)) == pytest.approx(50)


@pytest.mark.parametrize(("count", "enough"), [(4, False), (5, True)])
def test_five_outcomes_are_needed(count: int, enough: bool) -> None:
    assert isinstance(interval_record(intervals(count, 0)), IntervalRecord) is enough
    found = chance_record(chances(0.5, 2, count))
    assert isinstance(found, NotEnough) is not enough


def test_the_brier_score_worked_by_hand() -> None:
    rows = [ChanceForecast("a", 0.9, True), ChanceForecast("b", 0.1, False),
            ChanceForecast("c", 0.5, True), ChanceForecast("d", 0.7, False),
            ChanceForecast("e", 0.2, False)]  # fmt: skip
    found = recorded(rows)
    # 0.01 + 0.01 + 0.25 + 0.49 + 0.04 over five; always 0.4 would score 0.24
    assert found.brier == pytest.approx(0.16)
    assert found.skill == pytest.approx(1 - 0.16 / 0.24)
    assert (found.expected, found.came) == (pytest.approx(2.4), 2)


@pytest.mark.parametrize(
    ("came", "stands", "said"),
    # of 100 at 0.2: 20 expected, standard deviation 4
    [(28, True, "no sign"), (29, False, "too low"), (12, True, "no sign"), (11, False, "too high")],
)
def test_chances_stand_within_two_standard_deviations(came: int, stands: bool, said: str) -> None:
    found = recorded(chances(0.2, came, 100))
    assert found.stands is stands
    assert said in found.sentence


def test_bins_hold_every_forecast_once_also_the_sure_ones() -> None:
    rows = [ChanceForecast(str(n), p, p > 0.5) for n, p in enumerate(np.linspace(0, 1, 41))]
    found = recorded(rows)
    assert sum(b.forecasts for b in found.bins) == 41
    assert sum(b.came for b in found.bins) == found.came


def test_a_sure_forecast_that_failed_does_not_stand() -> None:
    assert not recorded(chances(0.0, 1, 5)).stands
    assert recorded(chances(0.0, 0, 5)).stands
    assert recorded(chances(0.0, 0, 5)).skill is None


@given(st.floats(-5, 5), st.floats(0.05, 3), st.floats(-8, 8))
def test_the_ranked_probability_score_is_its_integral(mean: float, sd: float, came: float) -> None:
    low, high = min(came, mean - 9 * sd), max(came, mean + 9 * sd)
    below = quad(lambda x: norm.cdf(x, mean, sd) ** 2, low, came, limit=200)[0]
    above = quad(lambda x: norm.sf(x, mean, sd) ** 2, came, high, limit=200)[0]
    assert crps_normal(mean, sd, came) == pytest.approx(below + above, rel=1e-4, abs=1e-6)


def test_a_sure_forecast_scores_by_its_distance() -> None:
    assert crps_normal(3, 0, 5) == 2
    with pytest.raises(ValueError, match="not below zero"):
        crps_normal(3, -1, 5)


def test_what_cannot_be_a_forecast_is_refused() -> None:
    with pytest.raises(ValueError, match="in order"):
        IntervalForecast("A", 1, 0, 0.9, 0)
    with pytest.raises(ValueError, match="between 0 and 1"):
        ChanceForecast("A", 1.1, True)
    mixed = [*intervals(5, 0), IntervalForecast("x", 0, 1, 0.5, 0)]
    with pytest.raises(ValueError, match="one promised chance"):
        interval_record(mixed)


def test_what_a_line_had_said_is_statsmodels_prediction_interval() -> None:
    """Level 1, rate 0.1 a MGT with scatter 0.2; the next reading at 55 MGT."""
    at = np.linspace(1, 40, 12)
    values = 1 + 0.1 * at + np.random.default_rng(3).normal(0, 0.2, 12)
    said = met(line_of(at, values, 1e-6), 55.0, None)
    fit = sm.OLS(values, sm.add_constant(at)).fit()
    low, high = fit.get_prediction([[1.0, 55.0]]).conf_int(obs=True, alpha=0.05)[0]
    assert (said.low, said.high) == (pytest.approx(low), pytest.approx(high))
    assert said.chance is None


@pytest.mark.parametrize("rising", [True, False])
def test_a_limit_on_the_edge_of_the_interval_is_passed_one_time_in_forty(rising: bool) -> None:
    at = np.linspace(1, 40, 12)
    values = 1 + 0.1 * at + np.random.default_rng(3).normal(0, 0.2, 12)
    line = line_of(at, values, 1e-6)
    edge = met(line, 55.0, None)
    found = met(line, 55.0, Limit(edge.high if rising else edge.low, rising))
    assert found.chance == pytest.approx(0.025)
