"""Welding again against replacing, on cases worked by hand and by simulation."""

from math import exp, gamma, log

import numpy as np
import numpy_financial as npf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from turnouts.analysis.renewal.discounting import drawn
from turnouts.analysis.renewal.posterior import WeldLife
from turnouts.analysis.renewal.ways import Advice, Option, Prices, Renewal, Way
from turnouts.analysis.renewal.weld_or_replace import MOST_WELDS, weld_or_replace

SHAPE = 2.0
PRICES = Prices(
    weld=4000, replace_now=30_000, replace_in_window=30_000, failure=1000, currency="USD"
)
HARDLY = 1e-7
"""An interest so small that a level payment is a cycle's cost over its tonnage."""


def welds(mean_mgt: float, sd: float = 1e-9, shape: float = SHAPE) -> WeldLife:
    """Welds of a mean life, known exactly unless a spread is given."""
    log_life = float(np.log(mean_mgt / gamma(1 + 1 / shape)))
    return WeldLife(log_life, sd, float(np.log(shape)), 1e-9, 3, 2, 40)


def advice(
    own: WeldLife, prices: Prices = PRICES, like: WeldLife | None = None, **renewal: float
) -> Advice:
    usual = {"new_life_mgt": 150.0, "new_life_sd_mgt": 1e-6, "interest_per_mgt": HARDLY}
    return weld_or_replace(own, like or welds(30), prices, Renewal(**usual | renewal), seed=1)


def option(found: Advice, way: Way, times: int | None = None) -> Option:
    return next(o for o in found.options if o.way is way and times in (None, o.welds))


def test_with_hardly_any_interest_it_is_cost_over_tonnage_of_the_cheapest_cycle() -> None:
    # like welds last 30 MGT: (30,000 + 1,000 + n x 5,000) / (150 + n x 30), n = 0: 206.67;
    # n = 6: 61,000 / 330 = 184.85, the cheapest of 0 to 6 (Ross, Stochastic Processes, 3.6)
    found = advice(welds(30))
    assert found.steady_cost_per_mgt == pytest.approx(61_000 / 330, rel=1e-3)
    assert found.break_even_mgt == pytest.approx(5000 / (61_000 / 330), rel=1e-3)


def test_fixed_lives_cost_what_a_textbook_annuity_says() -> None:
    """Shape 200 is nearly a fixed life; numpy-financial's payment over one cycle, money at 1 % a
    MGT: replace at 0, fail and weld every 30 MGT from 150 on, fail before the next replacement."""
    found = advice(
        welds(30, shape=200),
        like=welds(30, shape=200),
        interest_per_mgt=log(1.01),
        new_shape=200.0,
    )
    payments = []
    for n in range(MOST_WELDS + 1):
        cycle = 150 + 30 * n
        flows = [0.0] * (cycle + 1)
        flows[0] += 30_000
        for k in range(n):
            flows[150 + 30 * k] += 5000
        flows[cycle] += 1000
        payments.append(-float(npf.pmt(0.01, cycle, npf.npv(0.01, flows))))
    # npf pays at the end of each MGT, the level payment flows all the time
    continuous = min(payments) * log(1.01) / 0.01
    assert found.steady_cost_per_mgt == pytest.approx(continuous, rel=2e-3)


def test_money_at_the_end_of_a_life_is_worth_its_laplace_transform() -> None:
    """Exponential: 1 / (1 + interest x mean), in closed form; shape 2 by scipy's integration."""
    plain = drawn(np.array([40.0]), np.array([1.0]))
    assert plain.worth(0.01)[0] == pytest.approx(1 / 1.4, rel=1e-9)
    bent = drawn(np.array([40.0]), np.array([2.0]))
    whole = quad(lambda x: exp(-0.01 * 40 * x**0.5 - x), 0, 60)[0]
    assert bent.worth(0.01)[0] == pytest.approx(whole, rel=5e-4)


def simulated(welded: int, interest: float, runs: int = 4000) -> float:
    """Level payment of welding so often now and then steady upkeep, by drawing each event."""
    rng = np.random.default_rng(12)
    total = np.zeros(runs)
    at = np.zeros(runs)
    left = np.full(runs, welded)
    scale = 20 / gamma(1.5)
    for _ in range(60):
        weld = left > 0
        worth = np.exp(-interest * at)
        total += worth * np.where(weld, 4000.0, 30_000.0)
        lasts = np.where(weld, scale * rng.weibull(2.0, runs), rng.exponential(150.0, runs))
        at = at + lasts
        total += 1000 * np.exp(-interest * at)
        left = left - 1  # like welds never pay, so a new component is replaced without a weld
    return float(interest * total.mean())


@pytest.mark.parametrize("welded", [0, 1, 3])
def test_costs_of_the_ways_are_those_of_a_simulation(welded: int) -> None:
    """Welds of 20 MGT on this component; on a new one they last 1 MGT and are never made."""
    found = advice(welds(20), like=welds(1), interest_per_mgt=0.005)
    way = Way.WELD if welded else Way.REPLACE_NOW
    assert option(found, way, welded).cost_per_mgt == pytest.approx(
        simulated(welded, 0.005), rel=0.015
    )


@pytest.mark.parametrize(("mean", "way"), [(26.5, Way.REPLACE_NOW), (27.6, Way.WELD)])
def test_welding_pays_on_one_side_of_the_break_even_and_not_on_the_other(
    mean: float, way: Way
) -> None:
    # break-even at 5,000 / 184.85 = 27.05 MGT
    assert advice(welds(mean), interest_per_mgt=1e-5).recommended.way is way


