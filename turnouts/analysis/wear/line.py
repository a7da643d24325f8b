"""A wear line with what is not known about it: level and rate, their covariance, the scatter.

A straight line of level against tonnage. Wear of a new casting and of a fresh weld runs in faster
at first, so a line through few early readings overstates the rate; the texts say what it rests on.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtr, stdtrit

from turnouts.analysis.wear.least_squares import least_squares
from turnouts.analysis.wear.runs import Floats


@dataclass(frozen=True, slots=True)
class Line:
    """Level at the reset (in the unit of the quantity) and rate (that unit a MGT).

    ``covariance`` is 2 by 2, of level and rate; ``sd`` the scatter of one reading about the line;
    ``degrees`` the degrees of freedom behind the scatter.
    """

    level: float
    rate: float
    covariance: tuple[tuple[float, float], tuple[float, float]]
    sd: float
    degrees: float

    def at(self, mgt: float) -> float:
        """The level after so much tonnage since the reset."""
        return self.level + self.rate * mgt

    def error_at(self, mgt: float) -> float:
        """Standard error of the level there, scatter of readings not counted."""
        (v00, v01), (_, v11) = self.covariance
        return math.sqrt(max(v00 + 2 * v01 * mgt + v11 * mgt * mgt, 0.0))

    def band(self, mgt: float, chance: float = 0.95, *, reading: bool = True) -> "Band":
        """Where the next reading there lies with this chance (or, without, the level itself)."""
        spread = self.error_at(mgt) ** 2 + (self.sd**2 if reading else 0.0)
        half = float(stdtrit(self.degrees, (1 + chance) / 2)) * spread**0.5
        return Band(mgt, self.at(mgt) - half, self.at(mgt), self.at(mgt) + half)

    def rate_interval(self, chance: float = 0.95) -> tuple[float, float]:
        """Confidence limits of the rate."""
        half = float(stdtrit(self.degrees, (1 + chance) / 2)) * self.covariance[1][1] ** 0.5
        return self.rate - half, self.rate + half

    def chance_above(self, mgt: float, limit: float) -> float:
        """The chance that the level after so much tonnage is above a limit.

        A degenerate line without any error answers 0, 1, or one half on the limit itself.
        """
        error, over = self.error_at(mgt), self.at(mgt) - limit
        if error == 0:
            return 0.5 if over == 0 else float(over > 0)
        return float(stdtr(self.degrees, over / error))


@dataclass(frozen=True, slots=True)
class Band:
    """The line at one tonnage with its lower and upper bound."""

    mgt: float
    low: float
    middle: float
    high: float


def line_of(since_mgt: Floats, values: Floats, least_sd: float) -> Line:
    """The least squares line of one run's readings, its scatter never taken below ``least_sd``.

    ValueError with fewer than three readings, or all at one tonnage.
    """
    columns = np.column_stack([np.ones_like(since_mgt), since_mgt])
    fit = least_squares(columns, values)
    sd = max(fit.sd, least_sd)
    wider = (sd / fit.sd) ** 2 if fit.sd > 0 else 1.0
    cov = fit.covariance * wider
    if fit.sd == 0:
        cov = sd**2 * np.linalg.inv(columns.T @ columns)
    (a, b), (v00, v01, v11) = fit.coefficients, (cov[0, 0], cov[0, 1], cov[1, 1])
    shown = ((float(v00), float(v01)), (float(v01), float(v11)))
    return Line(float(a), float(b), shown, sd, fit.degrees)
