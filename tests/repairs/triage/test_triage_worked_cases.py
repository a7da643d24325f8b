"""Worked cases a track engineer can read: given, expect, clause. The law's clause is the source.

The cases are tables in tests/cases/triage; how they are written stands in repairs/triage/worked.py.
"""

from pathlib import Path

import pytest

from repairs.triage.decide import decide
from repairs.triage.decision import Decision, Outcome
from repairs.triage.read import RuleError
from repairs.triage.rules import FEDERAL, rule_sets
from repairs.triage.worked import WorkedCase, read_worked_cases

CASES = Path(__file__).parents[2] / "cases" / "triage"
EXPECT = {
    "traffic",
    "freight_mph",
    "passenger_mph",
    "speed_kmh",
    "disposition",
    "due",
    "measure_by",
    "beyond",
    "near",
    "within",
    "measure",
    "caution",
    "no_caution",
    "confidence",
    "absent",
    "checked",
    "says",
    "refused",
}
ALL = read_worked_cases(CASES)
ANSWERED = [worked for worked in ALL if not worked.is_refused]


def _check_numbers(decision: Decision, worked: WorkedCase) -> None:
    expect = worked.expect
    assert decision.traffic.kind == expect["traffic"], decision.sentence
    if "freight_mph" in expect:
        assert decision.traffic.speed_mph == expect["freight_mph"]
    if "passenger_mph" in expect:
        assert decision.traffic.passenger_mph == expect["passenger_mph"]
    if "speed_kmh" in expect:
        assert decision.traffic.speed_kmh == expect["speed_kmh"]
    if "disposition" in expect:
        assert decision.disposition == expect["disposition"], decision.disposition_reason
    if "due" in expect:
        assert decision.due_on == expect["due"], decision.due_reason
    if "measure_by" in expect:
        assert decision.measure_by == expect["measure_by"]
    if "confidence" in expect:
        assert decision.confidence == expect["confidence"], decision.confidence_reason


def _check_findings(decision: Decision, worked: WorkedCase) -> None:
    expect = worked.expect
    outcomes = {f.rule_id: f.outcome for f in decision.findings}
    for outcome in (Outcome.BEYOND, Outcome.NEAR, Outcome.WITHIN):
        for rule in expect.get(outcome.value, []):
            assert outcomes.get(rule) == outcome, f"{rule}: {outcomes.get(rule)}"
    assert not set(expect.get("absent", [])) & set(outcomes)
    for rule, checked in expect.get("checked", {}).items():
        assert {f.rule_id: f.checked for f in decision.findings}[rule] == checked
    if "measure" in expect:
        asked = {m.quantity.value if m.quantity else m.what for m in decision.to_measure}
        assert asked == set(expect["measure"])
    for words in expect.get("caution", []):
        assert any(words in caution for caution in decision.cautions), decision.cautions
    for words in expect.get("says", []):
        assert any(words in f.sentence for f in decision.findings), decision.findings
    for words in expect.get("no_caution", []):
        assert not any(words in caution for caution in decision.cautions)


@pytest.mark.parametrize(
    "worked", [w for w in ALL if w.is_refused], ids=lambda w: f"{w.file}: {w.name}"
)
def test_a_day_without_rules_gets_no_answer(worked: WorkedCase) -> None:
    assert set(worked.expect) == {"refused"}
    with pytest.raises(RuleError, match=worked.expect["refused"]):
        decide(worked.case, rule_sets()[worked.rules])


@pytest.mark.parametrize("worked", ANSWERED, ids=lambda w: f"{w.file}: {w.name}")
def test_a_worked_case_is_decided_as_its_clause_says(worked: WorkedCase) -> None:
    assert set(worked.expect) <= EXPECT, f"unknown keys {set(worked.expect) - EXPECT}"
    decision = decide(worked.case, rule_sets()[worked.rules])
    _check_numbers(decision, worked)
    _check_findings(decision, worked)
    cited = [f.clause for f in decision.findings] + list(decision.cautions)
    cited += [decision.due_reason, decision.disposition_reason]
    assert any(worked.clause in text for text in cited), f"{worked.clause} is nowhere cited"


@pytest.mark.parametrize("rule_set", rule_sets())
def test_every_rule_on_measured_or_seen_facts_has_worked_cases_on_both_sides(
    rule_set: str,
) -> None:
    rules = rule_sets()[rule_set]
    judged: dict[str, set[Outcome]] = {}
    used: set[str] = set()
    for worked in ANSWERED:
        if worked.rules != rule_set:
            continue
        decision = decide(worked.case, rules)
        used |= {row.rule_id for row in decision.rules_seen}
        for finding in decision.findings:
            judged.setdefault(finding.rule_id, set()).add(finding.outcome)
    past = {Outcome.NEAR, Outcome.BEYOND}
    # rows that every set holds are the railway's own; they are worked through under the first
    every = [{row.rule for row in one.rows()} for one in rule_sets().values()]
    elsewhere = set() if rule_set == FEDERAL else set.intersection(*every)
    for row in rules.limits:
        if row.rule not in elsewhere:
            assert Outcome.WITHIN in judged[row.rule], row.rule
            assert judged[row.rule] & past, row.rule
    for other in (*rules.conditions, *rules.rail_defects):
        assert other.rule in elsewhere or judged.get(other.rule, set()) & past, other.rule
    rest = {row.rule for row in (*rules.choices, *rules.due, *rules.exceptions)}
    assert not rest - used - elsewhere
