"""What repairs last by: log-rank and regression against lifelines and statsmodels."""

import numpy as np
import pytest

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.recurrence.life_regression import (
    LifeRegression,
    Repair,
    life_regression,
)
from turnouts.analysis.recurrence.lives import Life
from turnouts.analysis.recurrence.log_rank import FEWEST_FAILURES, By, LogRank, log_rank

FREIREICH = {
    # Remission times of 42 patients in weeks, + censored (Freireich et al. 1963; Gehan 1965); the
    # rows also stand in lifelines; log-rank chi square 16.79 as printed in most textbooks
    "treated": [(6, 1), (6, 1), (6, 1), (6, 0), (7, 1), (9, 0), (10, 1), (10, 0), (11, 0),
                (13, 1), (16, 1), (17, 0), (19, 0), (20, 0), (22, 1), (23, 1), (25, 0), (32, 0),
                (32, 0), (34, 0), (35, 0)],
    "placebo": [(t, 1) for t in (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17,
                                 22, 23)],
}  # fmt: skip


def lives(rows: list[tuple[int, int]]) -> list[Life]:
    return [Life(float(t), bool(d)) for t, d in rows]


def ranked(groups: dict[str, list[Life]]) -> LogRank:
    found = log_rank(By.PROCEDURE, groups)
    assert isinstance(found, LogRank)
    return found


def drawn(seed: int, count: int, factor: float = 1.0) -> list[Life]:
    mgt = factor * 40 * np.random.default_rng(seed).weibull(1.8, count)
    return [Life(round(float(min(m, 60)), 1) + 0.1, bool(m <= 60)) for m in mgt]


def test_the_log_rank_test_of_the_textbooks() -> None:
    found = ranked({name: lives(rows) for name, rows in FREIREICH.items()})
    assert found.statistic == pytest.approx(16.79, abs=0.005)
    assert found.degrees == 1
    by_name = {sort.name: sort for sort in found.sorts}
    # observed 9 against 19.25 expected, 21 against 10.75
    assert (by_name["treated"].failures, by_name["placebo"].failures) == (9, 21)
    assert by_name["treated"].expected == pytest.approx(19.25, abs=0.005)
    assert by_name["placebo"].expected == pytest.approx(10.75, abs=0.005)


def test_three_sorts_with_ties_are_tested_as_by_lifelines_and_statsmodels() -> None:
    from lifelines.statistics import multivariate_logrank_test
    from statsmodels.duration.survfunc import survdiff

    groups = {"a": drawn(1, 40), "b": drawn(2, 30), "c": drawn(3, 25, 1.8)}
    found = ranked(groups)
    names = [name for name, rows in groups.items() for _ in rows]
    mgt = [life.mgt for rows in groups.values() for life in rows]
    failed = [life.failed for rows in groups.values() for life in rows]
    theirs = multivariate_logrank_test(mgt, names, failed)
    assert found.statistic == pytest.approx(theirs.test_statistic, rel=1e-9)
    assert found.p_value == pytest.approx(theirs.p_value, rel=1e-9)
    chi, _ = survdiff(np.array(mgt), np.array(failed).astype(int), np.array(names))
    assert found.statistic == pytest.approx(chi, rel=1e-9)


def test_pairs_are_corrected_for_how_many_there_are() -> None:
    groups = {"a": drawn(1, 40), "b": drawn(2, 30), "c": drawn(3, 25, 1.8)}
    alone = {
        pair: ranked({name: groups[name] for name in pair}).p_value
        for pair in (("a", "b"), ("a", "c"), ("b", "c"))
    }
    # Holm by hand: smallest times 3, next times 2, largest times 1, never falling
    adjusted, worst = {}, 0.0
    for times, pair in zip((3, 2, 1), sorted(alone, key=lambda p: alone[p]), strict=True):
        worst = max(worst, min(times * alone[pair], 1.0))
        adjusted[pair] = worst
    for pair in ranked(groups).pairs:
        assert pair.p_value == pytest.approx(adjusted[pair.first, pair.second])


