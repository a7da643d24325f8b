"""The cooling coefficient from logged pass temperatures: found again where it was planted."""

from dataclasses import replace

import numpy as np
import pytest

from repairs.welding.heat.fit import PassReading, fitted_loss
from repairs.welding.heat.job import HeatJob
from repairs.welding.heat.replay import temperatures_at
from repairs.welding.heat.run import run_heat
from repairs.welding.procedures import Procedure
from repairs.welding.refusals import OutsideValidity
from repairs.welding.waits import heat_job
from repairs.welding.work import Conditions, RepairWork, ZoneWork
from repairs.welding.zoneplan import plan_zone
from turnouts.analysis.terms import Zone

PLANTED = 65.0
DAY = Conditions(10, 10)


@pytest.fixture(scope="module")
def job(wire: Procedure, frog_work: RepairWork) -> HeatJob:
    work = replace(frog_work, zones=(ZoneWork(Zone.POINT, 120, 40, 8, 4),))
    return heat_job(work, (plan_zone(1, work.zones[0], work, wire),), wire, DAY)


@pytest.fixture(scope="module")
def logged(job: HeatJob) -> tuple[PassReading, ...]:
    """The job as it goes with the planted coefficient, each pass temperature written down."""
    planted = replace(job, around=replace(job.around, loss_w_per_m2_k=PLANTED))
    starts = [(b.zone, b.layer, b.bead, b.start_min) for b in run_heat(planted).beads]
    degc = temperatures_at(planted, starts)
    return tuple(PassReading(*start, read) for start, read in zip(starts, degc, strict=True))


def test_a_planted_coefficient_is_found_again(
    job: HeatJob, logged: tuple[PassReading, ...]
) -> None:
    found = fitted_loss(job, logged)
    assert found.loss_w_per_m2_k == pytest.approx(PLANTED, rel=0.02)
    assert found.readings == len(logged)
    assert found.scatter_k < 1


def test_it_is_found_within_its_own_uncertainty_from_rough_readings(
    job: HeatJob, logged: tuple[PassReading, ...]
) -> None:
    # A contact pyrometer in the field reads to some five degrees.
    noise = np.random.default_rng(5).normal(0, 5, len(logged))
    rough = [
        replace(each, degc=(each.degc or 0.0) + shift)
        for each, shift in zip(logged, noise, strict=True)
    ]
    found = fitted_loss(job, rough)
    assert abs(found.loss_w_per_m2_k - PLANTED) < 3 * found.sd_w_per_m2_k
    assert 0 < found.sd_w_per_m2_k < PLANTED / 3
    assert found.scatter_k == pytest.approx(5, rel=0.5)


def test_four_readings_are_too_few_and_five_are_enough(
    job: HeatJob, logged: tuple[PassReading, ...]
) -> None:
    def keep(count: int) -> list[PassReading]:
        first = len(logged) - count
        return [each if n >= first else replace(each, degc=None) for n, each in enumerate(logged)]

    with pytest.raises(OutsideValidity, match="4 pass temperatures are too few"):
        fitted_loss(job, keep(4))
    assert fitted_loss(job, keep(5)).readings == 5


def test_readings_from_before_the_first_heat_say_nothing(
    job: HeatJob, logged: tuple[PassReading, ...]
) -> None:
    cold = [replace(each, degc=10.0) for each in logged]
    with pytest.raises(OutsideValidity, match="do not say how fast"):
        fitted_loss(job, cold)


def test_times_out_of_order_and_beads_there_are_not_are_refused(
    job: HeatJob, logged: tuple[PassReading, ...]
) -> None:
    with pytest.raises(OutsideValidity, match="correct the times"):
        fitted_loss(job, [replace(each, start_min=100.0) for each in logged])
    with pytest.raises(OutsideValidity, match="no bead 99"):
        fitted_loss(job, [replace(logged[0], bead=99), *logged[1:]])
