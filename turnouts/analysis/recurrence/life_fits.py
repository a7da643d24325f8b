"""Weibull and lognormal lives by maximum likelihood, right-censored lives counted as such."""

from collections.abc import Sequence
from math import log, pi

import numpy as np
from scipy.optimize import minimize
from scipy.special import log_ndtr

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.recurrence.lives import (
    FEWEST_FAILURES,
    Life,
    LifeFit,
    Shape,
    failures_of,
)
from turnouts.analysis.wear.runs import Flags, Floats

LEAST_SPREAD = 1e-6
"""Logarithms of lives nearer than this are one tonnage: their difference is rounding."""


def fit_life(lives: Sequence[Life], shape: Shape) -> LifeFit | NotEnough:
    """The distribution of lives of one shape.

    ValueError when all failures came at one tonnage and nothing lasted longer: then there is no
    spread to estimate.
    """
    failures = failures_of(lives)
    if failures < FEWEST_FAILURES:
        return NotEnough.of("repairs that failed", failures, FEWEST_FAILURES)
    logs = np.log([life.mgt for life in lives])
    failed = np.array([life.failed for life in lives])
    if np.ptp(logs[failed]) < LEAST_SPREAD and not (logs > logs[failed].max() + LEAST_SPREAD).any():
        raise ValueError("All repairs failed at one tonnage; check whether they are copies.")
    start = np.array([logs.mean(), log(max(logs.std(), 0.1))])
    found = minimize(_unlikely, start, args=(logs, failed, shape), method="BFGS", jac=True)
    at = _polished(found.x, logs, failed, shape)
    _, _, second = _derivatives(at, logs, failed, shape)
    covariance = np.linalg.inv(-second)
    likely = -_unlikely(at, logs, failed, shape)[0] - float(logs[failed].sum())
    return LifeFit(
        shape=shape,
        location=float(at[0]),
        scale=float(np.exp(at[1])),
        covariance=(
            (float(covariance[0, 0]), float(covariance[0, 1])),
            (float(covariance[0, 1]), float(covariance[1, 1])),
        ),
        log_likelihood=likely,
        failures=failures,
        running=len(lives) - failures,
    )


def likelier(lives: Sequence[Life]) -> LifeFit | NotEnough:
    """The better of both shapes by Akaike's criterion; the Weibull when they are even.

    With few failures either may win by chance, and they differ most where nothing was seen yet.
    """
    weibull, lognormal = fit_life(lives, Shape.WEIBULL), fit_life(lives, Shape.LOGNORMAL)
    if isinstance(weibull, NotEnough) or isinstance(lognormal, NotEnough):
        return weibull
    return lognormal if lognormal.aic < weibull.aic else weibull


def life_sentence(fit: LifeFit) -> str:
    """The fit in words."""
    low, high = fit.quantile_limits(0.5)
    return (
        f"Half of such repairs last longer than {fit.quantile(0.5):.0f} MGT (95 % confidence "
        f"{low:.0f} to {high:.0f}), from {fit.failures} that failed and {fit.running} still "
        "in service."
    )


def _unlikely(unknown: Floats, logs: Floats, failed: Flags, shape: Shape) -> tuple[float, Floats]:
    """Minus the log likelihood of the log lives, and its slope."""
    likely, slope, _ = _derivatives(unknown, logs, failed, shape)
    return -likely, -slope


def _polished(unknown: Floats, logs: Floats, failed: Flags, shape: Shape) -> Floats:
    """A few Newton steps, so that the last digits do not hang on where the search stopped."""
    at = unknown
    for _ in range(5):
        _, slope, second = _derivatives(at, logs, failed, shape)
        at = at - np.linalg.solve(second, slope)
    return at


def _derivatives(
    unknown: Floats, logs: Floats, failed: Flags, shape: Shape
) -> tuple[float, Floats, Floats]:
    """Log likelihood of the log lives, slope and second derivatives by location and log scale."""
    scale = float(np.exp(unknown[1]))
    z = (logs - unknown[0]) / scale
    value, first, second = _weibull(z, failed) if shape is Shape.WEIBULL else _normal(z, failed)
    n = failed.sum()
    slope = np.array([-first.sum() / scale, -(first * z).sum() - n])
    cross = (second * z + first).sum() / scale
    bent = np.array([[second.sum() / scale**2, cross], [cross, (second * z * z + first * z).sum()]])
    return float(value.sum() - n * np.log(scale)), slope, bent


def _weibull(z: Floats, failed: Flags) -> tuple[Floats, Floats, Floats]:
    """Each life's log likelihood in its standardised logarithm, with two derivatives."""
    risen = np.exp(z)
    return np.where(failed, z, 0.0) - risen, failed - risen, -risen


def _normal(z: Floats, failed: Flags) -> tuple[Floats, Floats, Floats]:
    beyond = log_ndtr(-z)
    hazard = np.exp(-z * z / 2 - 0.5 * log(2 * pi) - beyond)
    value = np.where(failed, -z * z / 2 - 0.5 * log(2 * pi), beyond)
    first = np.where(failed, -z, -hazard)
    return value, first, np.where(failed, -1.0, -hazard * (hazard - z))
