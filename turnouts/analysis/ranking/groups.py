"""Whether groups of components (batches, makers, places, designs) have more events than others.

Each group against all others together by the exact conditional test of two Poisson rates (given
the sum, a binomial count; Przyborowski and Wilenski, Biometrika 31, 1940), corrected after Holm.
Counts spread more than Poisson where components differ, so the p-values are those of the group's
components taken together after the spread of the family is allowed for: see ``overdispersion``.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np
from scipy.special import ndtr, ndtri
from scipy.stats import binomtest

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.many_looks import holm
from turnouts.analysis.ranking.offenders import Observed

FEWEST_EVENTS = 5
"""Events (observed or expected, whichever is more) a group needs to be compared (assumed)."""

SIGNIFICANT = 0.05


@dataclass(frozen=True, slots=True)
class Group:
    """One group against the others: its rate over theirs with 95 % limits, and corrected p.

    ``p_alone`` is for whoever corrects it together with other looks.
    """

    name: str
    components: int
    events: int
    expected: float
    times_others: float
    low: float
    high: float
    p_alone: float
    p_value: float
    differs: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class Groups:
    """All groups that could be compared, worst first; ``left_out`` have too few events.

    ``overdispersion`` is the Pearson variance of components' counts over the Poisson one, within
    groups; at least 1.
    """

    groups: tuple[Group, ...]
    left_out: tuple[str, ...]
    overdispersion: float
    sentence: str


def compare_groups(members: Mapping[str, Sequence[Observed]]) -> Groups | NotEnough:
    """Each group against all others, corrected for the number of groups looked at.

    The exact test where components of a group differ no more than chance; otherwise the normal
    test of the logarithm with its variance widened by the overdispersion (quasi-Poisson).
    """
    fit = {
        name: rows
        for name, rows in members.items()
        if max(_events(rows), _expected(rows)) >= FEWEST_EVENTS
    }
    left_out = tuple(sorted(set(members) - set(fit)))
    if len(fit) < 2:
        return NotEnough.of(f"groups with {FEWEST_EVENTS} events", len(fit), 2)
    wider = overdispersion(list(fit.values()))
    raw = [_p_value(fit, name, wider) for name in fit]
    groups = [
        _group(fit, name, alone, p, wider)
        for name, alone, p in zip(fit, raw, holm(raw), strict=True)
    ]
    groups.sort(key=lambda g: (-g.times_others, g.name))
    return Groups(tuple(groups), left_out, wider, _sentence(groups, left_out))


def overdispersion(groups: Sequence[Sequence[Observed]]) -> float:
    """Pearson's chi square of counts about their own group's rate, over its degrees of freedom.

    1 where there is less spread than that, or nothing to judge it by.
    """
    chi, degrees = 0.0, 0
    for rows in groups:
        rate = _events(rows) / _expected(rows)
        if rate > 0:
            chi += sum((r.events - rate * r.expected) ** 2 / (rate * r.expected) for r in rows)
            degrees += len(rows) - 1
    return max(chi / degrees, 1.0) if degrees > 0 else 1.0


def _p_value(groups: Mapping[str, Sequence[Observed]], name: str, wider: float) -> float:
    events, others = _events(groups[name]), _others(groups, name)
    share = _expected(groups[name]) / (_expected(groups[name]) + others[1])
    if wider == 1:
        return float(binomtest(events, events + int(others[0]), share).pvalue)
    times, error = _times(groups, name, wider)
    return 2 * float(ndtr(-abs(log(times)) / error))


def _times(
    groups: Mapping[str, Sequence[Observed]], name: str, wider: float
) -> tuple[float, float]:
    """The group's rate over that of the others and the standard error of its logarithm.

    Half an event is added to each count, so that a group without events has a finite ratio.
    """
    events, expected = _events(groups[name]) + 0.5, _expected(groups[name])
    others, expected_others = _others(groups, name)
    times = events / expected / ((others + 0.5) / expected_others)
    return times, sqrt(wider * (1 / events + 1 / (others + 0.5)))


def _group(
    groups: Mapping[str, Sequence[Observed]], name: str, alone: float, p: float, wider: float
) -> Group:
    rows = groups[name]
    times, error = _times(groups, name, wider)
    wide = exp(float(ndtri(0.975)) * error)
    differs = p < SIGNIFICANT
    said = (
        f"{name}: {_events(rows)} events on {len(rows)} components, {times:.2g} times the rate of "
        f"the others (95 % confidence {times / wide:.2g} to {times * wide:.2g})"
    )
    return Group(
        name=name,
        components=len(rows),
        events=_events(rows),
        expected=_expected(rows),
        times_others=times,
        low=times / wide,
        high=times * wide,
        p_alone=alone,
        p_value=p,
        differs=differs,
        sentence=f"{said}." if differs else f"{said}: no difference is shown.",
    )


def _events(rows: Sequence[Observed]) -> int:
    return sum(row.events for row in rows)


def _expected(rows: Sequence[Observed]) -> float:
    return float(np.sum([row.expected for row in rows]))


def _others(groups: Mapping[str, Sequence[Observed]], name: str) -> tuple[float, float]:
    rows = [row for other, rows in groups.items() if other != name for row in rows]
    return float(_events(rows)), _expected(rows)


def _sentence(groups: Sequence[Group], left_out: Sequence[str]) -> str:
    found = [g.name for g in groups if g.differs]
    said = f"Of {len(groups)} groups "
    said += f"{', '.join(found)} stand out" if found else "none stands out"
    said += ", corrected for how many were looked at."
    return f"{said} Too few events to compare: {', '.join(left_out)}." if left_out else said
