"""The mean cumulative function: events a component has had on average by a tonnage.

Nelson's estimate (Recurrent Events Data Analysis, SIAM/ASA 2003; Technometrics 37, 1995) with the
robust variance of Lawless and Nadeau (Technometrics 37, 1995), which needs no model of how events
follow one another, only that components are independent and that when watching ends has nothing to
do with their events. Limits are on the logarithm, so that they stay above zero.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, sqrt

import numpy as np
from scipy.special import ndtri

from turnouts.analysis.recurrence.histories import History, counted
from turnouts.analysis.wear.runs import Floats


@dataclass(frozen=True, slots=True)
class Step:
    """The function just after the events at one tonnage, with how many were under watch then."""

    mgt: float
    events: int
    watched: int
    mean: float
    standard_error: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class MeanCumulative:
    """The function as its steps; it is level between them and 0 before the first."""

    steps: tuple[Step, ...]
    components: int
    events: int
    confidence: float
    limits_of_inference: tuple[str, ...]
    sentence: str

    def at(self, mgt: float) -> float:
        """Events a component has had on average by a tonnage."""
        before = bisect_right([step.mgt for step in self.steps], mgt)
        return self.steps[before - 1].mean if before else 0.0


def mean_cumulative(histories: Sequence[History], confidence: float = 0.95) -> MeanCumulative:
    """The mean cumulative function of a family (or of one component: then without any error).

    ValueError without a history, or for a confidence not between 0 and 1.
    """
    if not histories or not 0 < confidence < 1:
        raise ValueError("Give at least one history, and a confidence between 0 and 1.")
    mgts, counts, watched = _counts(histories)
    events, at_risk = counts.sum(axis=0), watched.sum(axis=0)
    means = np.cumsum(events / at_risk)
    errors = _errors(counts, watched)
    z = float(ndtri((1 + confidence) / 2))
    steps = tuple(
        _step(mgt, int(n), int(r), float(m), float(e), z)
        for mgt, n, r, m, e in zip(mgts, events, at_risk, means, errors, strict=True)
    )
    total, _ = counted(histories)
    return MeanCumulative(
        steps, len(histories), total, confidence, _inference(steps), _sentence(steps, histories)
    )


def _counts(histories: Sequence[History]) -> tuple[list[float], Floats, Floats]:
    """Tonnages with events; events of each component there; whether it was under watch."""
    mgts = sorted({e for h in histories for e in h.events_mgt})
    place = {mgt: n for n, mgt in enumerate(mgts)}
    counts = np.zeros((len(histories), len(mgts)))
    for row, history in enumerate(histories):
        for event in history.events_mgt:
            counts[row, place[event]] += 1
    at = np.array(mgts)[None, :]
    begins = np.array([h.begins_mgt for h in histories])[:, None]
    ends = np.array([h.ends_mgt for h in histories])[:, None]
    return mgts, counts, ((begins < at) & (at <= ends)).astype(np.float64)


def _errors(counts: Floats, watched: Floats) -> Floats:
    """Lawless and Nadeau: each component's own path against the mean path, squared and summed."""
    at_risk = watched.sum(axis=0)
    apart = watched * (counts - counts.sum(axis=0) / at_risk) / at_risk
    return np.asarray(np.sqrt((np.cumsum(apart, axis=1) ** 2).sum(axis=0)))


def _step(mgt: float, events: int, watched: int, mean: float, error: float, z: float) -> Step:
    wide = exp(z * error / mean)
    return Step(mgt, events, watched, mean, error, mean / wide, mean * wide)


def _inference(steps: tuple[Step, ...]) -> tuple[str, ...]:
    said = ["Components must be independent, and watching must not end because of their events."]
    few = next((step.mgt for step in steps if step.watched < 5), None)
    if few is not None:
        said.append(f"From {few:.0f} MGT on fewer than five components were under watch.")
    return tuple(said)


def _sentence(steps: tuple[Step, ...], histories: Sequence[History]) -> str:
    events, mgt = counted(histories)
    if not steps:
        return f"No event in {mgt:.0f} MGT over {len(histories)} components."
    last = steps[-1]
    return (
        f"By {last.mgt:.0f} MGT a component has had {last.mean:.2g} events on average (95 % "
        f"confidence {last.low:.2g} to {last.high:.2g}), from {events} events on "
        f"{len(histories)} components."
        if sqrt(last.standard_error) > 0
        else f"{events} events by {last.mgt:.0f} MGT, on one history: nothing says how others fare."
    )
