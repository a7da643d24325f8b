"""The power-law process, its fit and the trend tests on published examples."""

from math import log

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.stats import chi2, norm

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.recurrence.goodness import Goodness, cramer_von_mises
from turnouts.analysis.recurrence.histories import History
from turnouts.analysis.recurrence.power_law import PowerLaw, power_law
from turnouts.analysis.recurrence.trend import Drift, Trend, laplace, military_handbook

CROW = (
    2.7, 10.3, 12.5, 30.6, 57.0, 61.3, 80.0, 109.5, 125.0, 128.6, 143.8, 167.9, 229.2, 296.7,
    320.6, 328.2, 366.2, 396.7, 421.1, 438.2, 501.2, 620.0,
)  # fmt: skip
"""Crow-AMSAA example 1, ended at its 22nd failure: times read at weibull.com; the published result
0.6142 and 0.4239 from memory; further digits worked out from the times by the formulas."""

NIST = (5.0, 40.0, 43.0, 175.0, 389.0, 712.0, 747.0, 795.0, 1299.0, 1478.0)
"""Repair times of the NIST/SEMATECH e-Handbook, 8.2.3.4 and 8.4.5.2, test of 1500 h; from memory,
as are the handbook's results beside them."""

ENDED_AT_EVENT = History("Crow", CROW, 620.0, ends_at_event=True)
ENDED_AT_TIME = History("NIST", NIST, 1500.0)


def fitted(*histories: History, confidence: float = 0.95) -> PowerLaw:
    found = power_law(histories, confidence)
    assert isinstance(found, PowerLaw)
    return found


def drawn(seed: int, beta: float, components: int = 1, begins: float = 0.0) -> list[History]:
    """Histories of a process with scale such that ten events are expected by 100 MGT."""
    rng = np.random.default_rng(seed)
    histories = []
    for n in range(components):
        ends = float(rng.uniform(60, 100))
        low, high = 10 * (begins / 100) ** beta, 10 * (ends / 100) ** beta
        counts = np.sort(rng.uniform(low, high, rng.poisson(high - low)))
        histories.append(History(str(n), tuple(100 * (counts / 10) ** (1 / beta)), ends, begins))
    return histories


def test_the_failure_truncated_example_of_crow() -> None:
    found = fitted(ENDED_AT_EVENT)
    assert found.beta == pytest.approx(0.6142, abs=5e-5)
    assert found.scale == pytest.approx(0.4239, abs=5e-5)
    # worked out from the times: n / sum ln(T/t), n / T^beta, (n - 2)/n beta, and rates at 620 h
    assert found.beta == pytest.approx(0.614210, abs=1e-6)
    assert found.scale == pytest.approx(0.423942, abs=1e-6)
    assert found.unbiased_beta == pytest.approx(0.558373, abs=1e-6)
    assert found.rate(620) == pytest.approx(0.0217946, abs=1e-7)
    assert found.mean_between(620) == pytest.approx(45.883, abs=1e-3)
    assert 620 / found.expected(620) == pytest.approx(28.182, abs=1e-3)


def test_the_time_truncated_example_of_nist_with_its_bias_taken_out() -> None:
    found = fitted(ENDED_AT_TIME)
    # 8.4.5.2: b = (r - 1)/sum ln(T/t), a = r/T^b = 0.2913, mean time between at the end 310.234 h
    assert found.unbiased_beta == pytest.approx(1 - 0.516494, abs=1e-6)
    assert 10 / 1500**found.unbiased_beta == pytest.approx(0.2913, abs=5e-5)
    assert 1500 / (10 * found.unbiased_beta) == pytest.approx(310.234, abs=5e-4)


def test_limits_of_beta_are_those_of_chi_square() -> None:
    found = fitted(ENDED_AT_TIME, confidence=0.9)
    # Crow: 2 n beta / beta-hat has chi square with 2 n degrees; failure truncated 2 (n - 1)
    assert found.beta_low == pytest.approx(found.beta * chi2.ppf(0.05, 20) / 20)
    assert found.beta_high == pytest.approx(found.beta * chi2.ppf(0.95, 20) / 20)
    ended = fitted(ENDED_AT_EVENT)
    assert ended.beta_low == pytest.approx(ended.beta * chi2.ppf(0.025, 42) / 44)


def test_several_histories_are_fitted_as_a_general_maximiser_fits_them() -> None:
    histories = drawn(5, 1.6, components=6, begins=10.0)

    def unlikely(at: np.ndarray) -> float:  # type: ignore[type-arg]
        beta, scale = np.exp(at)
        rates = sum(
            log(scale * beta) + (beta - 1) * log(e) for h in histories for e in h.events_mgt
        )
        return float(
            sum(scale * (h.ends_mgt**beta - h.begins_mgt**beta) for h in histories) - rates
        )

    found = fitted(*histories)
    best = minimize(
        unlikely,
        np.log([1.0, 0.1]),
        method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 4000},
    )
    assert (found.beta, found.scale) == pytest.approx(tuple(np.exp(best.x)), rel=1e-5)
    assert found.log_likelihood == pytest.approx(-best.fun, abs=1e-8)


