"""What makes a repair last longer or shorter, with other differences allowed for.

Weibull regression: each fact multiplies the life by a factor (accelerated failure time; Meeker and
Escobar, 1998, chapter 17). By maximum likelihood, right-censored lives counted as such. Facts are
those of work and component (``By``); who welded is not among them.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, log

import numpy as np
from scipy.optimize import minimize
from scipy.special import ndtr, ndtri

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.many_looks import holm
from turnouts.analysis.recurrence.lives import Life
from turnouts.analysis.recurrence.log_rank import FEWEST_FAILURES, SIGNIFICANT, By
from turnouts.analysis.wear.runs import Flags, Floats


@dataclass(frozen=True, slots=True)
class Repair:
    """One repair: its life, and what is known of it. All repairs must tell the same facts."""

    life: Life
    facts: Mapping[By, str]


@dataclass(frozen=True, slots=True)
class Effect:
    """What one fact does to the life against the usual one: a factor with 95 % limits.

    ``p_value`` is corrected after Holm for all effects looked at.
    """

    by: By
    name: str
    against: str
    factor: float
    low: float
    high: float
    p_value: float
    repairs: int
    failures: int
    shown: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class LifeRegression:
    """The regression. ``shape`` is the common Weibull shape; ``left_out`` repairs whose facts are
    too rare to be told apart."""

    effects: tuple[Effect, ...]
    usual_life_mgt: float
    shape: float
    log_likelihood: float
    repairs: int
    failures: int
    left_out: tuple[str, ...]
    limits_of_inference: tuple[str, ...]


def life_regression(repairs: Sequence[Repair], by: Sequence[By]) -> LifeRegression | NotEnough:
    """The effects of facts on the life of repairs, each against the most frequent one of its kind.

    Repairs with a fact of fewer than ``FEWEST_FAILURES`` failures are left out, and named. KeyError
    when a repair does not tell one of the facts.
    """
    kept, left_out = _common_enough(repairs, by)
    names = {fact: _ordered(kept, fact) for fact in by}
    wanted = [(fact, name) for fact in by for name in names[fact][1:]]
    if not wanted:
        return NotEnough.of("facts that differ with enough failed repairs each", 0, 1)
    columns = np.array(
        [[1.0, *(float(r.facts[fact] == name) for fact, name in wanted)] for r in kept]
    )
    logs = np.log([r.life.mgt for r in kept])
    failed = np.array([r.life.failed for r in kept])
    at, covariance, likely = _fitted(columns, logs, failed)
    return LifeRegression(
        effects=_effects(wanted, names, at, covariance, kept),
        usual_life_mgt=exp(at[0]),
        shape=exp(-at[-1]),
        log_likelihood=likely - float(logs[failed].sum()),
        repairs=len(kept),
        failures=int(failed.sum()),
        left_out=left_out,
        limits_of_inference=(
            "Lives are taken as Weibull with one shape, and effects as factors that do not depend "
            "on one another.",
            "Repairs of one component count as independent, so limits are somewhat too narrow.",
            "What was not recorded may stand behind an effect: it is no proof of a cause.",
        ),
    )


def _common_enough(
    repairs: Sequence[Repair], by: Sequence[By]
) -> tuple[list[Repair], tuple[str, ...]]:
    """Repairs all of whose facts have enough failures, and the facts that do not."""
    kept, rare = list(repairs), set[str]()
    while True:
        found = {
            (fact, name)
            for fact in by
            for name, failures in _failures(kept, fact).items()
            if failures < FEWEST_FAILURES
        }
        if not found:
            return kept, tuple(sorted(rare))
        rare |= {f"{fact.value} {name}" for fact, name in found}
        kept = [r for r in kept if not any((fact, r.facts[fact]) in found for fact in by)]


def _failures(repairs: Sequence[Repair], fact: By) -> dict[str, int]:
    failures = dict.fromkeys((r.facts[fact] for r in repairs), 0)
    for repair in repairs:
        failures[repair.facts[fact]] += repair.life.failed
    return failures


def _ordered(repairs: Sequence[Repair], fact: By) -> list[str]:
    """The names of a fact, the most frequent first: that one is what others are set against."""
    counts = Counter(r.facts[fact] for r in repairs)
    return sorted(counts, key=lambda name: (-counts[name], name))


def _fitted(columns: Floats, logs: Floats, failed: Flags) -> tuple[Floats, Floats, float]:
    """Coefficients and log scale, their covariance, and the log likelihood of the log lives."""
    start = np.zeros(columns.shape[1] + 1)
    start[0], start[-1] = logs.mean(), log(max(logs.std(), 0.1))
    found = minimize(
        lambda b: tuple(-part for part in _derivatives(b, columns, logs, failed)[:2]),
        start,
        method="BFGS",
        jac=True,
    )
    at = found.x
    for _ in range(5):
        _, slope, second = _derivatives(at, columns, logs, failed)
        at = at - np.linalg.solve(second, slope)
    likely, _, second = _derivatives(at, columns, logs, failed)
    return at, np.asarray(np.linalg.inv(-second), dtype=np.float64), likely


def _derivatives(
    at: Floats, columns: Floats, logs: Floats, failed: Flags
) -> tuple[float, Floats, Floats]:
    scale = float(np.exp(at[-1]))
    z = (logs - columns @ at[:-1]) / scale
    risen = np.exp(z)
    first: Floats = failed.astype(np.float64) - risen
    likely = float(np.where(failed, z - at[-1], 0.0).sum() - risen.sum())
    slope = np.append(-(columns.T @ first) / scale, -(first * z).sum() - failed.sum())
    within = -(columns.T * risen) @ columns / scale**2
    across = columns.T @ (first - risen * z) / scale
    alone = (first * z - risen * z * z).sum()
    return likely, slope, np.block([[within, across[:, None]], [across[None, :], alone]])


def _effects(
    wanted: Sequence[tuple[By, str]],
    names: Mapping[By, Sequence[str]],
    at: Floats,
    covariance: Floats,
    kept: Sequence[Repair],
) -> tuple[Effect, ...]:
    errors = np.sqrt(np.diag(covariance))
    places = range(1, len(wanted) + 1)
    adjusted = holm([2 * float(ndtr(-abs(at[n] / errors[n]))) for n in places])
    return tuple(
        _effect(fact, name, names[fact][0], at[n], errors[n], p, kept)
        for (fact, name), n, p in zip(wanted, places, adjusted, strict=True)
    )


def _effect(
    by: By, name: str, against: str, log_factor: float, error: float, p: float,
    kept: Sequence[Repair],
) -> Effect:  # fmt: skip
    half = float(ndtri(0.975)) * error
    factor, low, high = exp(log_factor), exp(log_factor - half), exp(log_factor + half)
    shown = p < SIGNIFICANT
    such = [r for r in kept if r.facts[by] == name]
    said = (
        f"Repairs with {by.value.replace('_', ' ')} {name} last {factor:.2g} times as long as with "
        f"{against} (95 % confidence {low:.2g} to {high:.2g})"
    )
    sure = f"p = {p:.3f}, corrected for all looks"
    return Effect(
        by=by,
        name=name,
        against=against,
        factor=factor,
        low=low,
        high=high,
        p_value=p,
        repairs=len(such),
        failures=sum(r.life.failed for r in such),
        shown=shown,
        sentence=f"{said}; {sure}." if shown else f"{said}: no difference is shown; {sure}.",
    )
