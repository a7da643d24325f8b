"""What this component's welds will last: its own lives drawn together with those of its family.

Lives between welds are Weibull. The logarithm of the characteristic life differs from component to
component normally about the family's; given the family's shape, the component's own lives settle
its own (normal approximation to the posterior, Gelman et al., Bayesian Data Analysis, chapter 4).
With no life of its own a component is as the family; with many it stands alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import gamma

from turnouts.analysis.recurrence.lives import Life, LifeFit, Shape, failures_of
from turnouts.analysis.wear.runs import Floats


@dataclass(frozen=True, slots=True)
class WeldLife:
    """Posterior of the log characteristic life of this component's welds, and of the log shape.

    ``own_failures`` of ``own_welds`` lives are the component's; ``family_failures`` the family's.
    """

    log_life: float
    log_life_sd: float
    log_shape: float
    log_shape_sd: float
    own_welds: int
    own_failures: int
    family_failures: int

    def draws(self, count: int, seed: int) -> tuple[Floats, Floats]:
        """Characteristic lives in MGT and shapes, drawn from the posterior."""
        rng = np.random.default_rng(seed)
        lives = np.exp(self.log_life + self.log_life_sd * rng.standard_normal(count))
        return lives, np.exp(self.log_shape + self.log_shape_sd * rng.standard_normal(count))

    @property
    def mean_mgt(self) -> float:
        """Mean life of a weld in MGT at the middle of the posterior."""
        return float(np.exp(self.log_life) * gamma(1 + np.exp(-self.log_shape)))


def weld_life(family: LifeFit, between_sd: float, own: Sequence[Life]) -> WeldLife:
    """The posterior for one component. ``between_sd``: standard deviation of the log characteristic
    life from component to component; ``own`` its lives between welds, running ones included.

    ValueError for a family that is not Weibull, or a spread that is not above zero.
    """
    if family.shape is not Shape.WEIBULL or between_sd <= 0:
        raise ValueError("Give a Weibull fit of the family, and a spread above zero.")
    prior_variance = family.covariance[0][0] + between_sd**2
    failures, shape = failures_of(own), 1 / family.scale
    logs = np.log([life.mgt for life in own])

    def slope(at: float) -> float:
        """Of the log posterior by log characteristic life; falls throughout."""
        risen = float(np.exp(shape * (logs - at)).sum())
        return shape * (risen - failures) - (at - family.location) / prior_variance

    at = family.location
    if own:
        far = 50.0
        at = float(brentq(slope, at - far, at + far))
    information = shape**2 * float(np.exp(shape * (logs - at)).sum()) + 1 / prior_variance
    return WeldLife(
        log_life=at,
        log_life_sd=information**-0.5,
        log_shape=float(np.log(shape)),
        log_shape_sd=family.covariance[1][1] ** 0.5,
        own_welds=len(own),
        own_failures=failures,
        family_failures=family.failures,
    )