def test_limits_from_several_histories_hold_about_as_often_as_they_say() -> None:
    inside = 0
    for seed in range(200):
        found = fitted(*drawn(seed, 1.5, components=4))
        inside += found.beta_low <= 1.5 <= found.beta_high
    assert inside / 200 == pytest.approx(0.95, abs=0.05)


def test_three_events_are_not_enough_and_four_are() -> None:
    refused = power_law([History("A", (1.0, 2.0, 3.0), 5.0)])
    assert isinstance(refused, NotEnough)
    assert (refused.have, refused.need) == (3, 4)
    assert fitted(History("A", (1.0, 2.0, 3.0, 4.0), 5.0)).events == 4


@pytest.mark.parametrize(
    ("events", "adjective"),
    [((70.0, 80.0, 88.0, 93.0, 97.0, 99.0), "more and more"), (NIST[:6], "less and less")],
)
def test_the_sentence_says_which_way_only_when_sure(
    events: tuple[float, ...], adjective: str
) -> None:
    end = 100.0 if events[0] == 70.0 else 15000.0
    assert adjective in fitted(History("A", events, end)).sentence
    assert "cannot be said" in fitted(History("A", (20.0, 40.0, 60.0, 80.0), 100.0)).sentence


def test_the_military_handbook_and_laplace_tests_on_the_nist_times() -> None:
    handbook, drift = military_handbook([ENDED_AT_TIME]), laplace([ENDED_AT_TIME])
    assert isinstance(handbook, Trend)
    assert isinstance(drift, Trend)
    # e-Handbook 8.2.3.4: chi square 37.23 with 20 degrees of freedom
    assert handbook.statistic == pytest.approx(37.23, abs=0.005)
    assert handbook.p_value == pytest.approx(2 * chi2.sf(37.228081, 20), rel=1e-5)
    # mean of the times 568.3 against 750: (5683 - 7500) / (1500 sqrt(10/12)) = -1.327
    assert drift.statistic == pytest.approx(-1.32695, abs=1e-5)
    assert drift.p_value == pytest.approx(2 * norm.cdf(-1.32695), rel=1e-4)
    assert handbook.drift is Drift.LESS_OFTEN
    assert drift.drift is Drift.NONE_SHOWN


def test_a_history_that_ends_at_its_last_event_does_not_count_it() -> None:
    found = laplace([ENDED_AT_EVENT])
    assert isinstance(found, Trend)
    assert found.counted == 21


@pytest.mark.parametrize("test", [laplace, military_handbook])
def test_an_even_rate_is_called_a_trend_one_time_in_twenty(test: object) -> None:
    called = 0
    for seed in range(600):
        found = test(drawn(seed, 1.0, components=2, begins=20.0))  # type: ignore[operator]
        called += isinstance(found, Trend) and found.drift is not Drift.NONE_SHOWN
    assert called / 600 == pytest.approx(0.05, abs=3 * (0.05 * 0.95 / 600) ** 0.5)


@pytest.mark.parametrize("test", [laplace, military_handbook])
def test_a_growing_rate_is_found(test: object) -> None:
    found = test(drawn(3, 2.5, components=4))  # type: ignore[operator]
    assert found.drift is Drift.MORE_OFTEN
    assert test(drawn(3, 2.5)[:0]).need == 4  # type: ignore[operator]


@pytest.mark.parametrize(
    ("events", "ten_percent"),
    # MIL-HDBK-189, table of critical values of the Cramer-von Mises statistic, 10 %: from memory
    [(5, 0.160), (10, 0.167), (20, 0.172)],
)
def test_the_simulated_statistic_has_the_published_critical_values(
    events: int, ten_percent: float
) -> None:
    rng = np.random.default_rng(9)
    chances = []
    for _ in range(150):
        times = np.sort(rng.uniform(0, 100, events))
        found = cramer_von_mises([History("A", tuple(times), 100.0)], seed=1)
        assert isinstance(found, Goodness)
        chances.append((found.statistic, found.p_value))
    nearest = min(chances, key=lambda pair: abs(pair[0] - ten_percent))
    assert nearest[1] == pytest.approx(0.10, abs=0.03)


def test_the_example_of_crow_fits_a_power_law_and_a_jump_does_not() -> None:
    good = cramer_von_mises([ENDED_AT_EVENT], seed=1)
    assert isinstance(good, Goodness)
    assert good.fits
    assert good.counted == 21
    clustered = tuple(np.concatenate([np.linspace(10, 12, 12), np.linspace(90, 92, 12)]))
    jump = cramer_von_mises([History("A", clustered, 100.0)], seed=1)
    assert isinstance(jump, Goodness)
    assert not jump.fits


def test_the_fit_of_a_later_record_is_not_tested() -> None:
    with pytest.raises(ValueError, match="from zero"):
        cramer_von_mises([History("A", NIST, 1500.0, begins_mgt=1.0)], seed=1)
