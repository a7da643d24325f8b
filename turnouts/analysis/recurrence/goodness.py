"""Whether a power law fits the events: the Cramer-von Mises statistic of Crow.

With the unbiased beta, (t/T)^beta of the events should lie evenly between 0 and 1 (Crow 1974;
MIL-HDBK-189C 6.2). The distribution of the statistic depends on the number of events alone, so the
chance of one as large comes from simulation with a seed, to any number of events.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

import numpy as np

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.recurrence.histories import History
from turnouts.analysis.wear.runs import Floats

FEWEST_EVENTS = 4
SIMULATED = 5000
DOUBTFUL = 0.05


@dataclass(frozen=True, slots=True)
class Goodness:
    """The statistic over ``counted`` events, and the chance of one so large if the law holds."""

    statistic: float
    p_value: float
    counted: int
    fits: bool
    sentence: str


def cramer_von_mises(histories: Sequence[History], seed: int) -> Goodness | NotEnough:
    """How well a power law with one beta fits histories that begin at zero tonnage.

    ValueError for histories that begin later: the test is not exact for them.
    """
    if any(h.begins_mgt for h in histories):
        raise ValueError("The test needs histories from zero tonnage; leave the others out.")
    spans = _spans(histories)
    if len(spans) < FEWEST_EVENTS:
        return NotEnough.of("events for a test of fit", len(spans), FEWEST_EVENTS)
    statistic = float(_statistic(spans[None, :])[0])
    rng = np.random.default_rng(seed)
    simulated = _statistic(rng.exponential(size=(SIMULATED, len(spans))))
    p_value = float((1 + (simulated >= statistic).sum()) / (SIMULATED + 1))
    fits = p_value >= DOUBTFUL
    said = "Nothing speaks against a power law" if fits else "A power law does not fit"
    return Goodness(
        statistic,
        p_value,
        len(spans),
        fits,
        f"{said} (Cramer-von Mises {statistic:.3f}, p = {p_value:.3f}, {len(spans)} events).",
    )


def _spans(histories: Sequence[History]) -> Floats:
    """ln(T/t) of the events; of a history that ends at its last event, without that one."""
    spans: list[float] = []
    for history in histories:
        events = sorted(history.events_mgt)
        events = events[:-1] if history.ends_at_event else events
        spans += [log(history.ends_mgt / event) for event in events]
    return np.array(spans)


def _statistic(spans: Floats) -> Floats:
    """1/(12 m) + sum ((t/T)^beta - (2 i - 1)/(2 m))^2 for each row; beta = (m - 1)/sum ln(T/t)."""
    m = spans.shape[1]
    beta = (m - 1) / spans.sum(axis=1, keepdims=True)
    even = (2 * np.arange(1, m + 1) - 1) / (2 * m)
    return np.asarray(
        1 / (12 * m) + ((np.sort(np.exp(-beta * spans), axis=1) - even) ** 2).sum(axis=1)
    )
