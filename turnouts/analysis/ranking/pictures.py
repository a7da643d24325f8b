"""Figures for the funnel and Pareto pictures of components."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from scipy.special import pdtr

from turnouts.analysis.ranking.offenders import Observed

FUNNEL_CHANCES = (0.95, 0.998)
"""The usual warning and action limits of a funnel plot: two and three standard deviations."""


@dataclass(frozen=True, slots=True)
class FunnelLimit:
    """Between which ratios of observed to expected a component of the family lies with a chance."""

    expected: float
    chance: float
    low: float
    high: float


def funnel(expected: Sequence[float]) -> tuple[FunnelLimit, ...]:
    """Exact Poisson limits of observed / expected (Spiegelhalter, Statistics in Medicine 24, 2005).

    They are for one component picked beforehand: of many, some lie outside by chance alone.
    ValueError where nothing is expected.
    """
    if min(expected, default=1) <= 0:
        raise ValueError("A funnel needs something to be expected at each point.")
    return tuple(_limit(each, chance) for chance in FUNNEL_CHANCES for each in sorted(expected))


def outside(one: Observed, family_rate: float, chance: float) -> bool:
    """Whether a component's count lies outside the funnel, either way."""
    limit = _limit(one.expected * family_rate, chance)
    return not limit.low <= one.events / (one.expected * family_rate) <= limit.high


@dataclass(frozen=True, slots=True)
class ParetoBar:
    """One cause or component of a Pareto picture, with the share of all up to and with it."""

    name: str
    count: int
    share: float
    share_so_far: float


def pareto(counts: Mapping[str, int]) -> tuple[ParetoBar, ...]:
    """The counts, largest first, with running shares; empty when there is nothing to count.

    ValueError for a count below zero.
    """
    if min(counts.values(), default=0) < 0:
        raise ValueError("A count is not below zero.")
    whole, so_far, bars = sum(counts.values()), 0, []
    for name, count in sorted(counts.items(), key=lambda item: (-item[1], item[0])):
        if count:
            so_far += count
            bars.append(ParetoBar(name, count, count / whole, so_far / whole))
    return tuple(bars)


def _limit(expected: float, chance: float) -> FunnelLimit:
    tail = (1 - chance) / 2
    low, high = _poisson_quantile(tail, expected), _poisson_quantile(1 - tail, expected)
    return FunnelLimit(expected, chance, low / expected, high / expected)


def _poisson_quantile(share: float, mean: float) -> int:
    """The smallest count that a Poisson count stays at or below with at least this chance."""
    low, high = 0, ceil(mean + 10 * mean**0.5 + 20)
    while low < high:
        middle = (low + high) // 2
        if float(pdtr(middle, mean)) >= share:
            high = middle
        else:
            low = middle + 1
    return low
