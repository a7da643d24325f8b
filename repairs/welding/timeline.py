"""Time as a distribution: stages with spread, moved together by the crew and the day.

Each stage takes fixed minutes, plus work that is log-normal, plus waiting that is log-normal. The
logarithm of work is split into a part all stages share (the crew-day) and a part of its own. All
waiting shares one factor: what is not known of the cooling is the same for every bead.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import exp, log, sqrt
from statistics import NormalDist
from zlib import crc32

import numpy as np

from repairs.welding.refusals import WeldingRefusal

DRAWS = 4000
# 4,000 draws leave 20 beyond the outermost of these, as few as a quantile can decently rest on.
PROBABILITIES = tuple(n / 200 for n in range(1, 200))
_NORMAL = NormalDist()


class HandBack(StrEnum):
    """The state in which the track could be handed back if work stopped as a stage ended."""

    AS_FOUND = "as_found"
    NEVER = "never"
    CLOSED = "closed"
    RESTORED = "restored"


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of the job: medians in minutes, sigma of the logarithm of the work."""

    key: str
    name: str
    fixed_min: float
    work_min: float
    sigma: float
    wait_min: float = 0.0
    open_cavity: bool = False
    hand_back: HandBack = HandBack.AS_FOUND


@dataclass(frozen=True, slots=True)
class Spread:
    """How stages vary together: share of work's variance that is common, sigma of waiting."""

    shared: float
    wait_sigma: float


@dataclass(frozen=True, slots=True)
class Moments:
    """Mean and standard deviation of a total, and the share of its variance that is crew-day."""

    mean_min: float
    sd_min: float
    shared: float


@dataclass(frozen=True, slots=True)
class StageSpread:
    """One stage as one log-normal beside its fixed minutes."""

    median_min: float
    p80_min: float
    sigma: float


def moments(stages: Sequence[Stage], spread: Spread) -> Moments:
    """Mean and variance of the total by closed form.

    For log-normals a_i with shared part s_i of the logarithm, the covariance of two stages is
    mean_i mean_j (exp(s_i s_j) - 1) (moments of the bivariate log-normal).
    """
    means = np.array([stage.work_min * exp(stage.sigma**2 / 2) for stage in stages])
    sigmas = np.array([stage.sigma for stage in stages])
    common = sqrt(spread.shared) * sigmas
    shared_var = float(means @ np.expm1(np.outer(common, common)) @ means)
    own_var = float(means**2 @ (np.exp(sigmas**2) - np.exp(common**2)))
    wait = sum(stage.wait_min for stage in stages) * exp(spread.wait_sigma**2 / 2)
    total_var = shared_var + own_var + wait**2 * (exp(spread.wait_sigma**2) - 1)
    fixed = sum(stage.fixed_min for stage in stages)
    fraction = shared_var / total_var if total_var > 0 else 0.0
    return Moments(fixed + float(means.sum()) + wait, sqrt(total_var), fraction)


def spread_shares(stages: Sequence[Stage], spread: Spread) -> tuple[float, ...]:
    """For each stage, its part of the variance of the total: covariance with it over its variance.

    They add up to 1; all are 0 where nothing varies. Waits for cooling count with their stage.
    """
    means = np.array([stage.work_min * exp(stage.sigma**2 / 2) for stage in stages])
    sigmas = np.array([stage.sigma for stage in stages])
    common = sqrt(spread.shared) * sigmas
    own_var = means**2 * (np.exp(sigmas**2) - np.exp(common**2))
    with_total = means * (np.expm1(np.outer(common, common)) @ means) + own_var
    waits = np.array([stage.wait_min for stage in stages]) * exp(spread.wait_sigma**2 / 2)
    with_total += waits * waits.sum() * (exp(spread.wait_sigma**2) - 1)
    total = float(with_total.sum())
    return tuple((with_total / total).tolist()) if total > 0 else (0.0,) * len(stages)


def stage_spread(stage: Stage, spread: Spread) -> StageSpread:
    """Median, 80 % time and sigma of one stage.

    Exact for work alone; with waiting too, the log-normal of the same mean and variance stands for
    the sum of the two (Fenton 1960).
    """
    moved = moments((stage,), spread)
    mean = moved.mean_min - stage.fixed_min
    if mean <= 0:
        return StageSpread(stage.fixed_min, stage.fixed_min, 0.0)
    sigma = sqrt(log(1 + (moved.sd_min / mean) ** 2))
    median = mean * exp(-(sigma**2) / 2)
    p80 = median * exp(_NORMAL.inv_cdf(0.8) * sigma)
    return StageSpread(stage.fixed_min + median, stage.fixed_min + p80, sigma)


def remaining_quantiles(
    stages: Sequence[Stage], spread: Spread, seed: int
) -> tuple[tuple[float, ...], ...]:
    """For each stage, the minutes from its start to the end of the job, at PROBABILITIES.

    The first row is the whole job. Each stage draws from a stream of its own, made from the seed
    and its key, so adding a stage never changes what the others drew.
    """
    crew_day, cooling = _normals(seed, "crew-day"), _normals(seed, "cooling")
    waiting = np.exp(spread.wait_sigma * cooling)
    draws = np.empty((len(stages), DRAWS))
    for row, stage in zip(draws, stages, strict=True):
        own = _normals(seed, stage.key)
        mixed = sqrt(spread.shared) * crew_day + sqrt(1 - spread.shared) * own
        row[:] = stage.fixed_min + stage.work_min * np.exp(stage.sigma * mixed)
        row += stage.wait_min * waiting
    remaining = np.sort(np.cumsum(draws[::-1], axis=0)[::-1], axis=1)
    picked = remaining[:, [round(p * DRAWS) - 1 for p in PROBABILITIES]]
    return tuple(tuple(row) for row in picked.tolist())


def _normals(seed: int, name: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.random.default_rng([seed, crc32(name.encode())]).standard_normal(DRAWS)


def quantile_of(minutes: Sequence[float], probability: float) -> float:
    """Minutes not passed with a probability, from quantiles at PROBABILITIES.

    Raises WeldingRefusal outside 0.005 to 0.995, where the draws say nothing.
    """
    if not PROBABILITIES[0] <= probability <= PROBABILITIES[-1]:
        raise WeldingRefusal(
            f"A chance of {probability:g} is outside {PROBABILITIES[0]} to {PROBABILITIES[-1]}, "
            "the range the simulation supports."
        )
    return float(np.interp(probability, PROBABILITIES, minutes))


def chance_of(minutes: Sequence[float], available_min: float) -> float:
    """Chance to be done within some minutes, from quantiles at PROBABILITIES.

    0 below the lowest of them; never more than 0.995, for the draws say no more.
    """
    if available_min < minutes[0]:
        return 0.0
    return float(np.interp(available_min, minutes, PROBABILITIES))
