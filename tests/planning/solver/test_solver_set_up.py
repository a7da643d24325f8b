"""A working time without its set-up: with the set-up added again it is what it was."""

from math import erf, log, sqrt

import numpy as np
import pytest

from planning.solver.durations import chance_within
from planning.solver.problem import Duration
from planning.solver.set_up import log_normal, without

WHOLE = Duration(360.0, 61.0, 0.93)
BRIEFING = log_normal(15.0, 0.3, 0.5)


def test_mean_and_spread_of_a_log_normal_are_its_closed_form() -> None:
    # Mean median * exp(s^2 / 2), variance mean^2 * (exp(s^2) - 1): Johnson, Kotz and Balakrishnan,
    # Continuous Univariate Distributions 1, 1994, eq. 14.8 (from memory).
    assert BRIEFING.mean_min == pytest.approx(15.690, abs=1e-3)
    assert BRIEFING.sd_min == pytest.approx(4.815, abs=1e-3)


def test_with_the_set_up_added_again_the_time_is_what_it_was() -> None:
    """Drawn a million times: standard errors 0.06 min of the mean, 0.06 of the deviation."""
    rest = without(WHOLE, BRIEFING)
    random = np.random.default_rng(5)
    common = random.standard_normal(1_000_000)
    total = sum(_drawn(one, common, random) for one in (rest, BRIEFING))
    assert np.mean(total) == pytest.approx(360.0, abs=0.3)
    assert np.std(total) == pytest.approx(61.0, abs=0.4)


@pytest.mark.parametrize("minutes", [300, 360, 420, 480])
def test_a_job_done_alone_has_the_chance_it_had(minutes: int) -> None:
    sigma = sqrt(log(1 + (61 / 360) ** 2))
    alone = (1 + erf((log(minutes / 360) / sigma + sigma / 2) / sqrt(2))) / 2
    rest = without(WHOLE, BRIEFING)
    assert chance_within([rest, BRIEFING], minutes) == pytest.approx(alone, abs=0.003)


def test_a_job_that_is_all_set_up_is_refused() -> None:
    assert without(Duration(16.0, 5.0, 0.5), BRIEFING).mean_min == pytest.approx(0.310, abs=1e-3)
    with pytest.raises(ValueError, match="leaves nothing of a job of 15 min"):
        without(Duration(15.0, 4.0, 0.5), BRIEFING)


def _drawn(one: Duration, common: np.ndarray, random: np.random.Generator) -> np.ndarray:
    sigma = sqrt(log(1 + (one.sd_min / one.mean_min) ** 2))
    own = random.standard_normal(len(common))
    mixed = sqrt(one.shared) * common + sqrt(1 - one.shared) * own
    return one.mean_min * np.exp(sigma * mixed - sigma**2 / 2)
