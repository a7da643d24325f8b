"""Funnel limits and Pareto bars."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import poisson

from turnouts.analysis.ranking.offenders import Observed
from turnouts.analysis.ranking.pictures import funnel, outside, pareto


@given(st.floats(0.01, 5000))
def test_funnel_limits_are_poisson_quantiles(expected: float) -> None:
    for limit in funnel([expected]):
        tail = (1 - limit.chance) / 2
        assert limit.low * expected == pytest.approx(poisson.ppf(tail, expected))
        assert limit.high * expected == pytest.approx(poisson.ppf(1 - tail, expected))


def test_a_count_on_the_limit_lies_inside_and_one_more_outside() -> None:
    # Poisson with mean 4: 97.5 % quantile 8
    assert poisson.ppf(0.975, 4) == 8
    assert not outside(Observed("A", 8, 4.0), 1.0, 0.95)
    assert outside(Observed("A", 9, 4.0), 1.0, 0.95)
    assert outside(Observed("A", 0, 8.0), 1.0, 0.95)


def test_the_funnel_narrows_as_more_is_expected() -> None:
    narrow = [limit.high - limit.low for limit in funnel([2.0, 20.0, 200.0])[:3]]
    assert narrow == sorted(narrow, reverse=True)


def test_pareto_bars_are_the_largest_first_with_running_shares() -> None:
    bars = pareto({"spall": 60, "chip": 25, "crack": 15, "never": 0})
    assert [(b.name, b.share_so_far) for b in bars] == [
        ("spall", 0.60),
        ("chip", 0.85),
        ("crack", 1.0),
    ]
    assert pareto({}) == ()


def test_counts_below_zero_and_nothing_expected_are_refused() -> None:
    with pytest.raises(ValueError, match="below zero"):
        pareto({"spall": -1})
    with pytest.raises(ValueError, match="expected"):
        funnel([0.0])
