"""Welding again against replacing, on cases worked by hand."""

from math import gamma

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from turnouts.analysis.renewal.posterior import WeldLife
from turnouts.analysis.renewal.weld_or_replace import (
    Advice,
    Option,
    Prices,
    Renewal,
    Way,
    break_even_curve,
    weld_or_replace,
)

SHAPE = 2.0
PRICES = Prices(weld=4000, replace_now=30_000, replace_in_window=30_000, failure=1000)


def welds(mean_mgt: float, sd: float = 1e-9) -> WeldLife:
    """Welds of a mean life, known exactly unless a spread is given."""
    log_life = float(np.log(mean_mgt / gamma(1 + 1 / SHAPE)))
    return WeldLife(log_life, sd, float(np.log(SHAPE)), 1e-9, 3, 2, 40)


def advice(own: WeldLife, prices: Prices = PRICES, **renewal: float) -> Advice:
    given = Renewal(**{"new_life_mgt": 150.0, "new_life_sd_mgt": 1e-6, **renewal})
    return weld_or_replace(own, welds(30), prices, given, seed=1)


def option(found: Advice, way: Way, times: int | None = None) -> Option:
    return next(o for o in found.options if o.way is way and times in (None, o.welds))


def test_the_steady_cost_is_cost_over_tonnage_of_the_cheapest_cycle() -> None:
    # like welds last 30 MGT: (30,000 + 1,000 + n x 5,000) / (150 + n x 30), n = 0: 206.67;
    # n = 6: 61,000 / 330 = 184.85, the cheapest of 0 to 6
    found = advice(welds(30))
    assert found.steady_cost_per_mgt == pytest.approx(61_000 / 330, rel=1e-6)
    assert found.break_even_mgt == pytest.approx(5000 / (61_000 / 330), rel=1e-6)


def test_costs_of_the_ways_are_those_worked_by_hand() -> None:
    found = advice(welds(20))
    steady, span = 61_000 / 330, 6 * 20 + 150
    assert found.span_mgt == pytest.approx(span)
    assert option(found, Way.REPLACE_NOW).cost_per_mgt == pytest.approx(steady)
    for n in (1, 2, 6):
        by_hand = (n * 5000 + steady * (span - 20 * n)) / span
        assert option(found, Way.WELD, n).cost_per_mgt == pytest.approx(by_hand, rel=1e-6)


@pytest.mark.parametrize(("mean", "way"), [(27.0, Way.REPLACE_NOW), (27.1, Way.WELD)])
def test_welding_pays_on_one_side_of_the_break_even_and_not_on_the_other(
    mean: float, way: Way
) -> None:
    # break-even at 5,000 / 184.85 = 27.05 MGT
    assert advice(welds(mean)).recommended.way is way


def test_what_is_not_known_is_not_called_clear() -> None:
    near = advice(welds(27.0, sd=0.5))
    assert not near.clear
    assert "Not clear-cut" in near.sentence
    assert 0.2 < near.chance_weld_pays < 0.8
    sure = advice(welds(60.0, sd=0.1))
    assert sure.clear
    assert sure.chance_weld_pays > 0.99


def test_uncertain_lives_widen_the_costs() -> None:
    vague, exact = (option(advice(welds(20, sd)), Way.WELD, 3) for sd in (0.5, 0.01))
    assert vague.high - vague.low > 5 * (exact.high - exact.low)


def test_shrinking_welds_end_in_a_replacement_after_some() -> None:
    # 40, 28, 19.6 ... MGT: the first pays, later ones do not
    found = advice(welds(40), shrink=0.7)
    assert found.recommended.way is Way.WELD
    assert 1 <= found.recommended.welds < 6


def test_a_window_near_and_cheap_is_waited_for_and_one_far_is_not() -> None:
    cheap = Prices(weld=4000, replace_now=30_000, replace_in_window=20_000, failure=1000)
    near = advice(welds(15), cheap, window_mgt=10.0)
    assert near.recommended.way is Way.REPLACE_IN_WINDOW
    far = advice(welds(5), cheap, window_mgt=120.0)
    assert far.recommended.way is Way.REPLACE_NOW
    # about 120 / 5 = 24 welds until then; renewal function for shape 2: window/mean - 0.36
    assert option(far, Way.REPLACE_IN_WINDOW).welds == pytest.approx(24.6, abs=1)


def test_an_expected_number_of_failures_is_the_renewal_function() -> None:
    """Far from the start it is t/m + (s^2/m^2 - 1)/2 (Cox, Renewal Theory, 1962, section 4.2)."""
    ratio = gamma(1 + 2 / SHAPE) / gamma(1 + 1 / SHAPE) ** 2 - 1
    failures = 100 / 10 + (ratio - 1) / 2
    found = option(advice(welds(10), window_mgt=100.0), Way.REPLACE_IN_WINDOW)
    steady, span = 61_000 / 330, 100 + 150
    by_hand = (4000 + failures * 5000 + steady * (span - 100)) / span
    assert found.cost_per_mgt == pytest.approx(by_hand, rel=0.01)


def test_chances_of_being_cheapest_add_up_to_one() -> None:
    found = advice(welds(25, 0.4), window_mgt=30.0)
    assert sum(o.chance_cheapest for o in found.options) == pytest.approx(1)
    costs = [o.cost_per_mgt for o in found.options]
    assert costs == sorted(costs)
    assert found.recommended == found.options[0]


def test_the_same_seed_gives_the_same_advice() -> None:
    assert advice(welds(25, 0.4)) == advice(welds(25, 0.4))


def test_the_curve_crosses_the_steady_cost_at_the_break_even() -> None:
    found = advice(welds(25))
    ((life, cost),) = break_even_curve(PRICES, [found.break_even_mgt])
    assert life == found.break_even_mgt
    assert cost == pytest.approx(found.steady_cost_per_mgt)


@settings(max_examples=25, deadline=None)
@given(st.floats(5, 80), st.floats(1.1, 3))
def test_dearer_replacements_never_make_welding_worse(mean: float, times: float) -> None:
    dear = Prices(4000, 30_000 * times, 30_000 * times, 1000)
    assert advice(welds(mean), dear).break_even_mgt < advice(welds(mean)).break_even_mgt


def test_prices_and_lives_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="above zero"):
        Prices(0, 1, 1, 0)
    with pytest.raises(ValueError, match="no longer"):
        Renewal(100, 1, shrink=1.01)
    with pytest.raises(ValueError, match="lies ahead"):
        Renewal(100, 1, window_mgt=0.0)
