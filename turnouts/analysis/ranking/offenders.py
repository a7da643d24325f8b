"""Repeat offenders: events observed against events expected of such components at such tonnage.

Counts are Poisson with mean (relative rate x expected), relative rates gamma among the components
of the family: the gamma-Poisson model, its two figures fitted by marginal maximum likelihood
(empirical Bayes: Robbins 1956; Clayton and Kaldor, Biometrics 43, 1987). The posterior of each
relative rate is a gamma again, drawn toward the family the more the less was expected of it, so
that one unlucky month is no verdict.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log

import numpy as np
from scipy.optimize import minimize
from scipy.special import gammainc, gammaincinv, gammaln

from turnouts.analysis.evidence import NotEnough, said_chance
from turnouts.analysis.wear.runs import Floats

FEWEST_COMPONENTS = 10
"""Components a family needs for its spread to be estimated (assumed)."""

FEWEST_EVENTS = 10
"""Events it needs in all (assumed)."""

SURE = 0.95
"""Chance of being worse than expected from which a component is called a repeat offender (assumed:
one in twenty of those called is not)."""

MOST_ALIKE = 1e4
"""Gamma shape from which components count as alike: they differ by less than 1 % then."""


@dataclass(frozen=True, slots=True)
class Observed:
    """Events on one component, and what is expected: events of its family at its tonnage."""

    key: str
    events: int
    expected: float

    def __post_init__(self) -> None:
        if self.events < 0 or not self.expected > 0:
            raise ValueError(
                f"{self.key}: {self.events} events against {self.expected:g} expected; events are "
                "not below zero, and something must be expected where tonnage has passed."
            )


@dataclass(frozen=True, slots=True)
class Offender:
    """One component with its relative rate (1 is the family's), 90 % interval, and chances.

    ``ratio`` is plain observed over expected; ``relative`` the posterior mean.
    """

    key: str
    events: int
    expected: float
    ratio: float
    relative: float
    low: float
    high: float
    chance_worse: float
    chance_twice: float
    repeat_offender: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class Ranking:
    """Components by the chance that they are worse than their like, surest first.

    ``spread`` is the standard deviation of true relative rates among the components; 0 when counts
    differ no more than chance makes them.
    """

    offenders: tuple[Offender, ...]
    family_rate: float
    spread: float
    components: int
    events: int
    limits_of_inference: tuple[str, ...]
    sentence: str


def rank(observed: Sequence[Observed]) -> Ranking | NotEnough:
    """The components of one family ranked. Relative rates are against the family's own mean."""
    events = sum(one.events for one in observed)
    if len(observed) < FEWEST_COMPONENTS:
        return NotEnough.of("like components", len(observed), FEWEST_COMPONENTS)
    if events < FEWEST_EVENTS:
        return NotEnough.of("events on all of them", events, FEWEST_EVENTS)
    counts = np.array([one.events for one in observed], dtype=np.float64)
    expected = np.array([one.expected for one in observed])
    shape, mean, _ = fitted(counts, expected)
    offenders = [_offender(one, shape, mean) for one in observed]
    offenders.sort(key=lambda o: (-o.chance_worse, -o.relative, o.key))
    spread = 0.0 if shape >= MOST_ALIKE else shape**-0.5
    return Ranking(
        tuple(offenders),
        mean,
        spread,
        len(observed),
        events,
        (
            "Events of one component count as independent, given its rate.",
            "The spread of the family is taken as known: 90 % intervals hold about 87 %.",
            "What is expected is only as good as the tonnage and the family it is worked out from.",
        ),
        _sentence(offenders, spread, events),
    )


def fitted(counts: Floats, expected: Floats) -> tuple[float, float, float]:
    """Gamma shape, mean relative rate and log likelihood of the negative binomial margin.

    The shape is ``MOST_ALIKE`` when counts spread no more than a Poisson with one rate.
    """
    mean = counts.sum() / expected.sum()
    excess = ((counts - mean * expected) ** 2 - counts).sum() / ((mean * expected) ** 2).sum()
    start = np.array([log(1 / min(max(excess, 0.01), 10.0)), log(mean)])
    bounds = [(log(1e-3), log(MOST_ALIKE)), (log(mean) - 5, log(mean) + 5)]
    found = minimize(_unlikely, start, args=(counts, expected), method="L-BFGS-B", bounds=bounds)
    alike = np.array([log(MOST_ALIKE), log(mean)])
    at = found.x if found.fun < _unlikely(alike, counts, expected) - 1e-6 else alike
    return exp(at[0]), exp(at[1]), -_unlikely(at, counts, expected)


def _unlikely(at: Floats, counts: Floats, expected: Floats) -> float:
    """Minus the log likelihood: each count negative binomial with mean (mean x expected)."""
    shape, means = np.exp(at[0]), np.exp(at[1]) * expected
    terms = (
        gammaln(counts + shape)
        - gammaln(shape)
        - gammaln(counts + 1)
        - shape * np.log1p(means / shape)
        + counts * (np.log(means) - np.log(shape + means))
    )
    return -float(terms.sum())


def _offender(one: Observed, shape: float, mean: float) -> Offender:
    """Posterior gamma with shape (shape + events) and, for relative rates, rate (shape + mean x
    expected)."""
    a, b = shape + one.events, shape + mean * one.expected
    worse, twice = (1 - float(gammainc(a, times * b)) for times in (1.0, 2.0))
    low, high = (float(gammaincinv(a, p)) / b for p in (0.05, 0.95))
    sure = worse >= SURE
    return Offender(
        key=one.key,
        events=one.events,
        expected=mean * one.expected,
        ratio=one.events / (mean * one.expected),
        relative=a / b,
        low=low,
        high=high,
        chance_worse=worse,
        chance_twice=twice,
        repeat_offender=sure,
        sentence=(
            f"{one.key}: {one.events} events where {mean * one.expected:.1f} are usual; its rate "
            f"is taken as {a / b:.1f} times the usual ({low:.1f} to {high:.1f}), worse than its "
            f"like with a chance of {said_chance(worse)}."
        ),
    )


def _sentence(offenders: Sequence[Offender], spread: float, events: int) -> str:
    sure = [o.key for o in offenders if o.repeat_offender]
    whole = f"{events} events on {len(offenders)} components"
    if spread == 0:
        return f"{whole}: they differ no more than chance makes them; none stands out."
    if not sure:
        return f"{whole}: components differ, but none is surely worse than its like."
    return f"{whole}: {', '.join(sure)} {'is' if len(sure) == 1 else 'are'} worse than its like."
