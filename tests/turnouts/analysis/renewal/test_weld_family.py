"""How a family's welds last, and how much its components differ."""

import numpy as np
import pytest
from scipy.integrate import quad

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.recurrence.life_fits import fit_life
from turnouts.analysis.recurrence.lives import Life, LifeFit, Shape
from turnouts.analysis.renewal.weld_family import (
    USUAL_SPREAD,
    WeldFamily,
    _sums,
    _unlikely,
    weld_family,
)


def made(components: int, spread: float, seed: int, each: int = 5) -> list[list[Life]]:
    """Weibull lives of shape 2 about 30 MGT, watched for 200 MGT of a component's life."""
    rng = np.random.default_rng(seed)
    found = []
    for level in 30 * np.exp(spread * rng.standard_normal(components)):
        own: list[Life] = []
        passed = 0.0
        for lasted in level * rng.weibull(2.0, each):
            left = 200 - passed
            own.append(Life(float(min(lasted, left)), bool(lasted < left)))
            passed += lasted
            if passed >= 200:
                break
        found.append(own)
    return found


def test_a_planted_spread_shape_and_life_are_found_again() -> None:
    found = weld_family(made(500, 0.4, seed=4))
    assert isinstance(found, WeldFamily)
    assert found.between_sd == pytest.approx(0.4, abs=0.05)
    assert 1 / found.fit.scale == pytest.approx(2.0, abs=0.1)
    assert np.exp(found.fit.location) == pytest.approx(30, rel=0.05)


def test_where_components_are_alike_it_is_the_plain_weibull_fit() -> None:
    lives = made(400, 0.0, seed=5)
    found = weld_family(lives)
    plain = fit_life([life for own in lives for life in own], Shape.WEIBULL)
    assert isinstance(found, WeldFamily)
    assert isinstance(plain, LifeFit)
    assert found.between_sd < 0.12
    assert found.fit.location == pytest.approx(plain.location, abs=0.01)
    assert found.fit.scale == pytest.approx(plain.scale, rel=0.03)


def test_the_likelihood_is_the_integral_over_a_components_own_level() -> None:
    own = [Life(12.0, True), Life(20.0, True), Life(6.0, False)]
    location, scale, spread = 3.0, 0.5, 0.4

    def density(u: float) -> float:
        z = [(np.log(x.mgt) - location - spread * u) / scale for x in own]
        like = sum((a - np.log(scale) if x.failed else 0) for a, x in zip(z, own, strict=True))
        like -= sum(np.exp(a) for a in z)
        return float(np.exp(like - u * u / 2) / np.sqrt(2 * np.pi))

    by_rule = -_unlikely(np.array([location, np.log(scale)]), spread, _sums([own]))
    assert by_rule == pytest.approx(np.log(quad(density, -9, 9)[0]), abs=1e-6)


def test_limits_of_the_life_cover_it_as_often_as_they_say() -> None:
    held = 0
    for seed in range(30):
        found = weld_family(made(60, 0.3, seed=100 + seed, each=3))
        assert isinstance(found, WeldFamily)
        error = found.fit.covariance[0][0] ** 0.5
        held += abs(found.fit.location - np.log(30)) <= 1.96 * error
    assert held >= 25  # of 30 at 95 %: 28.5 on average, below 25 with a chance of 0.3 %


def test_too_few_that_failed_are_said_and_three_are_enough() -> None:
    two = weld_family([[Life(10, True)], [Life(12, True)], [Life(40, False)]])
    assert isinstance(two, NotEnough)
    three = weld_family([[Life(10, True)], [Life(12, True)], [Life(15, True)], [Life(9, False)]])
    assert isinstance(three, WeldFamily)
    assert (three.between_sd, three.spread_known) == (USUAL_SPREAD, False)


def test_five_components_welded_twice_leave_the_spread_open_and_six_do_not() -> None:
    six = [[Life(10.0 + n, True), Life(12.0 + 2 * n, True)] for n in range(6)]
    less, enough = weld_family(six[:5]), weld_family(six)
    assert isinstance(less, WeldFamily)
    assert isinstance(enough, WeldFamily)
    assert (less.spread_known, enough.spread_known) == (False, True)
