"""The wear of one group of components against the others: one figure a component, then the groups.

Each component's readings are taken about the mean of their own run, so that levels and repairs do
not matter; a group's rate is the sum of products over the sum of squares of all its components,
and its variance that of their sums (clustered; Liang and Zeger, Biometrika 73, 1986). Readings
that do not fit their run are left out first.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtr, stdtrit

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.wear.resistant import resistant
from turnouts.analysis.wear.runs import Run, table_of

FEWEST_COMPONENTS = 6
"""Components with a rate of their own that each side needs (assumed, as for a family's spread)."""

RUNS_AT_ONCE = 300
"""Runs fitted together: more take much memory, because slopes are between all pairs of readings."""


@dataclass(frozen=True, slots=True)
class Worn:
    """What the runs of one component say of its rate, about each run's own mean.

    ``squares`` in MGT squared, ``across`` in MGT times mm; their quotient is its rate.
    """

    squares: float
    across: float
    readings: int


@dataclass(frozen=True, slots=True)
class Rate:
    """A group's wear in mm a MGT with 95 % limits."""

    rate: float
    low: float
    high: float
    error: float
    components: int
    readings: int


def worn_of(runs: Mapping[str, Sequence[Run]], least_sd: float) -> dict[str, Worn]:
    """By component what its runs say; without those whose readings say nothing of a rate."""
    named = [(name, run) for name, own in runs.items() for run in own if len(run.readings) > 1]
    sums: dict[str, tuple[float, float, int]] = {}
    for start in range(0, len(named), RUNS_AT_ONCE):
        batch = named[start : start + RUNS_AT_ONCE]
        table = table_of([run for _, run in batch])
        kept = resistant(table, least_sd).kept.astype(np.float64)
        n = np.maximum(kept.sum(axis=1), 1)
        dx = table.since_mgt - ((kept * table.since_mgt).sum(axis=1) / n)[:, None]
        squares, across = ((kept * dx * y).sum(axis=1) for y in (dx, table.values))
        for row, (name, _) in enumerate(batch):
            s, a, count = sums.get(name, (0.0, 0.0, 0))
            sums[name] = (s + squares[row], a + across[row], count + int(kept[row].sum()))
    return {name: Worn(float(s), float(a), n) for name, (s, a, n) in sums.items() if s > 0}


def rate_of(worn: Sequence[Worn]) -> Rate | NotEnough:
    """The rate of a group, mm a MGT."""
    n = len(worn)
    if n < FEWEST_COMPONENTS:
        return NotEnough.of("components with a rate of wear", n, FEWEST_COMPONENTS)
    squares, across = (np.array([getattr(w, name) for w in worn]) for name in ("squares", "across"))
    rate = float(across.sum() / squares.sum())
    apart = ((across - rate * squares) ** 2).sum() * n / (n - 1)
    error = float(np.sqrt(apart) / squares.sum())
    half = float(stdtrit(n - 1, 0.975)) * error
    return Rate(rate, rate - half, rate + half, error, n, sum(w.readings for w in worn))


def differ(one: Rate, other: Rate) -> float:
    """Two-sided p-value of two groups' rates, by Welch's test; 1 where nothing spreads."""
    v1, v2 = one.error**2, other.error**2
    if v1 + v2 == 0:
        return 1.0
    degrees = (v1 + v2) ** 2 / (v1**2 / (one.components - 1) + v2**2 / (other.components - 1))
    return 2 * float(stdtr(degrees, -abs(one.rate - other.rate) / (v1 + v2) ** 0.5))
