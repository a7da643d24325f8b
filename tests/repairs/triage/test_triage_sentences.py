"""What is read over the radio, and what a case may not hold."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from repairs.triage.decide import decide
from repairs.triage.decision import Confidence, Decision
from repairs.triage.facts import Case, ComponentFacts, DefectFacts, Reading, TrackFacts
from repairs.triage.rules import federal_rules, said_rule_sets
from turnouts.analysis.terms import (
    ComponentKind,
    DefectKind,
    Disposition,
    FrogDesign,
    Quantity,
    Steel,
    Zone,
)

DAY = date(2026, 11, 20)
FROG = ComponentFacts(ComponentKind.FROG, FrogDesign.RAIL_BOUND_MANGANESE, Steel.MANGANESE)
CHIP = DefectFacts(DefectKind.CHIP, Zone.POINT, length_mm=Decimal(178), depth_mm=Decimal("17.4625"))
SOUND = (
    Reading(Quantity.FLANGEWAY_DEPTH, Decimal("47.625"), DAY, "R1"),
    Reading(Quantity.GUARD_CHECK_GAGE, Decimal("1387.475"), DAY, "R2"),
    Reading(Quantity.GUARD_FACE_GAGE, Decimal("1339.85"), DAY, "R3"),
)


def case(defect: DefectFacts | None = CHIP, readings: tuple[Reading, ...] = SOUND) -> Case:
    return Case(FROG, defect, readings, TrackFacts(4), DAY, DAY)


def answer(of: Case) -> Decision:
    return decide(of, federal_rules())


def test_a_restriction_is_said_with_speed_value_limit_clause_work_and_date() -> None:
    said = answer(case()).sentence
    assert said.startswith("Not over 10 mph over the frog.")
    assert "11/16 in (17.4625 mm), limit at most 5/8 in (15.875 mm) (49 CFR 213.137(b))" in said
    assert said.endswith(
        "Weld in track by 27 Nov 2026: deeper than 1/8 in and small enough for a work window."
    )


def test_class_speed_is_said_with_both_speeds() -> None:
    said = answer(case(defect=None)).sentence
    assert said.startswith("Speed of class 4, 60 mph, passenger trains 80 mph")


def test_missing_facts_are_named_with_a_date() -> None:
    said = answer(case(readings=SOUND[:1])).sentence
    assert "Find out by 21 Nov 2026: guard check gage and guard face gage." in said


def test_nothing_measured_clears_no_speed() -> None:
    decision = answer(case(defect=None, readings=()))
    assert decision.sentence.startswith("No speed is cleared over the frog")
    assert decision.confidence is Confidence.LOW
    assert decision.disposition is Disposition.MEASURE_FIRST


def test_a_stop_says_stop_first() -> None:
    shallow = replace(SOUND[0], value=Decimal(30))
    decision = answer(case(readings=(shallow, *SOUND[1:])))
    assert decision.sentence.startswith("Stop: no trains over the frog.")
    assert decision.due_on == DAY


def test_a_value_within_its_uncertainty_says_so() -> None:
    rough = replace(SOUND[0], value=Decimal("38.5"), uncertainty=Decimal("0.5"))
    assert "treated as past the limit" in answer(case(None, (rough, *SOUND[1:]))).sentence


def test_margins_are_exact_and_positive_inside() -> None:
    margins = {f.rule_id: f.margin_mm for f in answer(case()).findings}
    assert margins["213.137(a)"] == Decimal("9.525")
    assert margins["213.137(b)/down"] == Decimal("-1.5875")
    assert margins["213.143(a)/face"] == Decimal("9.525")


def test_the_newest_reading_counts_and_of_one_day_the_worst() -> None:
    old = replace(SOUND[0], value=Decimal(30), taken_on=date(2026, 11, 1), reference="old")
    same_day = replace(SOUND[0], value=Decimal(45), reference="second")
    decision = answer(case(None, (old, same_day, *SOUND)))
    depth = next(f for f in decision.findings if f.rule_id == "213.137(a)")
    assert (depth.measured, depth.reference) == (Decimal(45), "second")


def test_a_decision_keeps_the_rows_it_saw_with_their_values() -> None:
    seen = {row.rule_id: row for row in answer(case()).rules_seen}
    assert seen["213.137(b)/down"].value == "15.875 mm"
    assert seen["213.137(b)/down"].row_start == date(1998, 9, 21)
    assert "213.143(b)" in seen


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"decided_on": date(2026, 11, 19)}, "before it was reported"),
        (
            {"reported_on": date(2026, 11, 1), "decided_on": date(2026, 11, 19)},
            "after the decision",
        ),
    ],
)
def test_a_case_with_impossible_dates_is_refused(changes: dict[str, date], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        replace(case(), **changes)  # type: ignore[arg-type]


def test_a_value_below_zero_is_refused() -> None:
    with pytest.raises(ValueError, match="below zero"):
        replace(SOUND[0], value=Decimal(-1))
    with pytest.raises(ValueError, match="below zero"):
        replace(CHIP, depth_mm=Decimal(-1))


@pytest.mark.parametrize("track_class", [-1, 6])
def test_a_class_outside_these_rules_is_refused(track_class: int) -> None:
    with pytest.raises(ValueError, match="outside these rules"):
        TrackFacts(track_class)


@pytest.mark.parametrize("track_class", [0, 5, None])
def test_the_classes_of_these_rules_are_taken(track_class: int | None) -> None:
    assert TrackFacts(track_class).track_class == track_class


@pytest.mark.parametrize("share", ["-1", "100.1"])
def test_a_flaw_takes_no_less_than_nothing_and_no_more_than_the_head(share: str) -> None:
    with pytest.raises(ValueError, match="0 to 100 %"):
        replace(CHIP, head_share_percent=Decimal(share))
    assert replace(CHIP, head_share_percent=Decimal(100)).head_share_percent == 100


def test_what_is_no_published_rule_is_said_in_plain_words() -> None:
    shallow = replace(CHIP, depth_mm=Decimal(2), length_mm=Decimal(40))
    decision = answer(case(defect=shallow))
    assert decision.confidence is Confidence.FAIR
    assert decision.confidence_reason == (
        "to grind rests on common practice of the trade, no published rule "
        "(Shallow, railway's own rule)"
    )


def test_a_speed_that_rests_on_a_text_from_memory_says_which() -> None:
    rail = ComponentFacts(ComponentKind.STOCK_RAIL, None, Steel.CARBON)
    broken = DefectFacts(DefectKind.BROKEN, Zone.HEAD, Decimal(100))
    decision = decide(Case(rail, broken, (), TrackFacts(3), DAY, DAY), federal_rules())
    assert decision.confidence_reason == (
        "what trains may do rests on a text quoted from memory (Ordinary break, 49 CFR 213.113(c))"
    )


def test_what_the_law_says_of_the_work_is_said_once() -> None:
    spring = ComponentFacts(ComponentKind.FROG, FrogDesign.SPRING, Steel.CARBON)
    crack = DefectFacts(DefectKind.BOLT_HOLE_CRACK, Zone.BOLT_HOLE, Decimal(20))
    decision = decide(Case(spring, crack, SOUND, TrackFacts(3), DAY, DAY), federal_rules())
    assert decision.sentence.count("must be replaced") == 1
    assert decision.sentence.endswith("Replace by 20 Nov 2026.")


@pytest.mark.parametrize(
    ("rule_set", "edition", "said"),
    [
        (
            "ca-qc-s33r2",
            "2020-10",
            "Quebec regulation respecting rail safety, industrial track, edition of October 2020",
        ),
        (
            "us-49cfr213+railway & eu-inf-tsi",
            "2026-11 & 2014",
            "US federal track safety standards, classes 1 to 5, with the railway's own choices, "
            "with the railway's own figures, edition of November 2026; European specification for "
            "infrastructure, switches and crossings in service, edition of 2014",
        ),
        ("gone", "3", "set of rules gone, edition of 3"),
    ],
)
def test_sets_of_rules_are_named_by_title_and_edition(
    rule_set: str, edition: str, said: str
) -> None:
    assert said_rule_sets(rule_set, edition) == said
