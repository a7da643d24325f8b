"""Promised times are held against what happened, with the doubt that few jobs leave."""

import pytest

from repairs.welding.calibration import ENOUGH, Outcome, calibration
from repairs.welding.refusals import OutsideValidity


def jobs(*actual_min: float) -> list[Outcome]:
    return [Outcome(f"J{n}", 100, 120, 150, took) for n, took in enumerate(actual_min)]


def test_four_jobs_are_too_few_to_say_anything_and_five_are_enough() -> None:
    assert calibration(jobs(*[90] * (ENOUGH - 1))).held == ()
    assert not calibration(jobs(*[90] * (ENOUGH - 1))).enough
    assert calibration(jobs(*[90] * ENOUGH)).enough


def test_a_job_done_in_exactly_the_promised_time_counts_as_held() -> None:
    held = calibration(jobs(100, 120, 150, 150.1, 90)).held
    assert [h.held for h in held] == [2, 3, 4]


def test_the_interval_is_that_of_clopper_and_pearson() -> None:
    # 8 of 10 held: 0.444 to 0.975 (tables of exact binomial limits; e.g. scipy's own docs agree).
    held = calibration(jobs(*[110] * 8, *[130] * 2)).held[1]
    assert held.low == pytest.approx(0.4439, abs=1e-4)
    assert held.high == pytest.approx(0.9748, abs=1e-4)


def test_times_that_never_hold_are_called_too_short() -> None:
    eighty = calibration(jobs(*[140] * 20)).held[1]
    assert not eighty.stands
    assert eighty.sentence.endswith("the time is too short.")


def test_times_that_always_hold_are_called_too_long_once_there_are_enough_jobs() -> None:
    few, many = (calibration(jobs(*[60] * n)).held[1] for n in (5, 60))
    assert few.stands
    assert many.sentence.endswith("the time is too long.")


def test_the_middle_ratio_says_by_how_much_jobs_run_over() -> None:
    found = calibration(jobs(*[125] * 6))
    assert found.median_ratio == pytest.approx(1.25)


@pytest.mark.parametrize("times", [(0, 1, 2, 3), (5, 4, 6, 3), (1, 2, 3, 0)])
def test_times_out_of_order_or_zero_are_refused(times) -> None:
    with pytest.raises(OutsideValidity, match="J1"):
        Outcome("J1", *times)
