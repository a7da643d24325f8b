"""The power-law process: events whose rate grows or falls with tonnage (Crow's model).

By a tonnage t a component is expected to have had scale x t^beta events: beta above 1 means more
and more often. Maximum likelihood after Crow (1974; MIL-HDBK-189C, NIST/SEMATECH e-Handbook 8.4.5),
of one component or several that share both figures, each watched between its own two tonnages.
Repairs are taken to leave a component as bad as it was just before the event (minimal repair).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

from scipy.optimize import brentq
from scipy.special import chdtri, ndtri

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.recurrence.histories import History, counted

FEWEST_EVENTS = 4
"""Events below which no beta is given (assumed: with three, the 95 % limits lie a factor of 30
apart)."""


@dataclass(frozen=True, slots=True)
class PowerLaw:
    """Estimates. ``scale`` is events expected by 1 MGT; intervals have the ``confidence``.

    ``unbiased_beta`` is (n - 1)/n of beta when time truncated and (n - 2)/n when failure truncated.
    """

    beta: float
    scale: float
    unbiased_beta: float
    beta_low: float
    beta_high: float
    confidence: float
    log_likelihood: float
    events: int
    components: int
    ends_mgt: float
    limits_of_inference: tuple[str, ...]
    sentence: str

    def expected(self, mgt: float) -> float:
        """Events a component is expected to have had by a tonnage."""
        return float(self.scale * mgt**self.beta)

    def rate(self, mgt: float) -> float:
        """Events a MGT at a tonnage."""
        return float(self.scale * self.beta * mgt ** (self.beta - 1))

    def mean_between(self, mgt: float) -> float:
        """Mean tonnage between events at a tonnage, were the rate to stay as it is there."""
        return 1 / self.rate(mgt)


def power_law(histories: Sequence[History], confidence: float = 0.95) -> PowerLaw | NotEnough:
    """The process by maximum likelihood.

    Exact limits of beta (chi square) for one history from zero tonnage; else those of the normal
    distribution of its logarithm. ValueError when one of several histories ends at its last event:
    then it is not known what was decided by what.
    """
    if len(histories) > 1 and any(h.ends_at_event for h in histories):
        raise ValueError("Histories that end at an event are judged one at a time.")
    events, _ = counted(histories)
    if events < FEWEST_EVENTS:
        return NotEnough.of("events", events, FEWEST_EVENTS)
    longest = max(h.ends_mgt for h in histories)
    beta = _beta(histories, longest)
    scale = events / sum(_gain(h, beta, 1.0) for h in histories)
    low, high = _limits(histories, beta, confidence, longest)
    logs = sum(log(e) for h in histories for e in h.events_mgt)
    likely = events * (log(scale) + log(beta)) + (beta - 1) * logs - events
    lost = 2 if histories[0].ends_at_event else 1
    return PowerLaw(
        beta=beta,
        scale=scale,
        unbiased_beta=beta * (events - lost) / events,
        beta_low=low,
        beta_high=high,
        confidence=confidence,
        log_likelihood=likely,
        events=events,
        components=len(histories),
        ends_mgt=longest,
        limits_of_inference=_inference(histories),
        sentence=_sentence(beta, low, high, events, len(histories)),
    )


def _gain(history: History, beta: float, unit: float) -> float:
    """What one history adds to the expected count, for scale 1 and tonnage in a unit."""
    begins = (history.begins_mgt / unit) ** beta if history.begins_mgt else 0.0
    return float((history.ends_mgt / unit) ** beta - begins)


def _gain_slope(history: History, beta: float, unit: float, power: int = 1) -> float:
    """The derivative of that by beta, once or twice."""

    def term(mgt: float) -> float:
        return (mgt / unit) ** beta * log(mgt / unit) ** power if mgt else 0.0

    return term(history.ends_mgt) - term(history.begins_mgt)


def _score(beta: float, histories: Sequence[History], unit: float) -> float:
    events, _ = counted(histories)
    logs = sum(log(e / unit) for h in histories for e in h.events_mgt)
    slope = sum(_gain_slope(h, beta, unit) for h in histories)
    return events / beta + logs - events * slope / sum(_gain(h, beta, unit) for h in histories)


def _beta(histories: Sequence[History], unit: float) -> float:
    """One history from zero: n / sum ln(T / t), in closed form; else the root of the score."""
    only = histories[0]
    if len(histories) == 1 and not only.begins_mgt:
        spread = sum(log(only.ends_mgt / e) for e in only.events_mgt)
        if spread > 0:
            return len(only.events_mgt) / spread
    low, high = _score(1e-3, histories, unit), _score(200.0, histories, unit)
    if low <= 0 or high >= 0:
        raise ValueError("The events leave the growth of their rate open; check their tonnages.")
    return float(brentq(_score, 1e-3, 200.0, args=(histories, unit), xtol=1e-12))


def _limits(
    histories: Sequence[History], beta: float, confidence: float, unit: float
) -> tuple[float, float]:
    events, _ = counted(histories)
    only, tail = histories[0], (1 - confidence) / 2
    if len(histories) == 1 and not only.begins_mgt:
        degrees = 2 * (events - 1) if only.ends_at_event else 2 * events
        low, high = (float(chdtri(degrees, p)) / (2 * events) for p in (1 - tail, tail))
        return beta * low, beta * high
    gain = sum(_gain(h, beta, unit) for h in histories)
    first = sum(_gain_slope(h, beta, unit) for h in histories) / gain
    second = sum(_gain_slope(h, beta, unit, 2) for h in histories) / gain
    information = events / beta**2 + events * (second - first**2)
    wide = exp(-float(ndtri(tail)) / (beta * sqrt(information)))
    return beta / wide, beta * wide


def _inference(histories: Sequence[History]) -> tuple[str, ...]:
    said = ["Each repair is taken to leave the component as it was just before the event."]
    if len(histories) > 1:
        said.append("All components are taken to share one rate; frail ones among them pull beta.")
    if any(h.begins_mgt for h in histories):
        said.append("Some records begin later than the component's life; only they are counted.")
    return tuple(said)


def _sentence(beta: float, low: float, high: float, events: int, components: int) -> str:
    whom = "on one component" if components == 1 else f"on {components} components"
    if low > 1:
        said = "Events come more and more often"
    elif high < 1:
        said = "Events come less and less often"
    else:
        said = "It cannot be said whether events come more or less often"
    return f"{said}: beta {beta:.2f} ({low:.2f} to {high:.2f}), from {events} events {whom}."
