"""How long welds last in a family of components, and how much components differ in it.

Lives between welds are Weibull; the logarithm of the characteristic life differs from component to
component normally. Location, shape and that spread are found together by maximum likelihood, the
component's own deviation integrated out (Gauss and Hermite): a shape fitted as if all components
were alike takes their differences for scatter of single welds.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize
from scipy.special import logsumexp

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.recurrence.lives import FEWEST_FAILURES, Life, LifeFit, Shape, failures_of
from turnouts.analysis.wear.runs import Floats

FEWEST_REPEATED = 6
"""Components with two welds or more below which their spread is not estimated (assumed: a spread
from fewer is itself too uncertain)."""

USUAL_SPREAD = 0.4
"""Spread of the log characteristic life where it cannot be estimated (assumed: two components in
three then lie within half as long again of the family's)."""

LEAST_SPREAD, MOST_SPREAD = 0.05, 2.0
"""Bounds of the spread (assumed: no two places are quite alike)."""

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(32)
_LOG_WEIGHTS = np.log(_WEIGHTS / _WEIGHTS.sum())
_STEP = 1e-4


@dataclass(frozen=True, slots=True)
class WeldFamily:
    """Weibull lives of a family's welds about a component's own level, and how levels differ.

    ``spread_known`` is false where too few components were welded twice and the usual is taken.
    """

    fit: LifeFit
    between_sd: float
    spread_known: bool
    components: int


@dataclass(frozen=True, slots=True)
class _Sums:
    """Per component: failures, the sum of their log lives; and all log lives with their owner."""

    failures: Floats
    logs: Floats
    every_log: Floats
    owner: Floats


def weld_family(lives: Sequence[Sequence[Life]]) -> WeldFamily | NotEnough:
    """The family of the components' weld lives (MGT), one sequence a component; running ones count.

    Components without lives are left out.
    """
    welded = [own for own in lives if own]
    every = [life for own in welded for life in own]
    failures = failures_of(every)
    if failures < FEWEST_FAILURES:
        return NotEnough.of("welds that failed", failures, FEWEST_FAILURES)
    sums = _sums(welded)
    known = sum(len(own) > 1 and failures_of(own) > 0 for own in welded) >= FEWEST_REPEATED
    at, spread = _likeliest(sums, known=known)
    covariance = np.linalg.inv(_information(at, spread, sums))
    fit = LifeFit(
        shape=Shape.WEIBULL,
        location=float(at[0]),
        scale=float(np.exp(at[1])),
        covariance=(
            (float(covariance[0, 0]), float(covariance[0, 1])),
            (float(covariance[0, 1]), float(covariance[1, 1])),
        ),
        log_likelihood=-_unlikely(at, spread, sums) - float(sums.logs.sum()),
        failures=failures,
        running=len(every) - failures,
    )
    return WeldFamily(fit, spread, known, len(welded))


def _sums(welded: Sequence[Sequence[Life]]) -> _Sums:
    return _Sums(
        failures=np.array([float(failures_of(own)) for own in welded]),
        logs=np.array([sum(float(np.log(x.mgt)) for x in own if x.failed) for own in welded]),
        every_log=np.log([life.mgt for own in welded for life in own]),
        owner=np.array([n for n, own in enumerate(welded) for _ in own], dtype=np.float64),
    )


def _unlikely(at: Floats, spread: float, sums: _Sums) -> float:
    """Minus the log likelihood of the log lives, each component's own level integrated out."""
    location, scale = float(at[0]), float(np.exp(at[1]))
    risen = np.bincount(
        sums.owner.astype(np.int64),
        weights=np.exp(np.minimum((sums.every_log - location) / scale, 500.0)),
        minlength=len(sums.failures),
    )
    shift = spread * _NODES / scale
    each = (
        ((sums.logs - sums.failures * location) / scale)[:, None]
        - sums.failures[:, None] * shift[None, :]
        - risen[:, None] * np.exp(-shift)[None, :]
    )
    likely = logsumexp(each + _LOG_WEIGHTS, axis=1) - sums.failures * np.log(scale)
    return -float(likely.sum())


def _likeliest(sums: _Sums, *, known: bool) -> tuple[Floats, float]:
    """Location and log scale, and the spread where it is to be found."""
    logs = sums.every_log
    start = [float(logs.mean()), float(np.log(max(logs.std() * 0.7, 0.1)))]
    bounds: list[tuple[float, float]] = [(start[0] - 10, start[0] + 10), (-3.0, 2.0)]
    if known:
        found = minimize(
            lambda x: _unlikely(x[:2], float(np.exp(x[2])), sums),
            [*start, np.log(USUAL_SPREAD)],
            method="L-BFGS-B",
            bounds=[*bounds, (np.log(LEAST_SPREAD), np.log(MOST_SPREAD))],
        )
        return found.x[:2], float(np.exp(found.x[2]))
    found = minimize(
        lambda x: _unlikely(x, USUAL_SPREAD, sums), start, method="L-BFGS-B", bounds=bounds
    )
    return found.x, USUAL_SPREAD


def _information(at: Floats, spread: float, sums: _Sums) -> Floats:
    """Second derivatives of minus the log likelihood by location and log scale, by differences."""
    bent = np.zeros((2, 2))
    sides = [np.array([_STEP, 0.0]), np.array([0.0, _STEP])]
    for row, one in enumerate(sides):
        for column, other in enumerate(sides):
            corners = (
                _unlikely(at + one + other, spread, sums)
                - _unlikely(at + one - other, spread, sums)
                - _unlikely(at - one + other, spread, sums)
                + _unlikely(at - one - other, spread, sums)
            )
            bent[row, column] = corners / (4 * _STEP**2)
    return (bent + bent.T) / 2