def test_interest_speaks_for_welding() -> None:
    """A replacement is paid today, the welds that put it off are cheap: dear money shortens the
    weld that pays."""
    cheap, dear = (advice(welds(27), interest_per_mgt=x).break_even_mgt for x in (1e-4, 0.01))
    assert cheap is not None
    assert dear is not None
    assert dear < cheap


def test_what_is_not_known_is_not_called_clear() -> None:
    near = advice(welds(25.0, sd=0.5), interest_per_mgt=0.003)
    assert not near.clear
    assert "Not clear-cut" in near.sentence
    assert 0.2 < near.chance_weld_pays < 0.8
    sure = advice(welds(60.0, sd=0.1), interest_per_mgt=0.003)
    assert sure.clear
    assert sure.chance_weld_pays > 0.99


def test_uncertain_lives_widen_the_costs() -> None:
    vague, exact = (
        option(advice(welds(20, sd), interest_per_mgt=0.003), Way.WELD, 3) for sd in (0.5, 0.01)
    )
    assert vague.high - vague.low > 5 * (exact.high - exact.low)


def test_shrinking_welds_end_in_a_replacement_after_some() -> None:
    # 40, 28, 19.6 ... MGT: the first pays, later ones do not
    found = advice(welds(40), shrink=0.7, interest_per_mgt=0.003)
    assert found.recommended.way is Way.WELD
    assert 1 <= found.recommended.welds < MOST_WELDS


def test_a_window_near_and_cheap_is_waited_for_and_one_far_is_not() -> None:
    cheap = Prices(
        weld=4000, replace_now=30_000, replace_in_window=20_000, failure=1000, currency="USD"
    )
    near = advice(welds(15), cheap, window_mgt=10.0, interest_per_mgt=0.003)
    assert near.recommended.way is Way.REPLACE_IN_WINDOW
    far = advice(welds(5), cheap, window_mgt=120.0, interest_per_mgt=0.003)
    assert far.recommended.way is Way.REPLACE_NOW
    # about 120 / 5 = 24 welds until then; renewal function for shape 2: window/mean - 0.36
    assert option(far, Way.REPLACE_IN_WINDOW).welds == pytest.approx(24.6, abs=1)


def test_failures_before_a_window_are_the_renewal_function() -> None:
    """Far from the start it is t/m + (s^2/m^2 - 1)/2 (Cox, Renewal Theory, 1962, section 4.2);
    with hardly any interest a way costs more than another by what it spends more today."""
    ratio = gamma(1 + 2 / SHAPE) / gamma(1 + 1 / SHAPE) ** 2 - 1
    failures = 100 / 10 + (ratio - 1) / 2
    found = advice(welds(10), window_mgt=100.0)
    apart = option(found, Way.REPLACE_IN_WINDOW).cost_per_mgt - found.steady_cost_per_mgt
    by_hand = 4000 + failures * 5000 - 61_000 / 330 * 100
    assert apart / HARDLY == pytest.approx(by_hand, rel=0.02)


def test_chances_of_being_cheapest_add_up_to_one() -> None:
    found = advice(welds(25, 0.4), window_mgt=30.0, interest_per_mgt=0.003)
    assert sum(o.chance_cheapest for o in found.options) == pytest.approx(1)
    costs = [o.cost_per_mgt for o in found.options]
    assert costs == sorted(costs)
    assert found.recommended == found.options[0]


def test_the_same_seed_gives_the_same_advice() -> None:
    assert advice(welds(25, 0.4)) == advice(welds(25, 0.4))


def test_the_curve_crosses_the_steady_cost_at_the_break_even() -> None:
    found = advice(welds(25, 0.3), interest_per_mgt=0.003)
    assert found.break_even_mgt is not None
    assert found.life_90[0] < found.mean_weld_life_mgt < found.life_90[1]
    assert found.steady_90[0] <= found.steady_cost_per_mgt <= found.steady_90[1]
    for point in found.curve:
        cheaper = point.cost_per_mgt < found.steady_cost_per_mgt
        assert cheaper is (point.life_mgt > found.break_even_mgt)


def test_where_a_weld_costs_more_than_the_component_no_life_is_enough() -> None:
    """A weld at 70,000 only puts off 30,000 that would come later anyway."""
    dear = Prices(
        weld=70_000, replace_now=30_000, replace_in_window=30_000, failure=1000, currency="USD"
    )
    found = advice(welds(25), dear, interest_per_mgt=0.01)
    assert found.break_even_mgt is None
    assert "no life makes it pay" in found.reasons[0]


@settings(max_examples=20, deadline=None)
@given(st.floats(5, 80), st.floats(1.1, 3))
def test_dearer_replacements_never_make_welding_worse(mean: float, times: float) -> None:
    dear = Prices(4000, 30_000 * times, 30_000 * times, 1000, "USD")
    now, then = (advice(welds(mean), p, interest_per_mgt=0.003) for p in (PRICES, dear))
    assert now.break_even_mgt is not None
    assert then.break_even_mgt is not None
    assert then.break_even_mgt < now.break_even_mgt


def test_prices_and_lives_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="above zero"):
        Prices(0, 1, 1, 0, "USD")
    with pytest.raises(ValueError, match="no longer"):
        Renewal(100, 1, 0.01, shrink=1.01)
    with pytest.raises(ValueError, match="lies ahead"):
        Renewal(100, 1, 0.01, window_mgt=0.0)
    with pytest.raises(ValueError, match="Interest"):
        Renewal(100, 1, 0.0)
