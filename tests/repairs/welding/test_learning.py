"""Records move rows by Bayes' rule; the closed form is held against integration by scipy."""

from math import exp, log, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from repairs.welding.learning import (
    NO_EXPERIENCE,
    Experience,
    Prior,
    Record,
    as_learnt,
    experience,
    learn,
    prior_of,
    stage_record,
)
from repairs.welding.refusals import OutsideValidity
from repairs.welding.timeline import Stage

PRIOR = Prior(sigma=0.4, mean_records=4, sigma_records=8, crew_records=6)
GOUGING = Stage("1-point.gouging", "Gouging: point", fixed_min=0, work_min=20, sigma=0.4)


def records(*ratios: float, crew: str = "A") -> list[Record]:
    return [Record("gouging", crew, 20.0, 20.0 * ratio) for ratio in ratios]


def test_without_a_record_the_row_stands_as_it_is() -> None:
    learned = learn("gouging", [], PRIOR)
    assert learned.factor == 1.0
    assert learned.sigma == pytest.approx(0.4, rel=1e-12)


def test_the_posterior_agrees_with_integration_over_mean_and_variance() -> None:
    # Reference: the same prior and likelihood integrated on a grid by scipy, no conjugacy used.
    ratios = [1.3, 1.1, 1.6, 0.9, 1.4]
    y = np.log(ratios)
    beta0 = PRIOR.sigma**2 * (4 / 5) * 3  # inverse gamma: alpha 8/2, its mean times (alpha - 1)
    variances = np.geomspace(1e-3, 20, 1500)
    means = np.linspace(-2, 2, 1501)
    mean, variance = np.meshgrid(means, variances)
    log_density = stats.invgamma.logpdf(variance, 4, scale=beta0)
    log_density += stats.norm.logpdf(mean, 0, np.sqrt(variance / 4))
    for value in y:
        log_density += stats.norm.logpdf(value, mean, np.sqrt(variance))
    weight = np.exp(log_density - log_density.max())

    def over(grid: np.ndarray) -> float:
        inner = integrate.trapezoid(grid * weight, means, axis=1)
        return float(integrate.trapezoid(inner, variances))

    mass = over(np.ones_like(mean))
    expected_mean = over(mean) / mass
    expected_var = over(variance + mean**2) / mass - expected_mean**2
    learned = learn("gouging", records(*ratios), PRIOR)
    assert log(learned.factor) == pytest.approx(expected_mean, rel=2e-3)
    assert learned.sigma == pytest.approx(sqrt(expected_var), rel=2e-3)


def test_many_records_bring_back_the_median_and_spread_they_were_drawn_from() -> None:
    drawn = np.random.default_rng(5).normal(log(1.5), 0.2, 2000)
    learned = learn("gouging", records(*np.exp(drawn)), PRIOR)
    assert learned.factor == pytest.approx(1.5, rel=0.02)
    assert learned.sigma == pytest.approx(0.2, rel=0.05)


def test_as_many_records_as_the_row_is_worth_move_the_median_halfway() -> None:
    learned = learn("gouging", records(2.0, 2.0, 2.0, 2.0), PRIOR)
    assert learned.factor == pytest.approx(sqrt(2.0), rel=1e-12)


def test_a_crew_with_few_records_stays_near_the_whole_and_one_with_many_near_its_own() -> None:
    others = records(*[1.0] * 40, crew="B")
    whole = learn("gouging", others + records(2.0), PRIOR).factor
    once = learn("gouging", others + records(2.0), PRIOR, crew="A").factor
    often = learn("gouging", others + records(*[2.0] * 60), PRIOR, crew="A").factor
    assert whole < once < sqrt(2.0) * whole
    assert often == pytest.approx(2.0, rel=0.1)


def test_a_crew_without_records_is_forecast_as_any_crew() -> None:
    known = records(1.2, 1.4, crew="B")
    assert learn("gouging", known, PRIOR, crew="A") == learn("gouging", known, PRIOR)


@given(st.lists(st.floats(0.2, 5.0), min_size=1, max_size=30))
def test_the_learnt_median_lies_between_the_row_and_the_records(ratios: list[float]) -> None:
    average = exp(sum(map(log, ratios)) / len(ratios))
    factor = learn("gouging", records(*ratios), PRIOR).factor
    assert min(1.0, average) - 1e-9 <= factor <= max(1.0, average) + 1e-9


@given(st.lists(st.floats(0.2, 5.0), min_size=2, max_size=12), st.randoms())
def test_the_order_of_records_does_not_matter(ratios: list[float], draw) -> None:
    shuffled = list(ratios)
    draw.shuffle(shuffled)
    one, other = (learn("gouging", records(*r), PRIOR) for r in (ratios, shuffled))
    assert one.factor == pytest.approx(other.factor)
    assert one.sigma == pytest.approx(other.sigma)


def test_waits_for_cooling_are_taken_off_where_they_were_logged() -> None:
    layer = Stage("1-point.layer-02", "Layer 2", 0, work_min=10, sigma=0.25, wait_min=20)
    assert stage_record(layer, "A", 36, waited_min=24) == Record("layer", "A", 10, 12)
    assert stage_record(layer, "A", 36) == Record("layer", "A", 30, 36)


def test_minutes_laid_down_are_no_work_and_teach_nothing() -> None:
    dwell = Stage("penetrant", "Penetrant", fixed_min=22, work_min=6, sigma=0.2)
    assert stage_record(dwell, "A", 31).actual == 9


def test_experience_moves_the_work_and_leaves_fixed_minutes_and_waits() -> None:
    layer = Stage("1-point.layer-01", "Layer 1", 2, work_min=10, sigma=0.25, wait_min=20)
    known = experience([Record("layer", "A", 10, 20)] * 4, [], {"layer": 0.25}, {})
    (moved,) = as_learnt([layer], known)
    assert moved.work_min == pytest.approx(10 * sqrt(2))
    assert (moved.fixed_min, moved.wait_min) == (2, 20)


def test_without_experience_no_stage_changes() -> None:
    assert as_learnt([GOUGING], NO_EXPERIENCE) == (GOUGING,)
    assert Experience({}, {}).records == 0


def test_a_record_of_a_kind_without_a_row_is_refused_by_name() -> None:
    with pytest.raises(OutsideValidity, match="no row with a spread for gouging"):
        experience(records(1.0), [], {"layer": 0.3}, {})


@pytest.mark.parametrize(("actual", "refused"), [(200.0, False), (200.1, True), (0.0, True)])
def test_a_slip_of_the_pen_is_refused_and_the_widest_actual_is_not(actual, refused) -> None:
    if refused:
        with pytest.raises(OutsideValidity, match="gouging"):
            Record("gouging", "A", 20, actual)
    else:
        assert Record("gouging", "A", 20, actual).log_ratio == pytest.approx(log(10))


@pytest.mark.parametrize(("worth", "refused"), [(2, True), (2.01, False)])
def test_a_spread_worth_two_records_has_no_variance_and_is_refused(worth, refused) -> None:
    prior = Prior(0.4, 4, worth, 6)
    if refused:
        with pytest.raises(OutsideValidity, match="2 records or fewer"):
            learn("gouging", [], prior)
    else:
        assert learn("gouging", [], prior).sigma == pytest.approx(0.4)


def test_the_rows_say_what_they_are_worth() -> None:
    assert prior_of(0.3) == Prior(0.3, 4, 8, 6)


def test_a_sentence_says_how_many_records_speak() -> None:
    said = learn("gouging", records(2.0), PRIOR).sentence
    assert said.startswith("Gouging: 1 record put it at 1.15 of the row's median")
