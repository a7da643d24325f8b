"""Repeat offenders: what is called one, and what a bad month does not make one."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.ranking.offenders import MOST_ALIKE, Observed, Ranking, fitted, rank


def family(seed: int, count: int = 80, spread: bool = True) -> list[Observed]:
    rng = np.random.default_rng(seed)
    expected = rng.uniform(0.5, 4, count)
    rates = rng.gamma(2, 0.5, count) if spread else np.ones(count)
    return [
        Observed(f"F{n}", int(c), float(e))
        for n, (c, e) in enumerate(zip(rng.poisson(rates * expected), expected, strict=True))
    ]


def ranked(observed: list[Observed]) -> Ranking:
    found = rank(observed)
    assert isinstance(found, Ranking)
    return found


def test_the_spread_is_that_of_the_negative_binomial_of_statsmodels() -> None:
    import statsmodels.api as sm

    rows = family(3, 200)
    counts, expected = [r.events for r in rows], [r.expected for r in rows]
    model = sm.NegativeBinomial(np.array(counts), np.ones((200, 1)), exposure=np.array(expected))
    theirs = model.fit(disp=0)
    shape, mean, likely = fitted(np.array(counts, dtype=float), np.array(expected))
    assert mean == pytest.approx(np.exp(theirs.params[0]), rel=1e-3)
    assert 1 / shape == pytest.approx(theirs.params[1], rel=1e-3)
    assert likely == pytest.approx(theirs.llf, abs=1e-4)


def test_posteriors_are_gamma_as_worked_with_scipy() -> None:
    rows = family(4)
    found = ranked(rows)
    shape = found.spread**-2
    one = next(o for o in found.offenders if o.key == "F7")
    posterior = stats.gamma(shape + one.events, scale=1 / (shape + one.expected))
    assert one.relative == pytest.approx(posterior.mean())
    assert (one.low, one.high) == pytest.approx(posterior.ppf([0.05, 0.95]))
    assert one.chance_worse == pytest.approx(posterior.sf(1))
    assert one.chance_twice == pytest.approx(posterior.sf(2))


def test_one_unlucky_month_is_no_verdict_and_a_long_record_is() -> None:
    # both had three times what is usual: two events where 0.67 are, and 30 where 10 are
    rows = [*family(5), Observed("month", 2, 0.67), Observed("years", 30, 10.0)]
    by_key = {o.key: o for o in ranked(rows).offenders}
    assert not by_key["month"].repeat_offender
    assert by_key["years"].repeat_offender
    assert by_key["month"].relative < by_key["years"].relative < by_key["years"].ratio


def test_where_all_are_alike_hardly_anybody_is_called() -> None:
    called = sum(
        any(o.repeat_offender for o in ranked(family(seed, 60, spread=False)).offenders)
        for seed in range(60)
    )
    assert called / 60 < 0.1


def test_of_those_called_at_most_about_one_in_twenty_is_not_worse() -> None:
    wrong = called = 0
    for seed in range(60):
        rng = np.random.default_rng(seed)
        expected, rates = rng.uniform(2, 8, 80), rng.gamma(2, 0.5, 80)
        rows = [
            Observed(str(n), int(rng.poisson(r * e)), float(e))
            for n, (r, e) in enumerate(zip(rates, expected, strict=True))
        ]
        for one in ranked(rows).offenders:
            called += one.repeat_offender
            wrong += one.repeat_offender and rates[int(one.key)] <= 1
    assert called > 200
    assert wrong / called <= 0.05


def test_intervals_hold_the_true_rate_nearly_nine_times_in_ten() -> None:
    # plug-in empirical Bayes counts the family's figures as known, so a little under 90 %
    inside = 0
    for seed in range(40):
        rng = np.random.default_rng(seed)
        expected, rates = rng.uniform(0.5, 6, 80), rng.gamma(2, 0.5, 80)
        rows = [
            Observed(str(n), int(rng.poisson(r * e)), float(e))
            for n, (r, e) in enumerate(zip(rates, expected, strict=True))
        ]
        found = ranked(rows)
        inside += sum(
            o.low * found.family_rate <= rates[int(o.key)] <= o.high * found.family_rate
            for o in found.offenders
        )
    assert 0.85 <= inside / 3200 <= 0.91


def test_counts_that_spread_less_than_chance_leave_no_spread() -> None:
    found = ranked([Observed(str(n), 2, 2.0) for n in range(20)])
    assert found.spread == 0
    assert not any(o.repeat_offender for o in found.offenders)
    assert "no more than chance" in found.sentence
    assert fitted(np.full(20, 2.0), np.full(20, 2.0))[0] == pytest.approx(MOST_ALIKE)


@pytest.mark.parametrize(("components", "enough"), [(9, False), (10, True)])
def test_a_family_has_ten_components_at_least(components: int, enough: bool) -> None:
    found = rank([Observed(str(n), 3, 2.0) for n in range(components)])
    assert isinstance(found, Ranking) is enough


@pytest.mark.parametrize(("events", "enough"), [(9, False), (10, True)])
def test_a_family_has_ten_events_at_least(events: int, enough: bool) -> None:
    rows = [Observed(str(n), 0, 1.0) for n in range(11)]
    found = rank([*rows, Observed("one", events, 2.0)])
    assert isinstance(found, Ranking) is enough
    assert enough or (isinstance(found, NotEnough) and found.have == 9)


def test_nothing_can_be_expected_where_nothing_ran() -> None:
    with pytest.raises(ValueError, match="tonnage has passed"):
        Observed("A", 1, 0.0)


@settings(max_examples=15)
@given(st.integers(0, 10_000), st.floats(0.1, 10))
def test_what_is_expected_matters_only_against_one_another(seed: int, times: float) -> None:
    rows = family(seed, 30)
    if sum(r.events for r in rows) < 10:
        return
    plain = {o.key: o for o in ranked(rows).offenders}
    scaled = ranked([Observed(r.key, r.events, r.expected * times) for r in rows])
    for one in scaled.offenders:
        assert one.relative == pytest.approx(plain[one.key].relative, rel=2e-3)
