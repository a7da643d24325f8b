"""A set-up taken out of a working time that was estimated with it in."""

from math import exp, expm1, log1p, sqrt

from scipy.optimize import brentq

from planning.solver.problem import Duration


def log_normal(median_min: float, sigma: float, shared: float) -> Duration:
    """A working time from its median in minutes and the standard deviation of its logarithm."""
    mean = median_min * exp(sigma**2 / 2)
    return Duration(mean, mean * sqrt(expm1(sigma**2)), shared)


def without(whole: Duration, setup: Duration) -> Duration:
    """What is left of a working time when its set-up is done but once for several jobs.

    With the set-up added again, correlated as all work of one crew-day is, mean and standard
    deviation are those of the whole. Raises ValueError where the set-up takes as long as the whole.
    """
    mean = whole.mean_min - setup.mean_min
    if not mean > 0:
        raise ValueError(
            f"A set-up of {setup.mean_min:.0f} min leaves nothing of a job of "
            f"{whole.mean_min:.0f} min; look at the stages of its estimate."
        )

    def too_much(sd_min: float) -> float:
        return _variance(Duration(mean, sd_min, whole.shared), setup) - whole.sd_min**2

    if too_much(0.0) >= 0:
        return Duration(mean, 0.0, whole.shared)
    most = min(mean, whole.sd_min)
    sd = float(brentq(too_much, 0.0, most)) if too_much(most) > 0 else most
    return Duration(mean, sd, whole.shared)


def _variance(one: Duration, other: Duration) -> float:
    """Of the sum of two times of one crew-day (moments of the bivariate log-normal)."""
    together = sqrt(one.shared * other.shared) * _sigma(one) * _sigma(other)
    common = one.mean_min * other.mean_min * expm1(together)
    return one.sd_min**2 + other.sd_min**2 + 2 * common


def _sigma(duration: Duration) -> float:
    return sqrt(log1p((duration.sd_min / duration.mean_min) ** 2))
