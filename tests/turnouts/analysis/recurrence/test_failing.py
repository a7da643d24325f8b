"""Repairs of one sort against the others, with components as clusters: against lifelines."""

import numpy as np
import pytest

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.recurrence.failing import Failing, Repaired, failing_against_others
from turnouts.analysis.recurrence.lives import Life


def drawn(seed: int, times: float = 1.0, components: int = 24, each: int = 4) -> list[Repaired]:
    """Repairs on components of which each is better or worse by itself; every other one is of the
    sort and fails ``times`` as often. No two lives are equal."""
    rng = np.random.default_rng(seed)
    rows = []
    for n in range(components):
        of_the_sort, frailty = n % 2 == 0, rng.gamma(3, 1 / 3)
        for _ in range(each):
            mgt = 40 * rng.exponential() / (frailty * (times if of_the_sort else 1.0))
            rows.append(Repaired(f"C{n}", Life(min(mgt, 60 + rng.random()), mgt < 60), of_the_sort))
    return rows


def told(rows: list[Repaired]) -> Failing:
    found = failing_against_others(rows)
    assert isinstance(found, Failing)
    return found


def test_ratio_and_its_error_are_those_of_lifelines_with_clusters() -> None:
    import pandas as pd
    from lifelines import CoxPHFitter

    rows = drawn(3, 2.0)
    table = pd.DataFrame(
        {
            "mgt": [r.life.mgt for r in rows],
            "failed": [int(r.life.failed) for r in rows],
            "sort": [float(r.of_the_sort) for r in rows],
            "on": [r.component for r in rows],
        }
    )
    theirs = CoxPHFitter().fit(table, "mgt", "failed", cluster_col="on", robust=True)
    found = told(rows)
    assert found.times == pytest.approx(float(np.exp(theirs.params_["sort"])), rel=1e-5)
    # ours are limits of a t with 23 degrees (2.0687), theirs of the normal: set the errors equal
    error = np.log(found.high / found.times) / 2.068658
    assert error == pytest.approx(float(theirs.standard_errors_["sort"]), rel=1e-4)


def test_alike_repairs_on_unlike_components_are_called_different_one_time_in_twenty() -> None:
    called = sum(told(drawn(seed)).p_value < 0.05 for seed in range(300))
    assert called / 300 <= 0.05 + 3 * (0.05 * 0.95 / 300) ** 0.5


def test_repairs_that_fail_three_times_as_often_are_found() -> None:
    found = told(drawn(1, 3.0))
    assert found.low > 1
    assert found.p_value < 0.05


@pytest.mark.parametrize(("failed", "enough"), [(4, False), (5, True)])
def test_five_failures_make_a_sort(failed: int, enough: bool) -> None:
    others = [Repaired(f"B{n}", Life(10.0 + n, True), False) for n in range(9)]
    own = [Repaired(f"A{n}", Life(9.5 + 2 * n, n < failed), True) for n in range(9)]
    assert isinstance(failing_against_others(own + others), NotEnough) is not enough


def test_many_repairs_of_four_components_are_not_enough() -> None:
    others = [Repaired(f"B{n}", Life(10.0 + n, True), False) for n in range(9)]
    own = [Repaired(f"A{n % 4}", Life(9.5 + 2 * n, True), True) for n in range(12)]
    found = failing_against_others(own + others)
    assert isinstance(found, NotEnough)
    assert (found.have, found.need) == (4, 5)


def test_where_one_sort_fails_before_all_others_no_ratio_is_given() -> None:
    others = [Repaired(f"B{n}", Life(50.0 + n, True), False) for n in range(9)]
    own = [Repaired(f"A{n}", Life(1.0 + n, True), True) for n in range(9)]
    assert isinstance(failing_against_others(own + others), NotEnough)
