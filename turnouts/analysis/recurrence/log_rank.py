"""Whether repairs of one sort last longer than those of another, without a shape of their lives.

The log-rank test (Mantel 1966; Peto and Peto 1972), each sort against each other corrected after
Holm. Sorts of a repair are facts of work and component; who welded is not among them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.special import chdtrc

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.many_looks import holm
from turnouts.analysis.recurrence.lives import Life, failures_of
from turnouts.analysis.terms import Term
from turnouts.analysis.wear.runs import Floats

FEWEST_FAILURES = 5
"""Failures each sort needs to be compared (assumed: the chi square approximation of the test is
poor below about five)."""

SIGNIFICANT = 0.05


class By(Term):
    """What repairs and components may be sorted by. People are not compared."""

    STEEL = "steel"
    DESIGN = "design"
    BATCH = "batch"
    RAIL_SECTION = "rail_section"
    HEAVY_POINT = "heavy_point"
    TERRITORY = "territory"
    LINE = "line"
    PROCEDURE = "procedure"
    SEASON = "season"
    DEFECT_KIND = "defect_kind"
    ZONE = "zone"
    HEAT = "heat"

    @property
    def label(self) -> str:
        """In words that stand alone."""
        return {
            By.BATCH: "Half-year it was made in",
            By.PROCEDURE: "Procedure of the weld",
            By.SEASON: "Months of the repair",
            By.DEFECT_KIND: "Kind of defect repaired",
            By.ZONE: "Zone repaired",
            By.HEAT: "Hottest recorded pass",
        }.get(self) or super().label


OF_A_REPAIR = frozenset({By.PROCEDURE, By.SEASON, By.DEFECT_KIND, By.ZONE, By.HEAT})
"""Facts of each repair; the others are facts of the component."""


@dataclass(frozen=True, slots=True)
class Sort:
    """One sort of repair with its counts, and the failures expected if all sorts were alike."""

    name: str
    repairs: int
    failures: int
    expected: float


@dataclass(frozen=True, slots=True)
class Pair:
    """Two sorts against each other; ``p_value`` is corrected for the number of pairs."""

    first: str
    second: str
    statistic: float
    p_value: float
    differ: bool


@dataclass(frozen=True, slots=True)
class LogRank:
    """The test over all sorts with enough failures. ``left_out`` names the others."""

    by: By
    statistic: float
    degrees: int
    p_value: float
    sorts: tuple[Sort, ...]
    pairs: tuple[Pair, ...]
    left_out: tuple[str, ...]
    limits_of_inference: tuple[str, ...]
    sentence: str


def log_rank(by: By, lives: Mapping[str, Sequence[Life]]) -> LogRank | NotEnough:
    """The lives of the sorts against one another; ``lives`` by name of the sort."""
    fit = {n: tuple(rows) for n, rows in lives.items() if failures_of(rows) >= FEWEST_FAILURES}
    left_out = tuple(sorted(set(lives) - set(fit)))
    if len(fit) < 2:
        return NotEnough.of(
            f"sorts with {FEWEST_FAILURES} failed repairs by {by.value}", len(fit), 2
        )
    statistic, sorts = _test(fit)
    p_value = float(chdtrc(len(fit) - 1, statistic))
    pairs = _pairs(fit)
    return LogRank(
        by,
        statistic,
        len(fit) - 1,
        p_value,
        sorts,
        pairs,
        left_out,
        (
            "Repairs of one component count as independent; a bad component with many repairs "
            "weighs more than it should.",
            "Other differences between the sorts are not allowed for; see the regression.",
        ),
        _sentence(by, p_value, pairs, left_out),
    )


def _test(lives: Mapping[str, Sequence[Life]]) -> tuple[float, tuple[Sort, ...]]:
    names = list(lives)
    mgts = np.array(sorted({life.mgt for rows in lives.values() for life in rows if life.failed}))
    at_risk, failed = np.zeros((len(names), len(mgts))), np.zeros((len(names), len(mgts)))
    for row, name in enumerate(names):
        mgt = np.array([life.mgt for life in lives[name]])
        ended = np.array([life.failed for life in lives[name]])
        at_risk[row] = (mgt[:, None] >= mgts).sum(axis=0)
        failed[row] = ((mgt[:, None] == mgts) & ended[:, None]).sum(axis=0)
    expected = (at_risk * failed.sum(axis=0) / at_risk.sum(axis=0)).sum(axis=1)
    off = failed.sum(axis=1) - expected
    statistic = float(off[:-1] @ np.linalg.pinv(_variance(at_risk, failed)[:-1, :-1]) @ off[:-1])
    sorts = tuple(
        Sort(name, len(lives[name]), int(failed[row].sum()), float(expected[row]))
        for row, name in enumerate(names)
    )
    return statistic, sorts


def _variance(at_risk: Floats, failed: Floats) -> Floats:
    """Hypergeometric covariance of the failures by sort, summed over the tonnages; ties counted."""
    n, d = at_risk.sum(axis=0), failed.sum(axis=0)
    share = at_risk / n
    spread = np.where(n > 1, d * (n - d) / np.maximum(n - 1, 1), 0.0)
    between = np.einsum("it,jt,t->ij", share, share, spread)
    return np.asarray(np.diag((share * spread).sum(axis=1)) - between)


def _pairs(lives: Mapping[str, Sequence[Life]]) -> tuple[Pair, ...]:
    named = list(combinations(lives, 2))
    found = [_test({a: lives[a], b: lives[b]})[0] for a, b in named]
    adjusted = holm([float(chdtrc(1, statistic)) for statistic in found])
    return tuple(
        Pair(a, b, statistic, p, p < SIGNIFICANT)
        for (a, b), statistic, p in zip(named, found, adjusted, strict=True)
    )


def _sentence(by: By, p_value: float, pairs: Sequence[Pair], left_out: Sequence[str]) -> str:
    said = f"The life of repairs by {by.value.replace('_', ' ')}: "
    differing = [f"{pair.first} and {pair.second}" for pair in pairs if pair.differ]
    if p_value >= SIGNIFICANT or not differing:
        said += f"no difference is shown (p = {p_value:.3f})."
    else:
        said += f"{'; '.join(differing)} differ (p = {p_value:.3f}, pairs corrected)."
    return f"{said} Too few to compare: {', '.join(left_out)}." if left_out else said
