"""Time as a distribution: closed-form moments, quantiles, chances and last starts."""

from math import exp, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from repairs.welding.refusals import WeldingRefusal
from repairs.welding.timeline import (
    DRAWS,
    PROBABILITIES,
    Spread,
    Stage,
    chance_of,
    moments,
    quantile_of,
    remaining_quantiles,
    spread_shares,
    stage_spread,
)

HALF = Spread(shared=0.5, wait_sigma=0.5)
stages = st.lists(
    st.builds(
        Stage,
        st.uuids().map(str),
        st.just("stage"),
        st.floats(0, 30),
        st.floats(0.5, 60),
        st.floats(0, 0.6),
        st.floats(0, 30),
    ),
    min_size=1,
    max_size=6,
    unique_by=lambda stage: stage.key,
)


def stage(key: str, work_min: float, sigma: float, fixed_min: float = 0.0) -> Stage:
    return Stage(key, key, fixed_min, work_min, sigma)


def test_one_log_normal_stage_has_the_textbooks_moments() -> None:
    # Log-normal: mean m exp(s2/2), variance mean2 (exp(s2) - 1).
    found = moments([stage("a", 20, 0.4)], HALF)
    mean = 20 * exp(0.08)
    assert found.mean_min == pytest.approx(mean)
    assert found.sd_min == pytest.approx(mean * sqrt(exp(0.16) - 1))


def test_without_sharing_variances_add_and_with_full_sharing_deviations_add() -> None:
    twin = [stage("a", 20, 0.4), stage("b", 20, 0.4)]
    one = moments(twin[:1], HALF).sd_min
    assert moments(twin, Spread(0, 0.5)).sd_min == pytest.approx(one * sqrt(2))
    assert moments(twin, Spread(0, 0.5)).shared == 0
    assert moments(twin, Spread(1, 0.5)).sd_min == pytest.approx(one * 2)
    assert moments(twin, Spread(1, 0.5)).shared == pytest.approx(1)


def test_the_simulation_agrees_with_the_closed_form() -> None:
    job = [
        stage("gouge", 30, 0.4),
        stage("weld", 90, 0.25),
        Stage("layer", "layer", 0, 40, 0.25, 25),
        stage("proof", 6, 0.2, fixed_min=22),
    ]
    total = np.array(remaining_quantiles(job, HALF, 11)[0])
    found = moments(job, HALF)
    # 199 quantiles stand for the draws but for half a per cent in each tail; 4,000 draws leave
    # the mean uncertain by sd / sqrt(4000), under 1 % of it here.
    assert float(total.mean()) == pytest.approx(found.mean_min, rel=0.02)
    assert float(total.std()) == pytest.approx(found.sd_min, rel=0.1)


@given(stages, st.integers(0, 2**32 - 1))
def test_quantiles_rise_and_the_rest_shrinks_stage_by_stage(job: list[Stage], seed: int) -> None:
    remaining = np.array(remaining_quantiles(job, HALF, seed))
    assert (np.diff(remaining, axis=1) >= 0).all()
    assert (np.diff(remaining, axis=0) <= 1e-9).all()


@given(stages, st.floats(0.1, 60), st.integers(0, 100))
def test_a_stage_more_or_longer_never_makes_the_job_shorter(
    job: list[Stage], more: float, seed: int
) -> None:
    whole = np.array(remaining_quantiles([*job, stage("added", more, 0.3)], HALF, seed)[0])
    assert (whole >= np.array(remaining_quantiles(job, HALF, seed)[0])).all()


def test_the_same_seed_gives_the_same_draws_and_another_does_not() -> None:
    job = [stage("a", 20, 0.4), stage("b", 30, 0.2)]
    assert remaining_quantiles(job, HALF, 3) == remaining_quantiles(job, HALF, 3)
    assert remaining_quantiles(job, HALF, 3) != remaining_quantiles(job, HALF, 4)


def test_a_single_stages_quantiles_are_the_log_normals() -> None:
    # Median 20, 80 % at 20 exp(0.8416 x 0.3) = 25.74 (standard normal table).
    own = stage_spread(stage("a", 20, 0.3, fixed_min=5), HALF)
    assert own.median_min == pytest.approx(25)
    assert own.p80_min == pytest.approx(5 + 25.74, abs=0.01)
    assert own.sigma == pytest.approx(0.3)
    drawn = remaining_quantiles([stage("a", 20, 0.3, fixed_min=5)], HALF, 1)[0]
    assert quantile_of(drawn, 0.8) == pytest.approx(5 + 25.74, rel=0.03)


@given(st.integers(0, len(PROBABILITIES) - 1))
def test_the_chance_within_a_quantile_is_its_probability(place: int) -> None:
    minutes = remaining_quantiles([stage("a", 20, 0.3)], HALF, 1)[0]
    assert chance_of(minutes, minutes[place]) == pytest.approx(PROBABILITIES[place])


def test_chances_stay_within_what_the_draws_can_say() -> None:
    minutes = remaining_quantiles([stage("a", 20, 0.3)], HALF, 1)[0]
    assert chance_of(minutes, 0) == 0
    assert chance_of(minutes, 1e6) == PROBABILITIES[-1] == 0.995
    assert DRAWS * (1 - PROBABILITIES[-1]) == pytest.approx(20)


@pytest.mark.parametrize("probability", [0.0, 0.004, 0.996, 1.0])
def test_a_quantile_the_draws_cannot_give_is_refused(probability: float) -> None:
    minutes = remaining_quantiles([stage("a", 20, 0.3)], HALF, 1)[0]
    with pytest.raises(WeldingRefusal, match="range the simulation supports"):
        quantile_of(minutes, probability)


def test_shares_of_the_spread_add_up_and_agree_with_the_simulation() -> None:
    # Reference: covariance of each stage's draws with the total's, 200,000 draws of the same law.
    job = [
        Stage("gouging", "Gouging", 0, 20, 0.4),
        Stage("layer", "Layer", 2, 60, 0.25, wait_min=25),
        Stage("clearing", "Clearing", 5, 15, 0.25),
    ]
    draw = np.random.default_rng(3)
    day, cooling = draw.standard_normal((2, 200_000))
    rows = []
    for stage in job:
        mixed = np.sqrt(0.5) * day + np.sqrt(0.5) * draw.standard_normal(200_000)
        wait = stage.wait_min * np.exp(0.5 * cooling)
        rows.append(stage.fixed_min + stage.work_min * np.exp(stage.sigma * mixed) + wait)
    total = np.sum(rows, axis=0)
    drawn = [np.cov(row, total)[0, 1] / np.var(total) for row in rows]
    shares = spread_shares(job, HALF)
    assert sum(shares) == pytest.approx(1.0)
    assert shares == pytest.approx(drawn, abs=0.02)


def test_a_job_in_which_nothing_varies_has_no_driver() -> None:
    still = [Stage("briefing", "Briefing", fixed_min=15, work_min=0, sigma=0)]
    assert spread_shares(still, Spread(0.5, 0.5)) == (0.0,)
