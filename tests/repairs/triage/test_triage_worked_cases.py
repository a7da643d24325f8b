"""Worked cases a track engineer can read: given, expect, clause. The law's clause is the source.

The cases are tables in tests/cases/triage. ``[sound]`` in each file holds the readings of a part
with nothing wrong; a case changes, adds or leaves out single ones.
"""

import tomllib
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from repairs.triage.decide import decide
from repairs.triage.decision import Decision, Outcome
from repairs.triage.facts import (
    Case,
    ComponentFacts,
    DefectFacts,
    HeavyPoint,
    Reading,
    TrackFacts,
)
from repairs.triage.rules import federal_rules
from turnouts.analysis.terms import (
    ComponentKind,
    DefectKind,
    FrogDesign,
    Orientation,
    Quantity,
    Steel,
    Zone,
)
from turnouts.analysis.units import Dimension, parse

CASES = Path(__file__).parents[2] / "cases" / "triage"
REPORTED = date(2026, 11, 20)
GIVEN = {"component", "track_class", "defect", "readings", "without", "on", "reading_age_days"}
EXPECT = {
    "traffic",
    "freight_mph",
    "passenger_mph",
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
}


def _mm(text: str | None) -> Decimal | None:
    return None if text is None else parse(text, None, Dimension.LENGTH)


def _all_cases() -> list[Any]:
    found = []
    for file in sorted(CASES.glob("*.toml")):
        document = tomllib.loads(file.read_text(encoding="utf-8"))
        for case in document["case"]:
            found.append(pytest.param(document["sound"], case, id=f"{file.stem}: {case['name']}"))
    return found


def _component(given: dict[str, Any]) -> ComponentFacts:
    heavy = given.get("heavy_point")
    angle = given.get("crossing_angle_deg")
    return ComponentFacts(
        kind=ComponentKind(given["kind"]),
        design=FrogDesign(given["design"]) if "design" in given else None,
        steel=Steel(given["steel"]) if "steel" in given else None,
        heavy_point=HeavyPoint(**heavy) if heavy is not None else None,
        crossing_angle_deg=None if angle is None else Decimal(angle),
        movable_guard_rails=given.get("movable_guard_rails"),
        earlier_welds_here=given.get("earlier_welds", 0),
    )


def _defect(given: dict[str, Any] | None) -> DefectFacts | None:
    if given is None:
        return None
    return DefectFacts(
        kind=DefectKind(given["kind"]),
        zone=Zone(given["zone"]),
        length_mm=_mm(given.get("length")),
        depth_mm=_mm(given.get("depth")),
        uncertainty_mm=_mm(given.get("give_or_take", "0 mm")) or Decimal(0),
        orientation=Orientation(given["orientation"]) if "orientation" in given else None,
        reaches_base=given.get("reaches_base"),
    )


def _reading(name: str, given: Any, on: date) -> Reading:
    table = given if isinstance(given, dict) else {"value": given}
    value, give_or_take = _mm(table["value"]), _mm(table.get("give_or_take", "0 mm"))
    assert value is not None
    assert give_or_take is not None
    return Reading(
        Quantity(name), value, on, f"reading of {name}", give_or_take, _mm(table.get("back"))
    )


def build(sound: dict[str, Any], given: dict[str, Any]) -> Case:
    """The case of a worked example."""
    assert set(given) <= GIVEN, f"unknown keys {set(given) - GIVEN}"
    on = given.get("on", REPORTED)
    readings = {**sound, **given.get("readings", {})}
    for name in given.get("without", []):
        del readings[name]
    track_class = given.get("track_class")
    taken = date.fromordinal(on.toordinal() - given.get("reading_age_days", 0))
    return Case(
        component=_component(given["component"]),
        defect=_defect(given.get("defect")),
        readings=tuple(_reading(name, value, taken) for name, value in readings.items()),
        track=TrackFacts(track_class),
        reported_on=on,
        decided_on=on,
    )


def _check_numbers(decision: Decision, expect: dict[str, Any]) -> None:
    assert decision.traffic.kind == expect["traffic"], decision.sentence
    if "freight_mph" in expect:
        assert decision.traffic.speed_mph == expect["freight_mph"]
    if "passenger_mph" in expect:
        assert decision.traffic.passenger_mph == expect["passenger_mph"]
    if "disposition" in expect:
        assert decision.disposition == expect["disposition"], decision.disposition_reason
    if "due" in expect:
        assert decision.due_on == expect["due"], decision.due_reason
    if "measure_by" in expect:
        assert decision.measure_by == expect["measure_by"]
    if "confidence" in expect:
        assert decision.confidence == expect["confidence"], decision.confidence_reason


def _check_findings(decision: Decision, expect: dict[str, Any]) -> None:
    outcomes = {f.rule_id: f.outcome for f in decision.findings}
    for outcome in (Outcome.BEYOND, Outcome.NEAR, Outcome.WITHIN):
        for rule in expect.get(outcome.value, []):
            assert outcomes.get(rule) == outcome, f"{rule}: {outcomes.get(rule)}"
    assert not set(expect.get("absent", [])) & set(outcomes)
    if "measure" in expect:
        asked = {m.quantity.value if m.quantity else m.what for m in decision.to_measure}
        assert asked == set(expect["measure"])
    for words in expect.get("caution", []):
        assert any(words in caution for caution in decision.cautions), decision.cautions
    for words in expect.get("no_caution", []):
        assert not any(words in caution for caution in decision.cautions)


@pytest.mark.parametrize(("sound", "case"), _all_cases())
def test_a_worked_case_is_decided_as_its_clause_says(
    sound: dict[str, Any], case: dict[str, Any]
) -> None:
    expect = case["expect"]
    assert set(expect) <= EXPECT, f"unknown keys {set(expect) - EXPECT}"
    decision = decide(build(sound, case["given"]), federal_rules())
    _check_numbers(decision, expect)
    _check_findings(decision, expect)
    cited = [f.clause for f in decision.findings] + list(decision.cautions)
    cited += [decision.due_reason, decision.disposition_reason]
    assert any(case["clause"] in text for text in cited), f"{case['clause']} is nowhere cited"


def test_every_rule_on_measured_or_seen_facts_has_worked_cases_on_both_sides() -> None:
    rules = federal_rules()
    judged: dict[str, set[Outcome]] = {}
    used: set[str] = set()
    for param in _all_cases():
        sound, case = param.values
        decision = decide(build(sound, case["given"]), rules)
        used |= {row.rule_id for row in decision.rules_seen}
        for finding in decision.findings:
            judged.setdefault(finding.rule_id, set()).add(finding.outcome)
    past = {Outcome.NEAR, Outcome.BEYOND}
    for row in rules.limits:
        assert Outcome.WITHIN in judged[row.rule], row.rule
        assert judged[row.rule] & past, row.rule
    for other in (*rules.conditions, *rules.rail_defects):
        assert judged.get(other.rule, set()) & past, other.rule
    assert not {row.rule for row in (*rules.choices, *rules.due, *rules.exceptions)} - used
