"""Families of like components against the mixed model of statsmodels."""

import numpy as np
import pytest

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.wear.family import (
    FEWEST_RUNS,
    Family,
    family_of,
    posteriors,
    usual_scatter,
)
from turnouts.analysis.wear.runs import Table


def members(seed: int, runs: int, readings: int) -> Table:
    rng = np.random.default_rng(seed)
    x = np.sort(rng.uniform(0, 50, (runs, readings)), axis=1)
    level, rate = 1 + 0.5 * rng.normal(size=(runs, 1)), 0.1 + 0.03 * rng.normal(size=(runs, 1))
    y = level + rate * x + rng.normal(0, 0.3, x.shape)
    return Table(x, y, np.ones_like(x, dtype=np.bool_))


def fitted(table: Table) -> Family:
    family = family_of(table, table.used, 1e-3)
    assert isinstance(family, Family)
    return family


@pytest.mark.filterwarnings("ignore")
def test_the_family_is_the_restricted_maximum_likelihood_of_statsmodels() -> None:
    import statsmodels.api as sm

    table = members(2, 40, 8)
    family = fitted(table)
    columns = sm.add_constant(table.since_mgt.ravel())
    groups = np.repeat(np.arange(40), 8)
    theirs = sm.MixedLM(table.values.ravel(), columns, groups, exog_re=columns).fit(reml=True)
    assert family.mean == pytest.approx(theirs.fe_params, rel=1e-4)
    assert family.between == pytest.approx(theirs.cov_re, rel=2e-3)
    assert family.sd == pytest.approx(theirs.scale**0.5, rel=1e-3)
    assert family.mean_covariance == pytest.approx(theirs.cov_params()[:2, :2], rel=2e-3)
    assert family.restricted_log_likelihood == pytest.approx(theirs.llf, abs=0.01)
    own = posteriors(family, table, table.used)[0] - family.mean
    for row in range(40):
        assert own[row] == pytest.approx(theirs.random_effects[row], abs=2e-3)


def test_a_run_without_readings_is_expected_to_wear_like_its_family() -> None:
    family = fitted(members(3, 20, 6))
    empty = Table(np.zeros((1, 4)), np.zeros((1, 4)), np.zeros((1, 4), dtype=np.bool_))
    means, covariances = posteriors(family, empty, empty.used)
    assert means[0] == pytest.approx(family.mean)
    assert covariances[0] == pytest.approx(family.between + family.mean_covariance)


def test_a_run_with_many_readings_hardly_leans_on_its_family() -> None:
    family = fitted(members(3, 20, 6))
    x = np.linspace(0, 50, 400)[None, :]
    y = 5 + 0.4 * x + np.random.default_rng(1).normal(0, 0.3, x.shape)
    own = Table(x, y, np.ones_like(x, dtype=np.bool_))
    means, _ = posteriors(family, own, own.used)
    assert means[0] == pytest.approx([5, 0.4], abs=0.1)


def test_one_reading_moves_the_line_only_a_part_of_the_way() -> None:
    family = fitted(members(3, 20, 6))
    x, y = np.array([[20.0]]), np.array([[10.0]])
    means, covariances = posteriors(family, Table(x, y, np.array([[True]])), np.array([[True]]))
    usual = family.mean[0] + family.mean[1] * 20
    assert usual < means[0, 0] + means[0, 1] * 20 < 10
    assert covariances[0, 1, 1] < family.between[1, 1]


def test_posterior_intervals_hold_as_often_as_they_say() -> None:
    table = members(8, 400, 4)
    rng = np.random.default_rng(8)
    rng.uniform(0, 50, (400, 4))
    rng.normal(size=(400, 1))
    true = 0.1 + 0.03 * rng.normal(size=400)
    means, covariances = posteriors(fitted(table), table, table.used)
    inside = np.abs(means[:, 1] - true) <= 1.96 * covariances[:, 1, 1] ** 0.5
    # 95 % of 400, within three binomial standard deviations
    assert inside.mean() == pytest.approx(0.95, abs=3 * (0.95 * 0.05 / 400) ** 0.5)


def test_six_runs_make_a_family_and_five_do_not() -> None:
    assert FEWEST_RUNS == 6
    table = members(1, 6, 8)
    assert isinstance(family_of(table, table.used, 1e-3), Family)
    five = Table(table.since_mgt[:5], table.values[:5], table.used[:5])
    refused = family_of(five, five.used, 1e-3)
    assert isinstance(refused, NotEnough)
    assert (refused.have, refused.need) == (5, 6)


def test_the_usual_scatter_is_not_carried_away_by_a_few_spoiled_runs() -> None:
    table = members(5, 60, 10)
    table.values[:15, 4] += 20
    found = usual_scatter(table, 1e-3)
    assert found is not None
    assert found[0] == pytest.approx(0.3, rel=0.3)
    assert found[1] == 60 * 8


def test_three_readings_in_five_rows_tell_no_usual_scatter() -> None:
    table = members(5, 5, 3)
    assert usual_scatter(table, 1e-3) is None
