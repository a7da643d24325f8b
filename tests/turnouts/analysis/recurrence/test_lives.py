"""Lives between repairs: published censored data, lifelines and scipy."""

from math import exp

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.recurrence.life_fits import fit_life, life_sentence, likelier
from turnouts.analysis.recurrence.lives import Life, LifeFit, Shape

NIST = [Life(float(t), True) for t in (54, 187, 216, 240, 244, 335, 361, 373, 375, 386)]
NIST += [Life(500.0, False)] * 10
"""NIST/SEMATECH e-Handbook 8.4.1.3, read: ten failures and ten units that reached 500 h."""


def fit(lives: list[Life], shape: Shape = Shape.WEIBULL) -> LifeFit:
    found = fit_life(lives, shape)
    assert isinstance(found, LifeFit)
    return found


def drawn(seed: int, count: int, shape: float = 2.0, until: float = 60.0) -> list[Life]:
    mgt = 50 * np.random.default_rng(seed).weibull(shape, count)
    return [Life(float(min(m, until)), bool(m <= until)) for m in mgt]


def test_the_weibull_of_the_nist_handbook() -> None:
    found = fit(NIST)
    # printed there: shape 1.7208, scale 606.5280, log likelihood 75.135 (without its sign),
    # AIC 154.27, mean 540.737, standard deviation 323.806
    assert 1 / found.scale == pytest.approx(1.7208, abs=5e-5)
    assert exp(found.location) == pytest.approx(606.5280, abs=1e-3)
    assert found.log_likelihood == pytest.approx(-75.135, abs=5e-4)
    assert found.aic == pytest.approx(154.27, abs=5e-3)
    assert found.mean == pytest.approx(540.737, abs=5e-4)
    assert found.standard_deviation == pytest.approx(323.806, abs=5e-4)
    assert (found.failures, found.running) == (10, 10)


def test_the_lognormal_of_the_nist_handbook_and_which_is_likelier() -> None:
    # printed there: AIC 154.39
    assert fit(NIST, Shape.LOGNORMAL).aic == pytest.approx(154.39, abs=5e-3)
    better = likelier(NIST)
    assert isinstance(better, LifeFit)
    assert better.shape is Shape.WEIBULL


def test_the_weibull_is_that_of_lifelines_with_its_errors() -> None:
    from lifelines import WeibullFitter

    lives = drawn(3, 60)
    mgt, failed = [x.mgt for x in lives], [x.failed for x in lives]
    theirs, found = WeibullFitter().fit(mgt, failed), fit(lives)
    assert exp(found.location) == pytest.approx(theirs.lambda_, rel=1e-4)
    assert 1 / found.scale == pytest.approx(theirs.rho_, rel=1e-4)
    assert found.log_likelihood == pytest.approx(theirs.log_likelihood_, abs=1e-5)
    errors = theirs.summary["se(coef)"]
    assert found.covariance[0][0] ** 0.5 == pytest.approx(
        errors["lambda_"] / theirs.lambda_, rel=1e-3
    )
    assert found.covariance[1][1] ** 0.5 == pytest.approx(errors["rho_"] / theirs.rho_, rel=1e-3)


def test_the_lognormal_is_that_of_lifelines_with_its_errors() -> None:
    from lifelines import LogNormalFitter

    lives = drawn(4, 60)
    theirs = LogNormalFitter().fit([x.mgt for x in lives], [x.failed for x in lives])
    found = fit(lives, Shape.LOGNORMAL)
    assert found.location == pytest.approx(theirs.mu_, rel=1e-4)
    assert found.scale == pytest.approx(theirs.sigma_, rel=1e-4)
    assert found.covariance[0][0] ** 0.5 == pytest.approx(
        theirs.summary["se(coef)"]["mu_"], rel=1e-3
    )


