"""Whether events come more and more often, against an even rate: two tests.

Laplace's test looks for drift of the events' mean tonnage; the test of the military handbook
(MIL-HDBK-189) is the best one against a power law. Both after the NIST/SEMATECH e-Handbook,
8.2.3.4, added up over components, as each may have a rate of its own.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import log, sqrt

from scipy.special import chdtr, ndtr

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.recurrence.histories import History

FEWEST_EVENTS = 4
"""Events below which no trend is sought (assumed; the normal approximation of Laplace's statistic
is said to hold from four events on)."""

SIGNIFICANT = 0.05


class Drift(StrEnum):
    """What a trend test says."""

    MORE_OFTEN = "more_often"
    LESS_OFTEN = "less_often"
    NONE_SHOWN = "none_shown"


@dataclass(frozen=True, slots=True)
class Trend:
    """A trend test: the statistic, its two-sided p-value, and the events it counted."""

    test: str
    statistic: float
    p_value: float
    counted: int
    drift: Drift
    sentence: str


def laplace(histories: Sequence[History]) -> Trend | NotEnough:
    """Laplace's test: standard normal under an even rate, above zero when events crowd the end."""
    places = _places(histories)
    if len(places) < FEWEST_EVENTS:
        return NotEnough.of("events for a trend test", len(places), FEWEST_EVENTS)
    off = sum(at - span / 2 for at, span in places)
    statistic = off / sqrt(sum(span**2 for _, span in places) / 12)
    p_value = 2 * float(ndtr(-abs(statistic)))
    return _trend("Laplace", statistic, p_value, len(places), rising=statistic > 0)


def military_handbook(histories: Sequence[History]) -> Trend | NotEnough:
    """The military handbook test: chi square with twice the events counted, small when they crowd
    the end."""
    places = _places(histories)
    if len(places) < FEWEST_EVENTS:
        return NotEnough.of("events for a trend test", len(places), FEWEST_EVENTS)
    statistic = 2 * sum(log(span / at) for at, span in places)
    below = float(chdtr(2 * len(places), statistic))
    p_value = min(2 * min(below, 1 - below), 1.0)
    return _trend("Military handbook", statistic, p_value, len(places), rising=below < 0.5)


def _places(histories: Sequence[History]) -> list[tuple[float, float]]:
    """Each event's tonnage since its history began, with the length of the history; without the
    last event where the history ended because of it."""
    places = []
    for history in histories:
        events = sorted(history.events_mgt)
        events = events[:-1] if history.ends_at_event else events
        span = history.ends_mgt - history.begins_mgt
        places += [(event - history.begins_mgt, span) for event in events]
    return places


def _trend(test: str, statistic: float, p_value: float, counted: int, *, rising: bool) -> Trend:
    if p_value >= SIGNIFICANT:
        drift, said = Drift.NONE_SHOWN, "No trend is shown"
    elif rising:
        drift, said = Drift.MORE_OFTEN, "Events come more and more often"
    else:
        drift, said = Drift.LESS_OFTEN, "Events come less and less often"
    sentence = f"{said} ({test} test, {statistic:.2f}, p = {p_value:.3f}, {counted} events)."
    return Trend(test, statistic, p_value, counted, drift, sentence)
