"""The cooling coefficient of a job, from the pass temperatures logged while it was done."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, inf, log, sqrt
from typing import Literal

import numpy as np
from scipy.optimize import least_squares

from repairs.welding.heat.job import HeatJob
from repairs.welding.heat.kernel import Floats
from repairs.welding.heat.replay import temperatures_at
from repairs.welding.refusals import OutsideValidity

LEAST_READINGS = 5
# W/(m2 K): from less than still air to a jet; outside lies a wrong clock or a wrong unit.
LOWEST, HIGHEST, FIRST_GUESS = 2.0, 300.0, 40.0
# Of the logarithm: an answer known to a factor of 1.6 either way says no more than the row does.
WIDEST_SIGMA = 0.5


@dataclass(frozen=True, slots=True)
class PassReading:
    """One bead as logged: when it began, in minutes, and the measuring place just before it.

    ``degc`` is None where the time was written down and the temperature was not.
    """

    zone: str
    layer: int
    bead: int
    start_min: float
    degc: float | None


@dataclass(frozen=True, slots=True)
class FittedLoss:
    """One coefficient over the air, how well it is known, and what is left over.

    ``of`` says which: the convection under the air lance, where a job uses one and wind, still air
    and radiation are reckoned beside it, or else the whole loss. ``sd_w_per_m2_k`` is one standard
    deviation, ``scatter_k`` that of the readings about the model.
    """

    of: Literal["lance", "whole"]
    loss_w_per_m2_k: float
    sd_w_per_m2_k: float
    scatter_k: float
    readings: int


def fitted_loss(job: HeatJob, log_of_passes: Sequence[PassReading]) -> FittedLoss:
    """The coefficient that brings the model nearest the readings, by least squares.

    That of the lance for a job that uses one, of the whole loss for any other. Every bead is laid
    in the model at the minute it was laid at. The uncertainty is that of the linearised fit.
    Raises OutsideValidity for fewer than five readings, for passes the job does not have or not in
    order of time, and where the readings hardly depend on the coefficient.
    """
    logged = sorted(log_of_passes, key=lambda reading: reading.start_min)
    read = np.array([nan_or(reading.degc) for reading in logged])
    known = ~np.isnan(read)
    count = int(known.sum())
    if count < LEAST_READINGS:
        raise OutsideValidity(
            f"{count} pass temperatures are too few to fit a cooling coefficient; "
            f"log at least {LEAST_READINGS}."
        )
    starts = [(each.zone, each.layer, each.bead, each.start_min) for each in logged]

    def off(logarithm: Floats) -> Floats:
        model = temperatures_at(_with_loss(job, exp(float(logarithm[0]))), starts)
        return np.asarray((np.array(model) - read)[known])

    found = least_squares(
        off, [log(FIRST_GUESS)], bounds=([log(LOWEST)], [log(HIGHEST)]), diff_step=0.01, xtol=1e-4
    )
    of: Literal["lance", "whole"] = "lance" if job.quench_w_per_m2_k > 0 else "whole"
    return _stated(of, float(found.x[0]), found.fun, found.jac)


def _with_loss(job: HeatJob, loss: float) -> HeatJob:
    if job.quench_w_per_m2_k > 0:
        return replace(job, quench_w_per_m2_k=loss)
    return replace(job, around=replace(job.around, loss_w_per_m2_k=loss))


def _stated(
    of: Literal["lance", "whole"], logarithm: float, off: Floats, slope: Floats
) -> FittedLoss:
    scatter = sqrt(float(np.sum(off**2)) / (len(off) - 1))
    leverage = sqrt(float(np.sum(slope**2)))
    # Readings are never better than a degree or so, however well they happen to lie.
    sigma = max(scatter, 1.0) / leverage if leverage > 0 else inf
    if sigma > WIDEST_SIGMA or not LOWEST * 1.05 < exp(logarithm) < HIGHEST / 1.05:
        raise OutsideValidity(
            "These pass temperatures do not say how fast the steel cools; log them over more of "
            "the job, and check clock and unit."
        )
    loss = exp(logarithm)
    return FittedLoss(of, loss, loss * sigma, scatter, len(off))


@dataclass(frozen=True, slots=True)
class Pooled:
    """One coefficient from several jobs, and the factor within which it is known (one sigma)."""

    w_per_m2_k: float
    spread: float
    jobs: int


LEAST_JOBS = 3
"""Fewer nights than this may all have had the same wind."""


def pooled(fits: Sequence[tuple[float, float]]) -> Pooled:
    """The coefficient of several jobs, each given with its own standard deviation.

    Jobs differ by more than their readings' scatter (wind, who holds the lance), so logarithms are
    averaged with weights of a random effect: one over the square of the own sigma plus the variance
    between jobs (DerSimonian and Laird 1986; from memory, checked by simulation in the tests).
    Raises OutsideValidity for fewer than three jobs.
    """
    if len(fits) < LEAST_JOBS:
        raise OutsideValidity(
            f"{len(fits)} fitted records are too few to take a cooling coefficient over; it takes "
            f"{LEAST_JOBS} at least. Log pass temperatures on more jobs."
        )
    logs = np.array([log(value) for value, _ in fits])
    own = 1 / np.array([(sd / value) ** 2 for value, sd in fits])
    mean = float(own @ logs / own.sum())
    heterogeneity = float(own @ (logs - mean) ** 2)
    slack = float(own.sum() - (own @ own) / own.sum())
    between = max(0.0, (heterogeneity - (len(fits) - 1)) / slack)
    weight = 1 / (1 / own + between)
    return Pooled(
        exp(float(weight @ logs / weight.sum())), exp(1 / sqrt(float(weight.sum()))), len(fits)
    )


def nan_or(value: float | None) -> float:
    """A reading as a number; not-a-number where none was taken."""
    return float("nan") if value is None else value
