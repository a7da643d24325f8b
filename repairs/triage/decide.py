"""Triage: one case and a rule set in, one decision with all its reasons out."""

from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

from repairs.triage.conditions import judge_conditions
from repairs.triage.decision import (
    Confidence,
    Decision,
    Finding,
    Missing,
    Outcome,
    RowSeen,
    Traffic,
    TrafficKind,
)
from repairs.triage.disposition import Choice, choose
from repairs.triage.due import due
from repairs.triage.facts import EXCEPTED, Case
from repairs.triage.indexed import rows_on
from repairs.triage.inspection import overdue
from repairs.triage.limits import judge_limits
from repairs.triage.rail_defects import judge_rail_defects
from repairs.triage.read import READ
from repairs.triage.rows import Advice, Row
from repairs.triage.rules import RuleSet, rules_in_force
from repairs.triage.say import radio_sentence
from repairs.triage.traffic import traffic_now
from repairs.triage.words import behind
from turnouts.analysis.terms import Disposition


def decide(case: Case, rules: RuleSet) -> Decision:
    """What becomes of a reported defect, by the rows in force on the day of the decision.

    The answer advises; a person qualified under 49 CFR 213.7 or the local rule decides and signs.
    Raises RuleError when no rows are in force on that day.
    """
    rules = rules_in_force(rules, case.decided_on)
    return answer(case, rules, judge(case, rules))


def answer(case: Case, rules: RuleSet, judged: "Judged") -> Decision:
    """The whole decision from what was judged, by the same rules in force on its day."""
    findings, traffic, choice = judged.findings, judged.traffic, judged.choice
    due_on, due_reason, due_row = due(case, traffic, choice.disposition, findings, rules)
    to_measure = _without_doubles([*judged.missing, *choice.missing, *_again(findings)])
    measure_by = _measure_by(case, rules) if to_measure else None
    confidence, why = _confidence(traffic, findings, to_measure, choice)
    return Decision(
        traffic=traffic,
        disposition=choice.disposition,
        disposition_reason=choice.reason,
        due_on=due_on,
        due_reason=due_reason,
        measure_by=measure_by,
        sentence=radio_sentence(
            case, traffic, judged.governing, choice, to_measure, due_on, measure_by
        ),
        findings=tuple(findings),
        to_measure=to_measure,
        confidence=confidence,
        confidence_reason=why,
        cautions=_cautions(case, rules, traffic, choice),
        rule_set=rules.id,
        edition=rules.edition,
        rules_seen=_seen(findings, rules, choice.row, due_row),
    )


@dataclass(frozen=True, slots=True)
class Judged:
    """The findings with traffic and disposition, before dates and words are put to them."""

    findings: list[Finding]
    missing: list[Missing]
    traffic: Traffic
    governing: list[Finding]
    choice: Choice


def judge(case: Case, rules: RuleSet) -> Judged:
    """The heart of a decision, by rules that are already those in force on its day."""
    findings, missing = _judge(case, rules, judged_class(case, rules))
    traffic, governing = traffic_now(findings, missing, rules, case.track.track_class)
    choice = choose(case, findings, rules, unanswered=traffic.kind is TrafficKind.UNKNOWN)
    return Judged(findings, missing, traffic, governing, choice)


def judged_class(case: Case, rules: RuleSet) -> int | None:
    """The class whose limits are used: its own, or the railway's choice for excepted track."""
    if case.track.track_class == EXCEPTED and rules.has_classes:
        return rules.setting("excepted_judged_as_class").number
    return case.track.track_class


def _judge(
    case: Case, rules: RuleSet, judged_class: int | None
) -> tuple[list[Finding], list[Missing]]:
    findings, missing = judge_limits(case, rules, judged_class)
    for more, lacks in (
        judge_conditions(case, rules),
        judge_rail_defects(case, rules, case.track.track_class),
    ):
        findings += more
        missing += lacks
    if case.track.track_class is None and rules.has_classes:
        missing.append(Missing(None, "the class of track", "speeds and limits go by it"))
    return findings, missing


def _measure_by(case: Case, rules: RuleSet) -> date:
    return case.reported_on + timedelta(days=rules.setting("measure_within_days").number)


