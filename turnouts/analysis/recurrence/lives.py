"""How long repairs last, in MGT: lives that ended in a failure, and lives still running (censored).

Both distributions are of one form: log life = location + scale x noise, the noise extreme-value
for the Weibull and normal for the lognormal. A fit is the location and the logarithm of the scale
with their covariance; every limit follows from these by the delta method (Meeker and Escobar,
Statistical Methods for Reliability Data, 1998, chapters 8 and 9).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import exp, gamma, log, sqrt

from scipy.special import log_ndtr, ndtri

FEWEST_FAILURES = 3
"""Failures a fit of a life needs (assumed: two settle the two figures and leave nothing over)."""


@dataclass(frozen=True, slots=True)
class Life:
    """Tonnage from a repair to its failure, or (not ``failed``) to the end of watching, in MGT."""

    mgt: float
    failed: bool

    def __post_init__(self) -> None:
        if not self.mgt > 0:
            raise ValueError(f"A life of {self.mgt:g} MGT is not above zero; correct the record.")


class Shape(StrEnum):
    """The distribution of lives."""

    WEIBULL = "weibull"
    LOGNORMAL = "lognormal"


@dataclass(frozen=True, slots=True)
class LifeFit:
    """A fitted distribution of lives. ``covariance`` is of location and log scale.

    For the Weibull: characteristic life exp(location), shape 1 / scale. For the lognormal: median
    life exp(location), standard deviation of the logarithm ``scale``.
    """

    shape: Shape
    location: float
    scale: float
    covariance: tuple[tuple[float, float], tuple[float, float]]
    log_likelihood: float
    failures: int
    running: int

    @property
    def aic(self) -> float:
        """Akaike's criterion: the lower, the better the two distributions compare."""
        return 4 - 2 * self.log_likelihood

    @property
    def mean(self) -> float:
        """Mean life in MGT."""
        if self.shape is Shape.WEIBULL:
            return exp(self.location) * gamma(1 + self.scale)
        return exp(self.location + self.scale**2 / 2)

    @property
    def standard_deviation(self) -> float:
        """Standard deviation of lives in MGT."""
        if self.shape is Shape.WEIBULL:
            spread = gamma(1 + 2 * self.scale) - gamma(1 + self.scale) ** 2
            return exp(self.location) * sqrt(spread)
        return self.mean * sqrt(exp(self.scale**2) - 1)

    def quantile(self, share: float) -> float:
        """The tonnage by which a share of repairs has failed."""
        return exp(self.location + self.scale * self._noise(share))

    def quantile_limits(self, share: float, confidence: float = 0.95) -> tuple[float, float]:
        """Confidence limits of that tonnage, on its logarithm."""
        noise = self.scale * self._noise(share)
        half = _z(confidence) * self._error(1.0, noise)
        middle = self.location + noise
        return exp(middle - half), exp(middle + half)

    def surviving(self, mgt: float) -> float:
        """The share of repairs that last longer than a tonnage; 1 at zero."""
        if mgt <= 0:
            return 1.0
        return self._survival((log(mgt) - self.location) / self.scale)

    def surviving_limits(self, mgt: float, confidence: float = 0.95) -> tuple[float, float]:
        """Confidence limits of that share, on its standardised logarithm."""
        z = (log(mgt) - self.location) / self.scale
        half = _z(confidence) * self._error(1 / self.scale, z)
        return self._survival(z + half), self._survival(z - half)

    def failing_within(self, more_mgt: float, lasted_mgt: float) -> float:
        """The chance that a repair that has lasted so long fails within so much more."""
        return 1 - self.surviving(lasted_mgt + more_mgt) / self.surviving(lasted_mgt)

    def _noise(self, share: float) -> float:
        if not 0 < share < 1:
            raise ValueError("A share of repairs lies between 0 and 1.")
        if self.shape is Shape.WEIBULL:
            return log(-log(1 - share))
        return float(ndtri(share))

    def _survival(self, z: float) -> float:
        if self.shape is Shape.WEIBULL:
            return exp(-exp(min(z, 50.0)))
        return exp(float(log_ndtr(-z)))

    def _error(self, by_location: float, by_log_scale: float) -> float:
        """Standard error of what changes so with location and log scale."""
        (v00, v01), (_, v11) = self.covariance
        a, b = by_location, by_log_scale
        return sqrt(max(a * a * v00 + 2 * a * b * v01 + b * b * v11, 0.0))


def failures_of(lives: Sequence[Life]) -> int:
    """How many of the lives ended in a failure."""
    return sum(life.failed for life in lives)


def _z(confidence: float) -> float:
    return float(ndtri((1 + confidence) / 2))
