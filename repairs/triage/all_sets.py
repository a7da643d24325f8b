"""One case under several rule sets: the stricter stands, and all are shown."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from repairs.triage.decide import decide
from repairs.triage.decision import Confidence, Decision, Finding, Missing, Traffic, TrafficKind
from repairs.triage.disposition import ORDER
from repairs.triage.facts import Case
from repairs.triage.rules import RuleSet
from repairs.triage.traffic import severity, traffic_of
from turnouts.analysis.terms import Disposition

_LEAST_SURE_FIRST = (Confidence.LOW, Confidence.FAIR, Confidence.HIGH)
RISING = (Disposition.WATCH, Disposition.MEASURE_FIRST, *ORDER[1:])
"""Measuring first asks more than watching; work that one set already asks for is not put off."""


@dataclass(frozen=True, slots=True)
class Combined:
    """The answer that stands and, in the order given, what each rule set says alone."""

    decision: Decision
    by_set: tuple[Decision, ...]


def decide_all(case: Case, sets: Sequence[RuleSet]) -> Combined:
    """Decide under every rule set; of each part of the answer the strictest stands.

    ValueError for no rule set at all; RuleError when one is not in force on the day.
    """
    if not sets:
        raise ValueError("Name at least one rule set to decide under.")
    each = tuple(decide(case, rules) for rules in sets)
    if len(each) == 1:
        return Combined(each[0], each)
    traffic, leading = _traffic(each)
    work = max(each, key=lambda d: RISING.index(d.disposition))
    soonest = min(each, key=lambda d: d.due_on)
    least_sure = min(each, key=lambda d: _LEAST_SURE_FIRST.index(d.confidence))
    to_measure = _missing(each)
    combined = replace(
        leading,
        traffic=traffic,
        disposition=work.disposition,
        disposition_reason=work.disposition_reason,
        due_on=soonest.due_on,
        due_reason=soonest.due_reason,
        measure_by=_earliest([d.measure_by for d in each]),
        sentence=_sentence(leading, work, soonest, each, sets),
        findings=_findings(each),
        to_measure=to_measure,
        confidence=least_sure.confidence,
        confidence_reason=least_sure.confidence_reason,
        cautions=tuple(dict.fromkeys(said for d in each for said in d.cautions)),
        rule_set=" & ".join(d.rule_set for d in each),
        edition=" & ".join(d.edition for d in each),
        rules_seen=tuple(dict.fromkeys(row for d in each for row in d.rules_seen)),
    )
    return Combined(combined, each)


def _traffic(each: tuple[Decision, ...]) -> tuple[Traffic, Decision]:
    """The strictest traffic answer, and the decision it is said in.

    An open question under one set leaves the whole open: another set's restriction is then the most
    that could be allowed, not a permission.
    """
    leading = max(each, key=lambda d: _rank(d.traffic))
    if leading.traffic.kind is TrafficKind.STOP:
        return leading.traffic, leading
    freight = _least([d.traffic.speed_mph for d in each])
    open_ones = [d for d in each if d.traffic.kind is TrafficKind.UNKNOWN]
    if open_ones:
        leading = max(open_ones, key=lambda d: _rank(d.traffic))
    return traffic_of(leading.traffic.kind, freight, _passenger(each)), leading


def _rank(traffic: Traffic) -> tuple[int, Decimal, Decimal]:
    """Strictest last; among class speeds the lower one, which another law's own table may set."""
    speed = traffic.speed_mph if traffic.speed_mph is not None else Decimal(1000)
    return *severity(traffic), -speed


def _passenger(each: tuple[Decision, ...]) -> Decimal | None:
    """The lowest passenger speed; a set that allows freight only allows no passenger trains."""
    barred = any(d.traffic.speed_mph is not None and d.traffic.passenger_mph is None for d in each)
    return None if barred else _least([d.traffic.passenger_mph for d in each])


def _least(speeds: list[Decimal | None]) -> Decimal | None:
    return min((speed for speed in speeds if speed is not None), default=None)


def _earliest(days: list[date | None]) -> date | None:
    return min((day for day in days if day is not None), default=None)


def _findings(each: tuple[Decision, ...]) -> tuple[Finding, ...]:
    """All findings; a row that several sets share is shown once, under the first."""
    found: dict[Finding, Finding] = {}
    for finding in (f for d in each for f in d.findings):
        found.setdefault(replace(finding, rule_set=""), finding)
    return tuple(found.values())


def _missing(each: tuple[Decision, ...]) -> tuple[Missing, ...]:
    """What is to be fetched; it blocks where it does under any set."""
    asked: dict[str, Missing] = {}
    for missing in (m for d in each for m in d.to_measure):
        known = asked.get(missing.what)
        if known is None or (missing.blocks and not known.blocks):
            asked[missing.what] = missing
    return tuple(asked.values())


def _sentence(
    leading: Decision,
    work: Decision,
    soonest: Decision,
    each: tuple[Decision, ...],
    sets: Sequence[RuleSet],
) -> str:
    by = next(rules for rules in sets if rules.id == leading.rule_set)
    said = [
        leading.sentence,
        f"This is by {by.said}, the strictest of {len(each)} sets of rules here.",
    ]
    if work.disposition is not leading.disposition or soonest.due_on != leading.due_on:
        said.append(
            f"The others ask for: {work.disposition.label.lower()} by "
            f"{soonest.due_on:%d %b %Y}, {work.disposition_reason}."
        )
    return " ".join(said)
