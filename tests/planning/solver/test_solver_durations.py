"""Chances of sums of working times against exact log-normals and against simulation."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import lognorm

from planning.solver.durations import Fitted, chance_of_all, chance_within, minutes_for, moments
from planning.solver.problem import Duration

DRAWS = 200_000


def simulated(durations: list[Duration], seed: int = 0) -> np.ndarray:
    """Sums drawn by the definition: a common and an own part of each logarithm."""
    draw = np.random.default_rng(seed)
    common = draw.standard_normal(DRAWS)
    total = np.zeros(DRAWS)
    for d in durations:
        sigma = math.sqrt(math.log1p((d.sd_min / d.mean_min) ** 2))
        own = draw.standard_normal(DRAWS)
        z = math.sqrt(d.shared) * common + math.sqrt(1 - d.shared) * own
        total += np.exp(math.log(d.mean_min) - sigma**2 / 2 + sigma * z)
    return total


def sampling_error(p: float) -> float:
    """Four standard errors of a share p of the draws: 0.0019 at 0.95."""
    return 4 * math.sqrt(max(p * (1 - p), 1 / DRAWS) / DRAWS)


@pytest.mark.parametrize("shared", [0.0, 0.3, 0.9, 0.98])
@pytest.mark.parametrize("minutes", [70, 100, 140, 200])
def test_chance_of_one_time_is_the_log_normals_own(shared: float, minutes: float) -> None:
    # scipy.stats.lognorm with s = sqrt(ln(1 + cv^2)) and scale = mean / sqrt(1 + cv^2).
    sigma = math.sqrt(math.log1p(0.3**2))
    exact = lognorm.cdf(minutes, sigma, scale=100 / math.sqrt(1 + 0.3**2))
    assert chance_within([Duration(100, 30, shared)], minutes) == pytest.approx(exact, abs=1e-6)


times = st.builds(
    lambda mean, cv, shared: Duration(mean, mean * cv, shared),
    st.floats(20, 300),
    st.floats(0.05, 0.5),
    st.floats(0, 0.98),
)


@settings(max_examples=25, deadline=None)
@given(st.lists(times, min_size=2, max_size=6), st.sampled_from([0.8, 0.95, 0.99]))
def test_chance_of_a_sum_agrees_with_simulation(durations: list[Duration], chance: float) -> None:
    # 0.002 beside the sampling error: the fit's own error, largest for few very skewed times.
    total = simulated(durations)
    minutes = float(np.quantile(total, chance))
    assert chance_within(durations, minutes) == pytest.approx(
        chance, abs=sampling_error(chance) + 0.002
    )


@settings(max_examples=25, deadline=None)
@given(st.lists(times, min_size=1, max_size=4), st.floats(0.6, 0.99))
def test_minutes_for_a_chance_are_the_least_that_do(
    durations: list[Duration], chance: float
) -> None:
    fitted = Fitted(sum(moments(d) for d in durations))
    minutes = minutes_for(fitted, chance)
    assert fitted.chance(minutes) >= chance > fitted.chance(minutes - 1)


def test_more_shared_variance_makes_a_long_day_likelier() -> None:
    apart = [Duration(100, 30, 0.0)] * 4
    together = [Duration(100, 30, 0.9)] * 4
    # Standard deviations of the sum: 60 min apart, about 115 min together.
    assert chance_within(apart, 520) > 0.95 > 0.9 > chance_within(together, 520)


def test_times_without_spread_add_up_exactly() -> None:
    sure = [Duration(40, 0, 0.0), Duration(50, 0, 0.5)]
    assert chance_within(sure, 90) == pytest.approx(1)
    assert chance_within(sure, 89) == 0
    assert minutes_for(Fitted(sum(moments(d) for d in sure)), 0.95) == 90


@settings(max_examples=15, deadline=None)
@given(st.lists(times, min_size=2, max_size=4), st.floats(0.8, 1.3), st.floats(0.8, 1.3))
def test_estimate_for_two_sums_together_is_never_above_the_truth(
    durations: list[Duration], early: float, late: float
) -> None:
    # The first sum is part of the second, as when a crew waits before its last job.
    part, whole = durations[:1], durations
    limits = [early * sum(d.mean_min for d in part), late * sum(d.mean_min for d in whole)]
    fits = [Fitted(sum(moments(d) for d in some)) for some in (part, whole)]
    estimate = chance_of_all(list(zip(fits, limits, strict=True)))
    first, all_of_it = simulated_together(durations)
    truth = float(np.mean((first <= limits[0]) & (all_of_it <= limits[1])))
    assert estimate <= truth + sampling_error(truth) + 0.002


def simulated_together(durations: list[Duration]) -> tuple[np.ndarray, np.ndarray]:
    first = simulated(durations[:1], seed=1)
    # The same seed draws the same common part and the same first time again.
    return first, simulated(durations, seed=1)