def test_a_sort_with_four_failures_is_left_out_and_named_and_one_with_five_is_not() -> None:
    assert FEWEST_FAILURES == 5
    four = [Life(float(n), True) for n in range(1, 5)] + [Life(50.0, False)] * 9
    found = ranked({"a": drawn(1, 30), "b": drawn(2, 30), "rare": four})
    assert found.left_out == ("rare",)
    assert "Too few to compare: rare" in found.sentence
    five = ranked({"a": drawn(1, 30), "b": drawn(2, 30), "rare": [*four, Life(9.0, True)]})
    assert five.left_out == ()


def test_one_sort_alone_is_not_compared() -> None:
    assert isinstance(log_rank(By.STEEL, {"a": drawn(1, 30), "b": []}), NotEnough)


def test_sorts_that_are_alike_are_called_different_one_time_in_twenty() -> None:
    called = sum(
        ranked({"a": drawn(2 * n, 30), "b": drawn(2 * n + 1, 30)}).p_value < 0.05
        for n in range(300)
    )
    assert called / 300 == pytest.approx(0.05, abs=3.2 * (0.05 * 0.95 / 300) ** 0.5)


def repairs(seed: int, count: int = 120) -> list[Repair]:
    """Winter repairs last 0.6 times as long; the procedure makes no difference."""
    rng = np.random.default_rng(seed)
    rows = []
    for _ in range(count):
        season = "winter" if rng.random() < 0.4 else "summer"
        procedure = "wire" if rng.random() < 0.5 else "electrode"
        mgt = 40 * (0.6 if season == "winter" else 1.0) * rng.weibull(1.8)
        life = Life(float(min(mgt, 60)) + 1e-6, bool(mgt <= 60))
        rows.append(Repair(life, {By.SEASON: season, By.PROCEDURE: procedure}))
    return rows


def regression(rows: list[Repair]) -> LifeRegression:
    found = life_regression(rows, [By.SEASON, By.PROCEDURE])
    assert isinstance(found, LifeRegression)
    return found


def test_the_regression_is_that_of_lifelines() -> None:
    import pandas as pd
    from lifelines import WeibullAFTFitter

    rows = repairs(1)
    found = regression(rows)
    season, procedure = found.effects
    frame = pd.DataFrame(
        {
            "mgt": [r.life.mgt for r in rows],
            "failed": [r.life.failed for r in rows],
            "season": [float(r.facts[By.SEASON] == season.name) for r in rows],
            "procedure": [float(r.facts[By.PROCEDURE] == procedure.name) for r in rows],
        }
    )
    theirs = WeibullAFTFitter().fit(frame, "mgt", "failed")
    summary = theirs.summary.loc["lambda_"]
    for effect, name in ((season, "season"), (procedure, "procedure")):
        assert effect.factor == pytest.approx(summary.loc[name, "exp(coef)"], rel=1e-3)
        assert effect.low == pytest.approx(summary.loc[name, "exp(coef) lower 95%"], rel=2e-3)
        assert effect.high == pytest.approx(summary.loc[name, "exp(coef) upper 95%"], rel=2e-3)
    assert found.log_likelihood == pytest.approx(theirs.log_likelihood_, abs=1e-3)


def test_the_planted_effect_is_found_and_no_other() -> None:
    season, procedure = regression(repairs(2)).effects
    assert (season.name, season.against) == ("winter", "summer")
    assert season.shown
    assert season.low < 0.6 < season.high
    assert not procedure.shown
    assert "no difference is shown" in procedure.sentence


def test_effects_are_corrected_for_how_many_were_looked_at() -> None:
    alone = life_regression(repairs(3), [By.SEASON])
    assert isinstance(alone, LifeRegression)
    both = regression(repairs(3))
    smallest = min(effect.p_value for effect in both.effects)
    assert smallest > alone.effects[0].p_value


def test_a_rare_fact_is_left_out_and_named() -> None:
    rare = Repair(Life(5.0, True), {By.SEASON: "thaw", By.PROCEDURE: "wire"})
    found = regression([*repairs(1), rare])
    assert found.left_out == ("season thaw",)
    assert found.repairs == 120


def test_facts_that_never_differ_cannot_be_compared() -> None:
    same = [Repair(life, {By.STEEL: "manganese"}) for life in drawn(1, 40)]
    assert isinstance(life_regression(same, [By.STEEL]), NotEnough)


def test_people_are_not_among_what_repairs_are_sorted_by() -> None:
    assert not {"welder", "person", "inspector", "crew"} & {by.value for by in By}
