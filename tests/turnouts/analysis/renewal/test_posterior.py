"""What a component's welds will last, between its own record and its family's."""

import numpy as np
import pytest
from scipy.integrate import quad

from turnouts.analysis.recurrence.life_fits import fit_life
from turnouts.analysis.recurrence.lives import Life, LifeFit, Shape
from turnouts.analysis.renewal.posterior import weld_life

BETWEEN = 0.3


def family(shape: Shape = Shape.WEIBULL) -> LifeFit:
    mgt = 30 * np.random.default_rng(1).weibull(2.0, 200)
    found = fit_life([Life(float(min(m, 50)), bool(m <= 50)) for m in mgt], shape)
    assert isinstance(found, LifeFit)
    return found


def test_without_lives_of_its_own_a_component_is_as_its_family() -> None:
    fit = family()
    found = weld_life(fit, BETWEEN, [])
    assert found.log_life == fit.location
    assert found.log_life_sd == pytest.approx((fit.covariance[0][0] + BETWEEN**2) ** 0.5)
    assert found.mean_mgt == pytest.approx(fit.mean, rel=1e-9)


def test_the_normal_approximation_is_near_the_posterior_by_integration() -> None:
    fit = family()
    own = [Life(10.0, True), Life(14.0, True), Life(8.0, True), Life(6.0, False)]
    shape, variance = 1 / fit.scale, fit.covariance[0][0] + BETWEEN**2

    def density(at: float) -> float:
        z = [shape * (np.log(x.mgt) - at) for x in own]
        likely = sum((a if x.failed else 0.0) - np.exp(a) for a, x in zip(z, own, strict=True))
        return float(np.exp(likely - (at - fit.location) ** 2 / (2 * variance) + 10))

    whole = quad(density, 0, 6)[0]
    mean = quad(lambda a: a * density(a), 0, 6)[0] / whole
    spread = (quad(lambda a: (a - mean) ** 2 * density(a), 0, 6)[0] / whole) ** 0.5
    found = weld_life(fit, BETWEEN, own)
    assert found.log_life == pytest.approx(mean, abs=0.15 * spread)
    assert found.log_life_sd == pytest.approx(spread, rel=0.1)


def test_many_lives_of_its_own_outweigh_the_family() -> None:
    own = [Life(float(m), True) for m in 8 * np.random.default_rng(2).weibull(2.0, 300)]
    assert np.exp(weld_life(family(), BETWEEN, own).log_life) == pytest.approx(8, rel=0.1)


def test_a_weld_still_running_speaks_for_long_life() -> None:
    running = weld_life(family(), BETWEEN, [Life(60.0, False)])
    assert running.log_life > family().location
    assert (running.own_welds, running.own_failures) == (1, 0)


def test_draws_with_one_seed_are_the_same_and_have_the_posterior_spread() -> None:
    found = weld_life(family(), BETWEEN, [])
    scales, shapes = found.draws(20_000, 3)
    assert (scales == found.draws(20_000, 3)[0]).all()
    assert np.log(scales).std() == pytest.approx(found.log_life_sd, rel=0.03)
    assert np.log(shapes).mean() == pytest.approx(found.log_shape, abs=0.01)


def test_only_a_weibull_family_with_a_spread_is_taken() -> None:
    with pytest.raises(ValueError, match="Weibull"):
        weld_life(family(Shape.LOGNORMAL), BETWEEN, [])
    with pytest.raises(ValueError, match="Weibull"):
        weld_life(family(), 0.0, [])
