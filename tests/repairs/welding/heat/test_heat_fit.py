"""The cooling coefficient from logged pass temperatures: found again where it was planted."""

from dataclasses import replace

import numpy as np
import pytest

from repairs.welding.heat.fit import PassReading, fitted_loss, pooled
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
    planted = replace(job, quench_w_per_m2_k=PLANTED)
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


def test_a_job_without_a_lance_says_how_much_it_loses_in_all(
    job: HeatJob, logged: tuple[PassReading, ...]
) -> None:
    still = replace(job, quench_w_per_m2_k=0.0)
    starts = [(each.zone, each.layer, each.bead, each.start_min) for each in logged]
    around = replace(still.around, loss_w_per_m2_k=40.0)
    degc = temperatures_at(replace(still, around=around), starts)
    read = [replace(each, degc=at) for each, at in zip(logged, degc, strict=True)]
    found = fitted_loss(still, read)
    assert found.of == "whole"
    assert found.loss_w_per_m2_k == pytest.approx(40.0, rel=0.02)


def test_jobs_that_differ_more_than_their_readings_make_the_coefficient_less_sure() -> None:
    alike, apart = [(60.0, 6.0)] * 4, [(30.0, 3.0), (60.0, 6.0), (60.0, 6.0), (120.0, 12.0)]
    assert pooled(alike).w_per_m2_k == pytest.approx(60)
    assert pooled(apart).w_per_m2_k == pytest.approx(60)
    # Four jobs known to a tenth each: to a twentieth together.
    assert pooled(alike).spread == pytest.approx(np.exp(0.05))
    assert pooled(apart).spread > 1.25
    with pytest.raises(OutsideValidity, match="2 fitted records are too few"):
        pooled(alike[:2])


def test_a_planted_coefficient_is_inside_its_stated_spread_as_often_as_it_should_be() -> None:
    draw, inside = np.random.default_rng(11), 0
    for _ in range(400):
        true = 60 * np.exp(draw.normal(0, 0.2, 12))
        seen = true * np.exp(draw.normal(0, 0.1, 12))
        found = pooled([(value, 0.1 * value) for value in seen])
        inside += abs(np.log(found.w_per_m2_k / 60)) < np.log(found.spread)
    # One sigma of a normal holds 68 of 100; three standard errors of 400 draws are 7.
    assert 0.58 < inside / 400 < 0.75
