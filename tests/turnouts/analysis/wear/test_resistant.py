"""Lines that wrong readings cannot bend, and the readings that are flagged."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import siegelslopes

from turnouts.analysis.wear.resistant import FEWEST_TO_JUDGE, repeated_median, resistant
from turnouts.analysis.wear.runs import Floats, Table


def table(x: Floats, y: Floats) -> Table:
    x, y = np.atleast_2d(x), np.atleast_2d(y)
    return Table(x, y, np.ones_like(x, dtype=np.bool_))


def scattered(seed: int, runs: int, readings: int, sd: float = 0.3) -> tuple[Floats, Floats]:
    rng = np.random.default_rng(seed)
    x = np.sort(rng.uniform(0, 50, (runs, readings)), axis=1)
    return x, 1 + 0.1 * x + rng.normal(0, sd, x.shape)


@given(st.integers(0, 10_000), st.integers(3, 15))
def test_the_start_is_the_repeated_median_of_scipy(seed: int, readings: int) -> None:
    x, y = scattered(seed, 1, readings)
    _, rates = repeated_median(table(x, y))
    assert rates[0] == pytest.approx(siegelslopes(y[0], x[0]).slope, rel=1e-12)


def test_without_wrong_readings_it_is_plain_least_squares() -> None:
    x, y = scattered(3, 1, 20)
    lines = resistant(table(x, y), 0.0)
    assert lines.kept.all()
    assert lines.rates[0] == pytest.approx(np.polyfit(x[0], y[0], 1)[0], rel=1e-10)


def test_two_gross_readings_of_twelve_are_left_out_and_change_nothing() -> None:
    x, y = scattered(4, 1, 12)
    wrong = y.copy()
    wrong[0, 3] += 6.35
    wrong[0, 11] -= 6.35
    lines = resistant(table(x, wrong), 0.0)
    assert (~lines.kept[0]).nonzero()[0].tolist() == [3, 11]
    good = lines.kept[0]
    assert lines.rates[0] == pytest.approx(np.polyfit(x[0, good], y[0, good], 1)[0], rel=1e-10)


def test_it_agrees_with_the_bisquare_of_statsmodels_on_spoiled_runs() -> None:
    import statsmodels.api as sm

    x, y = scattered(5, 40, 20)
    y[:, 4] += 6.35
    lines = resistant(table(x, y), 0.0)
    for row in range(40):
        norm = sm.robust.norms.TukeyBiweight()
        theirs = sm.RLM(y[row], sm.add_constant(x[row]), M=norm).fit()
        assert lines.rates[row] == pytest.approx(theirs.params[1], abs=1.0 * theirs.bse[1])
        plain = np.polyfit(x[row], y[row], 1)[1]
        assert abs(lines.levels[row] - 1) < abs(plain - 1)


def test_good_runs_are_flagged_about_once_in_a_hundred() -> None:
    x, y = scattered(6, 4000, 10)
    flagged = (~resistant(table(x, y), 0.0).kept).any(axis=1).mean()
    assert 0.001 < flagged < 0.03
    known = (~resistant(table(x, y), 0.0, (0.3, 500)).kept).any(axis=1).mean()
    assert 0.001 < known < 0.015


def test_five_readings_judge_nobody_and_six_do() -> None:
    assert FEWEST_TO_JUDGE == 6
    x = np.arange(0.0, 60.0, 10.0)
    y = 1 + 0.1 * x + np.array([0.01, -0.01, 0.01, -0.01, 0.01, 0.0])
    y[2] += 30
    assert resistant(table(x[:5], y[:5]), 0.0).kept.all()
    assert resistant(table(x, y), 0.0).kept[0].tolist() == [True, True, False, True, True, True]


def test_a_known_scatter_judges_three_readings_and_not_two() -> None:
    x, y = np.array([0.0, 10.0, 20.0]), np.array([1.0, 9.0, 3.0])
    assert not resistant(table(x, y), 0.0, (0.1, 200)).kept.all()
    assert resistant(table(x[:2], y[:2]), 0.0, (0.1, 200)).kept.all()


def test_readings_within_the_gage_are_not_doubted() -> None:
    x = np.arange(0.0, 80.0, 10.0)
    y = 1 + 0.1 * x
    y[4] += 0.5
    assert not resistant(table(x, y), 0.01).kept[0, 4]
    assert resistant(table(x, y), 0.5).kept.all()


@given(st.floats(-100, 100), st.floats(0.1, 10), st.integers(0, 1000))
def test_a_change_of_unit_changes_the_line_alike(shift: float, scale: float, seed: int) -> None:
    x, y = scattered(seed, 1, 9)
    plain, changed = resistant(table(x, y), 0.0), resistant(table(x, shift + scale * y), 0.0)
    assert (plain.kept == changed.kept).all()
    assert changed.rates[0] == pytest.approx(scale * plain.rates[0], rel=1e-6, abs=1e-9)
