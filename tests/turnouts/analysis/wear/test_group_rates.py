"""Wear of groups of components: against statsmodels with clusters, and scipy's Welch test."""

import numpy as np
import pytest

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.wear.group_rates import Rate, Worn, differ, rate_of, worn_of
from turnouts.analysis.wear.runs import Reading, Run


def runs(seed: int, components: int, rate: float) -> dict[str, list[Run]]:
    """Two runs of eight readings on each component, whose rates differ by a tenth."""
    rng = np.random.default_rng(seed)
    made = {}
    for n in range(components):
        own = rate * rng.normal(1, 0.1)
        made[f"C{n}"] = [
            Run(
                f"C{n}/{k}",
                50.0 * k,
                tuple(
                    Reading(50.0 * k + 6 * m, k + own * 6 * m + rng.normal(0, 0.2))
                    for m in range(8)
                ),
            )
            for k in range(2)
        ]
    return made


def rated(worn: list[Worn]) -> Rate:
    found = rate_of(worn)
    assert isinstance(found, Rate)
    return found


def test_the_rate_and_its_error_are_those_of_statsmodels_with_clusters() -> None:
    import statsmodels.api as sm

    made = runs(2, 9, 0.05)
    rows = [(c, n, r) for c, own in made.items() for n, run in enumerate(own) for r in run.readings]
    x = np.array([r.mgt - 50.0 * n for _, n, r in rows])
    y = np.array([r.value for *_, r in rows])
    run = np.array([f"{c}{n}" for c, n, _ in rows])
    for name in set(run):
        x[run == name] -= x[run == name].mean()
        y[run == name] -= y[run == name].mean()
    clusters = [c for c, *_ in rows]
    theirs = sm.OLS(y, x).fit(
        cov_type="cluster", cov_kwds={"groups": clusters, "use_correction": False}
    )
    found = rated(list(worn_of(made, 0.1).values()))
    assert found.rate == pytest.approx(theirs.params[0])
    # ours has n / (n - 1) components, theirs asked to have no correction
    assert found.error == pytest.approx(theirs.bse[0] * (9 / 8) ** 0.5)
    assert (found.components, found.readings) == (9, 144)


def test_one_misread_gage_does_not_move_a_component() -> None:
    made = runs(4, 1, 0.05)
    run = made["C0"][0]
    wrong = Reading(run.readings[7].mgt, run.readings[7].value + 6.0)
    spoiled = Run(run.key, run.began_mgt, (*run.readings[:7], wrong))
    clean, misread = (
        worn_of({"C0": [one, made["C0"][1]]}, 0.1)["C0"].across for one in (run, spoiled)
    )
    assert misread == pytest.approx(clean, rel=0.4)


def test_groups_are_told_apart_as_by_the_welch_test() -> None:
    from scipy.stats import ttest_ind_from_stats

    one, other = (
        rated(list(worn_of(runs(s, 9, r), 0.1).values())) for s, r in ((1, 0.05), (2, 0.06))
    )
    theirs = ttest_ind_from_stats(
        one.rate, one.error * 3, 9, other.rate, other.error * 3, 9, equal_var=False
    )
    assert differ(one, other) == pytest.approx(theirs.pvalue)


@pytest.mark.parametrize(("components", "enough"), [(5, False), (6, True)])
def test_six_components_make_a_group(components: int, enough: bool) -> None:
    found = rate_of(list(worn_of(runs(3, components, 0.05), 0.1).values()))
    assert isinstance(found, Rate) is enough
    assert isinstance(found, NotEnough) is not enough


def test_a_run_of_one_reading_says_nothing_of_a_rate() -> None:
    assert worn_of({"C0": [Run("C0", 0.0, (Reading(3.0, 1.0),))]}, 0.1) == {}