def _again(findings: list[Finding]) -> list[Missing]:
    """Readings too near their limit to tell: a finer one could change the answer."""
    why = "it is nearer to its limit than its uncertainty; a finer reading could change the answer"
    return [
        Missing(f.quantity, f"{f.title.lower()}, again", why, blocks=False)
        for f in findings
        if f.outcome is Outcome.NEAR and f.applies_to_traffic
    ]


def _without_doubles(missing: list[Missing]) -> tuple[Missing, ...]:
    return tuple({m.what: m for m in reversed(missing)}.values())[::-1]


def _confidence(
    traffic: Traffic, findings: list[Finding], to_measure: tuple[Missing, ...], choice: Choice
) -> tuple[Confidence, str]:
    if choice.missing or any(m.blocks for m in to_measure):
        return Confidence.LOW, "facts are missing that the answer needs"
    if any(f.outcome is Outcome.NEAR for f in findings):
        return Confidence.LOW, "a value is nearer to its limit than its uncertainty"
    if traffic.kind is TrafficKind.UNKNOWN:
        return Confidence.LOW, "no number decides it; the qualified person has to"
    for finding in findings:
        if finding.applies_to_traffic and finding.checked not in READ:
            rests = f"what trains may do rests on {behind(finding.checked)}"
            return Confidence.FAIR, f"{rests} ({finding.title}, {finding.clause})"
    if choice.row is not None and choice.row.checked not in READ:
        row, work = choice.row, choice.disposition.label.lower()
        return (
            Confidence.FAIR,
            f"to {work} rests on {behind(row.checked)} ({row.title}, {row.clause})",
        )
    return Confidence.HIGH, "every reading is there and the text of every rule behind it was read"


def _cautions(case: Case, rules: RuleSet, traffic: Traffic, choice: Choice) -> tuple[str, ...]:
    said = [f"Also: {also}." for also in choice.also]
    said += _old_readings(case, rules)
    said += overdue(case, rules)
    welded = choice.disposition is Disposition.WELD_IN_TRACK
    occasions = {
        Advice.ALWAYS: True,
        Advice.EXCEPTED_TRACK: case.track.track_class == EXCEPTED,
        Advice.BELOW_CLASS_1: traffic.kind is TrafficKind.STOP,
        Advice.RESTRICTED: traffic.kind in (TrafficKind.RESTRICTED, TrafficKind.STOP),
        Advice.RESTRICTED_OR_OPEN: traffic.kind is not TrafficKind.CLASS_SPEED,
        Advice.WELDED_IN_TRACK: welded,
        Advice.ACCESS_UNRECORDED: welded and case.defect is not None and case.defect.access is None,
    }
    said += [
        f"{row.says} ({row.clause})"
        for row in rows_on(rules, case).advice
        if occasions[row.when]
        and (not row.classes or case.track.track_class in (None, *row.classes))
        and row.where.speaks_of_defect(case.defect) is not False
    ]
    return tuple(said)


def _old_readings(case: Case, rules: RuleSet) -> list[str]:
    oldest = rules.setting("reading_age_days").number
    return [
        f"Reading {r.reference} of {r.quantity.label.lower()} is {age} days old; measure again."
        for r in case.readings
        if (age := (case.decided_on - r.taken_on).days) > oldest
    ]


def _seen(findings: list[Finding], rules: RuleSet, *others: Row | None) -> tuple[RowSeen, ...]:
    """The rows behind the answer, with their values, so that it can be replayed later."""
    every, always, eased_by = _index(rules)
    names = dict.fromkeys(f.rule_id for f in findings)
    for name in tuple(names):
        names |= dict.fromkeys(eased_by.get(name, ()))
    names |= dict.fromkeys((*always, *(row.rule for row in others if row is not None)))
    return tuple(every[name] for name in names)


@lru_cache(maxsize=256)
def _index(
    rules: RuleSet,
) -> tuple[dict[str, RowSeen], tuple[str, ...], dict[str, tuple[str, ...]]]:
    """Every row as it is kept with a decision, those behind all decisions, and the exceptions."""
    every = {row.rule: RowSeen(row.rule, row.start, row.value_seen) for row in rules.rows()}
    always = tuple(row.rule for row in (*rules.speeds, *rules.settings))
    eased_by = {
        limit.rule: tuple(e.rule for e in rules.exceptions if e.relaxes == limit.rule)
        for limit in rules.limits
    }
    return every, always, eased_by
