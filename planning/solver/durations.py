"""The chance that a sum of correlated log-normal working times stays within a given time.

Model: ln D = mu + sigma * (sqrt(s) * Z + sqrt(1 - s) * e), Z common to one crew-day, e of its own.
Given Z the times are independent, their cumulants add, and their sum is taken as a shifted
log-normal with the same mean, variance and skewness (exact for one time; for sums the third
moment is what the usual two-moment fit of Fenton (1960) lacks). Z is integrated by the
trapezoidal rule, which on the normal density converges geometrically.

Valid for shared 0 to 0.98 (where the rule errs by less than 1e-8) and sd up to the mean; outside
that, `planning.solver.faults` refuses.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr, ndtri

from planning.solver.problem import Duration

Array = npt.NDArray[np.float64]

_STEP = 0.15
_Z: Array = np.asarray(np.arange(-40, 41) * _STEP, dtype=np.float64)
_DENSITY: Array = np.asarray(np.exp(-_Z * _Z / 2), dtype=np.float64)
WEIGHT: Array = np.asarray(_DENSITY / _DENSITY.sum(), dtype=np.float64)
_LEAST_SKEW = 1e-4  # below it the fit loses digits, and the normal it tends to is as good


def moments(duration: Duration) -> Array:
    """Mean, variance and third cumulant of one working time given each value of Z (3 rows)."""
    mean, sd, shared = duration.mean_min, duration.sd_min, duration.shared
    if mean == 0:
        return np.zeros((3, len(_Z)))
    spread = math.log1p((sd / mean) ** 2)
    own = spread * (1 - shared)
    given = mean * np.exp(np.sqrt(spread * shared) * _Z - spread * shared / 2)
    wide = math.expm1(own)
    return np.stack([given, given**2 * wide, given**3 * wide**2 * (wide + 3)])


class Fitted:
    """The distribution of a sum of working times, given each value of Z."""

    __slots__ = ("_eta", "_mean", "_scale", "_sigma")

    def __init__(self, total: Array) -> None:
        mean, variance, third = total
        self._mean = mean
        self._scale = np.sqrt(variance)
        if variance[0] > 0:
            skew = np.maximum(third / (variance * self._scale), _LEAST_SKEW)
            # eta**3 + 3 * eta = skew has one real root, eta = u - 1 / u.
            root = np.cbrt((skew + np.sqrt(skew * skew + 4)) / 2)
            self._eta = root - 1 / root
            self._sigma = np.sqrt(np.log1p(self._eta**2))

    def given(self, minutes: float) -> Array:
        """Chance of a sum of at most so many minutes, for each value of Z."""
        if self._scale[0] == 0:
            return np.asarray(self._mean <= minutes, dtype=np.float64)
        above = 1 + self._eta * (minutes - self._mean) / self._scale
        # Where the time is below the least the fit can take, the chance is nil.
        logs = np.log(np.maximum(above, 1e-300))
        return np.asarray(ndtr(logs / self._sigma + self._sigma / 2), dtype=np.float64)

    def roughly(self, chance: float) -> float:
        """Minutes that do at about this chance: two-moment fit, a start for the exact search."""
        mean = float(WEIGHT @ self._mean)
        variance = float(WEIGHT @ (self._scale**2 + (self._mean - mean) ** 2))
        spread = math.log1p(variance / mean**2) if mean else 0.0
        return mean * math.exp(math.sqrt(spread) * float(ndtri(chance)) - spread / 2)

    def chance(self, minutes: float) -> float:
        """Chance of a sum of at most so many minutes."""
        return _mean(self.given(minutes))


def chance_of_all(parts: Sequence[tuple[Fitted, float]]) -> float:
    """A lower estimate of the chance that each sum stays within its own minutes.

    All sums grow with the same independent times, so given Z the events are associated (Esary,
    Proschan and Walkup 1967) and the product of their chances is at most the chance of all.
    """
    product = np.ones(len(_Z))
    for fitted, minutes in parts:
        product = product * fitted.given(minutes)
    return _mean(product)


def _mean(given: Array) -> float:
    """The mean over Z of a chance; the weights' last bits may not lift it above 1."""
    return min(1.0, float(WEIGHT @ given))


def chance_within(durations: Sequence[Duration], minutes: float) -> float:
    """Chance that these working times of one crew-day together take at most `minutes`."""
    return Fitted(_total(durations)).chance(minutes)


def minutes_for(fitted: Fitted, chance: float) -> int:
    """Least whole minutes (0 or more) within which the sum stays with at least this chance."""
    high = max(0, math.ceil(fitted.roughly(chance)))
    step = 1
    while fitted.chance(high) < chance:
        high, step = high + step, 2 * step
    low, step = high - 1, 1
    while low >= 0 and fitted.chance(low) >= chance:
        high, low, step = low, low - step, 2 * step
    return _narrow(fitted, chance, max(low, -1), high)


def _narrow(fitted: Fitted, chance: float, low: int, high: int) -> int:
    """Bisection between minutes known to be too few and minutes known to do."""
    while high - low > 1:
        middle = (low + high) // 2
        if fitted.chance(middle) < chance:
            low = middle
        else:
            high = middle
    return high


def _total(durations: Sequence[Duration]) -> Array:
    return np.asarray(sum(moments(d) for d in durations), dtype=np.float64)