def test_both_are_those_of_scipy_on_censored_data() -> None:
    lives = drawn(5, 40)
    data = stats.CensoredData(
        [x.mgt for x in lives if x.failed], right=[x.mgt for x in lives if not x.failed]
    )
    shape, _, scale = stats.weibull_min.fit(data, floc=0)
    found = fit(lives)
    assert (1 / found.scale, exp(found.location)) == pytest.approx((shape, scale), rel=1e-3)
    sigma, _, median = stats.lognorm.fit(data, floc=0)
    lognormal = fit(lives, Shape.LOGNORMAL)
    assert (lognormal.scale, exp(lognormal.location)) == pytest.approx((sigma, median), rel=1e-3)


@pytest.mark.parametrize("shape", list(Shape))
def test_quantile_and_survival_are_each_other_turned_round(shape: Shape) -> None:
    found = fit(NIST, shape)
    for share in (0.01, 0.1, 0.5, 0.9):
        assert found.surviving(found.quantile(share)) == pytest.approx(1 - share)
        low, high = found.quantile_limits(share)
        assert low < found.quantile(share) < high
    low, high = found.surviving_limits(400.0)
    assert low < found.surviving(400.0) < high


def test_the_limits_of_the_median_life_hold_about_as_often_as_they_say() -> None:
    true = 50 * np.log(2) ** 0.5
    inside = sum(
        low <= true <= high
        for low, high in (fit(drawn(seed, 40)).quantile_limits(0.5) for seed in range(300))
    )
    assert inside / 300 == pytest.approx(0.95, abs=0.04)


def test_a_weld_that_has_lasted_long_is_nearer_its_end() -> None:
    found = fit(NIST)
    assert found.failing_within(50, 400) > found.failing_within(50, 0)
    # by hand: 1 - S(450)/S(400) with S(t) = exp(-(t/606.5276)^1.720797)
    expected = 1 - exp(-((450 / 606.5276) ** 1.720797) + (400 / 606.5276) ** 1.720797)
    assert found.failing_within(50, 400) == pytest.approx(expected, rel=1e-5)


def test_two_failures_are_not_enough_and_three_are() -> None:
    running = [Life(100.0, False)] * 20
    two = fit_life([Life(10.0, True), Life(20.0, True), *running], Shape.WEIBULL)
    assert isinstance(two, NotEnough)
    assert (two.have, two.need) == (2, 3)
    assert fit([Life(10.0, True), Life(20.0, True), Life(40.0, True), *running]).failures == 3


def test_lives_that_all_ended_at_one_tonnage_have_no_spread() -> None:
    with pytest.raises(ValueError, match="one tonnage"):
        fit_life([Life(10.0, True)] * 5, Shape.WEIBULL)


def test_lives_that_differ_by_rounding_alone_have_no_spread_either() -> None:
    """0.1 + 0.2 is not 0.3: tonnages that are one come out a hair apart."""
    with pytest.raises(ValueError, match="one tonnage"):
        fit_life([Life(10.0, True), Life(10.0 + 1e-13, True)] * 5, Shape.LOGNORMAL)


def test_a_life_of_no_tonnage_is_refused() -> None:
    with pytest.raises(ValueError, match="not above zero"):
        Life(0.0, True)


def test_the_sentence_carries_counts_and_limits() -> None:
    said = life_sentence(fit(NIST))
    assert "10 that failed and 10 still in service" in said
    assert "95 % confidence" in said


@settings(max_examples=30)
@given(st.integers(0, 5000), st.floats(0.01, 1000), st.sampled_from(list(Shape)))
def test_a_change_of_unit_scales_the_life_and_nothing_else(
    seed: int, unit: float, shape: Shape
) -> None:
    lives = drawn(seed, 30)
    plain = fit(lives, shape)
    changed = fit([Life(x.mgt * unit, x.failed) for x in lives], shape)
    assert changed.scale == pytest.approx(plain.scale, rel=1e-5)
    assert changed.quantile(0.5) == pytest.approx(unit * plain.quantile(0.5), rel=1e-5)
