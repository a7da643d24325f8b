"""Least squares against certified regressions, to the digits that double precision can hold."""

import numpy as np
import pytest

from tests.turnouts.analysis.wear import nist
from turnouts.analysis.wear.least_squares import least_squares
from turnouts.analysis.wear.line import line_of


def test_norris_is_fitted_to_eleven_certified_digits() -> None:
    fit = least_squares(np.column_stack([np.ones(36), nist.NORRIS_X]), np.array(nist.NORRIS_Y))
    assert fit.coefficients == pytest.approx(nist.NORRIS, rel=1e-11)
    assert fit.standard_errors == pytest.approx(nist.NORRIS_ERRORS, rel=1e-11)
    assert fit.sd == pytest.approx(nist.NORRIS_SD, rel=1e-12)
    assert fit.degrees == 34


def test_pontius_with_its_squares_is_fitted_to_nine_certified_digits() -> None:
    x = np.array(nist.PONTIUS_X, dtype=float)
    fit = least_squares(np.column_stack([np.ones(40), x, x * x]), np.array(nist.PONTIUS_Y))
    assert fit.coefficients == pytest.approx(nist.PONTIUS, rel=1e-9)
    assert fit.standard_errors == pytest.approx(nist.PONTIUS_ERRORS, rel=1e-9)
    assert fit.sd**2 * fit.degrees == pytest.approx(nist.PONTIUS_SQUARES_LEFT, rel=1e-9)


def test_longley_with_its_nearly_parallel_columns_is_fitted_to_nine_certified_digits() -> None:
    columns = np.column_stack([np.ones(16), np.array(nist.LONGLEY_X, dtype=float)])
    fit = least_squares(columns, np.array(nist.LONGLEY_Y, dtype=float))
    assert fit.coefficients == pytest.approx(nist.LONGLEY, rel=1e-9)
    assert fit.sd == pytest.approx(nist.LONGLEY_SD, rel=1e-9)


def test_longley_has_the_standard_errors_that_statsmodels_gives() -> None:
    import statsmodels.api as sm

    columns = np.column_stack([np.ones(16), np.array(nist.LONGLEY_X, dtype=float)])
    fit = least_squares(columns, np.array(nist.LONGLEY_Y, dtype=float))
    theirs = sm.OLS(np.array(nist.LONGLEY_Y, dtype=float), columns).fit()
    assert fit.standard_errors == pytest.approx(theirs.bse, rel=1e-7)


def test_a_wear_line_through_norris_has_its_certified_level_rate_and_errors() -> None:
    line = line_of(np.array(nist.NORRIS_X), np.array(nist.NORRIS_Y), least_sd=1e-6)
    assert (line.level, line.rate) == pytest.approx(nist.NORRIS, rel=1e-11)
    assert line.covariance[1][1] ** 0.5 == pytest.approx(nist.NORRIS_ERRORS[1], rel=1e-11)
    assert line.sd == pytest.approx(nist.NORRIS_SD, rel=1e-12)


def test_the_band_of_the_next_reading_is_that_of_statsmodels() -> None:
    import statsmodels.api as sm

    line = line_of(np.array(nist.NORRIS_X), np.array(nist.NORRIS_Y), least_sd=1e-6)
    theirs = sm.OLS(np.array(nist.NORRIS_Y), sm.add_constant(np.array(nist.NORRIS_X))).fit()
    frame = theirs.get_prediction(np.array([[1.0, 1200.0]])).summary_frame(alpha=0.1)
    ours = line.band(1200.0, 0.9)
    assert ours.low == pytest.approx(frame["obs_ci_lower"][0], rel=1e-10)
    assert ours.high == pytest.approx(frame["obs_ci_upper"][0], rel=1e-10)
    level = line.band(1200.0, 0.9, reading=False)
    assert level.low == pytest.approx(frame["mean_ci_lower"][0], rel=1e-10)
    assert level.high == pytest.approx(frame["mean_ci_upper"][0], rel=1e-10)


def test_two_readings_settle_no_scatter() -> None:
    with pytest.raises(ValueError, match="cannot settle"):
        least_squares(np.array([[1.0, 0.0], [1.0, 1.0]]), np.array([1.0, 2.0]))


def test_readings_at_one_tonnage_have_no_rate() -> None:
    with pytest.raises(ValueError, match="two at least"):
        line_of(np.full(5, 10.0), np.arange(5.0), least_sd=0.1)


def test_readings_that_agree_by_chance_are_no_more_exact_than_the_gage() -> None:
    line = line_of(np.array([0.0, 10.0, 20.0, 30.0]), np.array([1.0, 2.0, 3.0, 4.0]), 0.2)
    assert line.sd == pytest.approx(0.2)
    # variance of a slope: sd^2 / sum (x - mean)^2 = 0.04 / 500
    assert line.covariance[1][1] == pytest.approx(0.04 / 500)
