"""What holds of a defect: the machine's answer, or the person's word that overrules it."""

from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import lru_cache

from repairs.models import Decision, Overrule
from repairs.triage.decision import Traffic, TrafficKind
from repairs.triage.traffic import KMH_PER_MPH, severity


@dataclass(frozen=True)
class Standing:
    """Traffic, disposition and due date as they hold now.

    ``asks_again`` is set where the overruling was of an earlier decision and the facts have
    changed since: until somebody answers, of machine and person the stricter holds for traffic and
    date, and the disposition stays the person's.
    """

    traffic: str
    speed_kmh: Decimal | None
    disposition: str
    due_on: date | None
    overrule: Overrule | None = None
    asks_again: bool = False
    machines_traffic: bool = True


def standing_of(decision: Decision) -> Standing:
    """What holds of one current decision."""
    return standing_for([decision])[decision.pk]


def standing_for(decisions: Sequence[Decision]) -> dict[int, Standing]:
    """What holds of each current decision, by its id; one query however many there are."""
    newest = newest_overrules(decision.defect_id for decision in decisions)
    return {d.pk: _standing(d, newest.get(d.defect_id)) for d in decisions}


def as_it_stands(decisions: Sequence[Decision]) -> list[Decision]:
    """The decisions with what holds in the place of the machine's answer: to read, not to save."""
    standing = standing_for(decisions)
    held = [copy(decision) for decision in decisions]
    for decision in held:
        holds = standing[decision.pk]
        decision.traffic, decision.speed_kmh = holds.traffic, holds.speed_kmh
        decision.disposition, decision.due_on = holds.disposition, holds.due_on
    return held


def overruled_words(holds: Standing) -> str:
    """Who overruled the machine and why, in one or two sentences; nothing where nobody did."""
    if holds.overrule is None:
        return ""
    word = holds.overrule
    again = " The facts have changed since; ask again." if holds.asks_again else ""
    return f"Overruled by {word.by}, {word.role.replace('_', ' ')}: {word.reason}{again}"


def newest_overrules(defects: Iterable[int]) -> dict[int, Overrule]:
    """The last overruling of each defect that has one, by the defect's id."""
    rows = Overrule.objects.filter(decision__defect__in=list(defects)).select_related(
        "by", "decision"
    )
    rows = rows.defer("decision__detail").order_by("at", "pk")
    return {row.decision.defect_id: row for row in rows}


def _standing(decision: Decision, overrule: Overrule | None) -> Standing:
    if overrule is None:
        return Standing(decision.traffic, decision.speed_kmh, decision.disposition, decision.due_on)
    if follows_the_rules(overrule, overrule.decision):
        return _standing(decision, None)  # the engineer took an earlier word back
    if overrule.decision_id == decision.pk:
        return _by_word(overrule, asks_again=False)
    word = _by_word(overrule, asks_again=True)
    if rank(decision.traffic, decision.speed_kmh) <= rank(word.traffic, word.speed_kmh):
        traffic, speed = word.traffic, word.speed_kmh
    else:
        traffic, speed = decision.traffic, decision.speed_kmh
    due_on = min(overrule.due_on, decision.due_on or overrule.due_on)
    by_machine = (traffic, speed) != (word.traffic, word.speed_kmh)
    return Standing(traffic, speed, word.disposition, due_on, overrule, True, by_machine)


def _by_word(overrule: Overrule, *, asks_again: bool) -> Standing:
    return Standing(
        overrule.traffic,
        overrule.speed_kmh,
        overrule.disposition,
        overrule.due_on,
        overrule,
        asks_again,
        machines_traffic=False,
    )


def follows_the_rules(overrule: Overrule, decision: Decision) -> bool:
    """Whether the word says the same as the rules: an earlier overruling is then taken back."""
    return (
        rank(overrule.traffic, overrule.speed_kmh) == rank(decision.traffic, decision.speed_kmh)
        and overrule.traffic == decision.traffic
        and (overrule.disposition, overrule.due_on) == (decision.disposition, decision.due_on)
    )


@lru_cache(maxsize=1024)
def rank(traffic: str, speed_kmh: Decimal | None) -> tuple[int, Decimal]:
    """An order of traffic answers, strictest last; speeds in whole mph, as they are ordered."""
    mph = None if speed_kmh is None else (speed_kmh / KMH_PER_MPH).to_integral_value()
    return severity(Traffic(TrafficKind(traffic), mph, None, speed_kmh))
