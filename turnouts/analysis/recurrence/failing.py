"""How often repairs of one sort fail against all others, components counted as what they are.

Cox's proportional hazards with one fact, whether a repair is of the sort (J. R. Stat. Soc. B 34,
1972; ties after Breslow), and the variance of Lin and Wei (JASA 84, 1989) summed over components:
repairs of one component are no independent witnesses, so a frog welded ten times is one.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp

import numpy as np
from scipy.optimize import brentq
from scipy.special import stdtr, stdtrit

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.recurrence.lives import Life
from turnouts.analysis.recurrence.log_rank import FEWEST_FAILURES
from turnouts.analysis.wear.runs import Floats

FEWEST_COMPONENTS = 5
"""Components with such repairs on each side (assumed: a spread between fewer is hardly known)."""

FARTHEST = 7.0
"""Logarithm of the largest ratio sought: a thousand times as often."""


@dataclass(frozen=True, slots=True)
class Repaired:
    """One repair: the component it was made on, its life, and whether it is of the sort."""

    component: str
    life: Life
    of_the_sort: bool


@dataclass(frozen=True, slots=True)
class Failing:
    """How many times as often repairs of the sort fail, with 95 % limits and two-sided p-value."""

    times: float
    low: float
    high: float
    p_value: float
    repairs: int
    failures: int


def failing_against_others(repairs: Sequence[Repaired]) -> Failing | NotEnough:
    """The sort against all other repairs. The limits are of a t with components less one."""
    for side in (True, False):
        rows = [r for r in repairs if r.of_the_sort is side]
        failed = sum(r.life.failed for r in rows)
        if failed < FEWEST_FAILURES:
            return NotEnough.of(_which("repairs that failed", side), failed, FEWEST_FAILURES)
        components = len({r.component for r in rows})
        if components < FEWEST_COMPONENTS:
            named = _which("components with such repairs", side)
            return NotEnough.of(named, components, FEWEST_COMPONENTS)
    table = _Table.of(repairs)
    if table.score(-FARTHEST) <= 0 or table.score(FARTHEST) >= 0:
        return NotEnough(0, 1, "Not enough data: all of one sort failed before any of the other.")
    log_times = float(brentq(table.score, -FARTHEST, FARTHEST, xtol=1e-12))
    error, degrees = table.error(log_times), table.components - 1
    half = float(stdtrit(degrees, 0.975)) * error
    return Failing(
        times=exp(log_times),
        low=exp(log_times - half),
        high=exp(log_times + half),
        p_value=2 * float(stdtr(degrees, -abs(log_times) / error)),
        repairs=sum(r.of_the_sort for r in repairs),
        failures=sum(r.life.failed for r in repairs if r.of_the_sort),
    )


def _which(what: str, of_the_sort: bool) -> str:
    return what if of_the_sort else f"other {what}"


@dataclass(frozen=True, slots=True)
class _Table:
    """Repairs as arrays, and at each tonnage of a failure who was still in service."""

    mgt: Floats
    failed: Floats
    of_sort: Floats
    cluster: Sequence[int]
    components: int
    times: Floats
    deaths: Floats
    sort_at_risk: Floats
    others_at_risk: Floats

    @classmethod
    def of(cls, repairs: Sequence[Repaired]) -> "_Table":
        mgt = np.array([r.life.mgt for r in repairs])
        failed = np.array([float(r.life.failed) for r in repairs])
        of_sort = np.array([float(r.of_the_sort) for r in repairs])
        names = sorted({r.component for r in repairs})
        place = {name: n for n, name in enumerate(names)}
        times, counts = np.unique(mgt[failed == 1], return_counts=True)
        still = mgt[:, None] >= times[None, :]
        return cls(
            mgt=mgt,
            failed=failed,
            of_sort=of_sort,
            cluster=[place[r.component] for r in repairs],
            components=len(names),
            times=times,
            deaths=counts.astype(np.float64),
            sort_at_risk=(still * of_sort[:, None]).sum(axis=0),
            others_at_risk=(still * (1 - of_sort)[:, None]).sum(axis=0),
        )

    def _share(self, log_times: float) -> tuple[Floats, Floats]:
        """Risk in all at each failure, and the share of the sort in it."""
        sort = self.sort_at_risk * exp(log_times)
        whole = sort + self.others_at_risk
        return whole, sort / whole

    def score(self, log_times: float) -> float:
        """Failures of the sort less those expected of it; falls as the ratio grows."""
        _, share = self._share(log_times)
        return float((self.failed * self.of_sort).sum() - (self.deaths * share).sum())

    def error(self, log_times: float) -> float:
        """Standard error of the logarithm, from the sums over each component."""
        whole, share = self._share(log_times)
        at = np.searchsorted(self.times, self.mgt, side="right")
        hazard = np.concatenate([[0.0], np.cumsum(self.deaths / whole)])[at]
        shared = np.concatenate([[0.0], np.cumsum(self.deaths * share / whole)])[at]
        own = np.where(self.failed == 1, self.of_sort - share[np.maximum(at - 1, 0)], 0.0)
        risk = np.exp(log_times * self.of_sort)
        sums = np.zeros(self.components)
        np.add.at(sums, self.cluster, own - risk * (self.of_sort * hazard - shared))
        information = float((self.deaths * share * (1 - share)).sum())
        return float(np.sqrt((sums**2).sum())) / information
