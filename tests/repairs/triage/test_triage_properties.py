"""What must hold of every decision, whatever the numbers and whatever the rule set."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from repairs.triage.decide import decide
from repairs.triage.decision import Decision, Outcome, TrafficKind
from repairs.triage.facts import Case, ComponentFacts, DefectFacts, Reading, TrackFacts
from repairs.triage.rules import RuleSet, federal_rules, rule_sets
from repairs.triage.traffic import severity
from tests.repairs.triage.strategies import (
    AROUND,
    DAY,
    cases,
    eighths,
    milder,
    patient,
    worse,
)
from turnouts.analysis.terms import (
    ComponentKind,
    DefectKind,
    Disposition,
    FrogDesign,
    Quantity,
    Steel,
    Zone,
)
from turnouts.analysis.units import Dimension, parse

RULES = federal_rules()
every_set = pytest.mark.parametrize("rules", rule_sets().values(), ids=rule_sets())


@every_set
@patient
@given(cases(), st.data())
def test_a_worse_reading_never_gets_a_milder_answer(
    rules: RuleSet, case: Case, data: st.DataObject
) -> None:
    assume(case.readings)
    index = data.draw(st.integers(0, len(case.readings) - 1))
    reading = case.readings[index]
    step = data.draw(eighths(0, 20))
    assume(worse(reading, step) >= 0)
    changed = list(case.readings)
    changed[index] = replace(reading, value=worse(reading, step))
    assert not milder(decide(case, rules), decide(replace(case, readings=tuple(changed)), rules))


@every_set
@patient
@given(cases(), eighths(0, 60), eighths(0, 300))
def test_a_deeper_or_longer_defect_never_gets_a_milder_answer(
    rules: RuleSet, case: Case, deeper: Decimal, longer: Decimal
) -> None:
    assume(case.defect is not None)
    assert case.defect is not None
    depth, length = case.defect.depth_mm, case.defect.length_mm
    grown = replace(
        case.defect,
        depth_mm=None if depth is None else depth + deeper,
        length_mm=None if length is None else length + longer,
    )
    assert not milder(decide(case, rules), decide(replace(case, defect=grown), rules))


@every_set
@patient
@given(cases(), st.integers(0, 100))
def test_a_larger_share_of_the_head_never_gets_a_milder_answer(
    rules: RuleSet, case: Case, more: int
) -> None:
    assume(case.defect is not None)
    assert case.defect is not None
    share = case.defect.head_share_percent
    assume(share is not None)
    assert share is not None
    grown = replace(case.defect, head_share_percent=min(share + more, Decimal(100)))
    assert not milder(decide(case, rules), decide(replace(case, defect=grown), rules))


@every_set
@patient
@given(cases())
def test_a_coarser_instrument_never_gets_a_milder_answer(rules: RuleSet, case: Case) -> None:
    coarse = tuple(replace(r, uncertainty=r.uncertainty + Decimal(1)) for r in case.readings)
    before = decide(case, rules)
    after = decide(replace(case, readings=coarse), rules)
    assert severity(after.traffic) >= severity(before.traffic)


@every_set
@patient
@given(cases(), st.integers(0, 4))
def test_a_stricter_class_never_gets_a_milder_answer(
    rules: RuleSet, case: Case, track_class: int
) -> None:
    """Of what class speed itself allows nothing is said: class 5 is faster than class 4."""
    lower = decide(replace(case, track=TrackFacts(track_class)), rules)
    higher = decide(replace(case, track=TrackFacts(track_class + 1)), rules)
    rank = [TrafficKind.CLASS_SPEED, TrafficKind.UNKNOWN, TrafficKind.RESTRICTED, TrafficKind.STOP]
    if lower.traffic.kind in (TrafficKind.UNKNOWN, TrafficKind.STOP):
        assert higher.traffic.kind is not TrafficKind.CLASS_SPEED
    if lower.traffic.kind in (TrafficKind.STOP, TrafficKind.CLASS_SPEED):
        assert rank.index(higher.traffic.kind) >= rank.index(lower.traffic.kind)
    # a fixed speed or a missed limit holds on the stricter class too
    if lower.traffic.kind is TrafficKind.RESTRICTED:
        assert higher.traffic.kind is not TrafficKind.CLASS_SPEED
    past = {f.rule_id for f in lower.findings if f.outcome in (Outcome.NEAR, Outcome.BEYOND)}
    assert past <= {
        f.rule_id for f in higher.findings if f.outcome in (Outcome.NEAR, Outcome.BEYOND)
    }


def needed_on(case: Case) -> set[Quantity]:
    """What 49 CFR 213.137(a), .139(e), .141(a) and .143(a) want measured whatever the defect is.

    A flange-bearing frog may have no depth limit, 213.137(d) and (e).
    """
    component = case.component
    needed: set[Quantity] = set()
    if component.kind in (ComponentKind.FROG, ComponentKind.GUARD_RAIL):
        needed |= {Quantity.GUARD_CHECK_GAGE, Quantity.GUARD_FACE_GAGE}
    if component.kind is ComponentKind.FROG:
        if component.design is not FrogDesign.FLANGE_BEARING:
            needed.add(Quantity.FLANGEWAY_DEPTH)
        if component.design is FrogDesign.SPRING:
            needed.add(Quantity.HORN_CLEARANCE)
    return needed


@patient
@given(cases())
def test_class_speed_is_never_said_while_a_needed_reading_is_missing(case: Case) -> None:
    decision = decide(case, RULES)
    if not needed_on(case) <= {r.quantity for r in case.readings}:
        assert decision.traffic.kind is not TrafficKind.CLASS_SPEED
        assert any(m.blocks for m in decision.to_measure)
    if case.track.track_class is None or (not case.readings and case.defect is None):
        assert decision.traffic.kind is not TrafficKind.CLASS_SPEED
    if decision.traffic.kind is TrafficKind.CLASS_SPEED:
        assert not any(m.blocks for m in decision.to_measure)


@patient
@given(cases(), st.data())
def test_leaving_a_needed_reading_out_never_clears_the_frog(
    case: Case, data: st.DataObject
) -> None:
    assume(case.readings)
    if case.defect is not None:  # its own size would stand in for the reading left out
        case = replace(case, defect=replace(case.defect, depth_mm=None, length_mm=None))
    index = data.draw(st.integers(0, len(case.readings) - 1))
    before = decide(case, RULES)
    assume(case.readings[index].quantity in {f.quantity for f in before.findings if f.required})
    fewer = replace(case, readings=case.readings[:index] + case.readings[index + 1 :])
    if before.traffic.kind is not TrafficKind.CLASS_SPEED:
        assert decide(fewer, RULES).traffic.kind is not TrafficKind.CLASS_SPEED


@patient
@given(cases())
def test_a_frog_with_everything_measured_and_sound_is_cleared(case: Case) -> None:
    """The other side: the tool is not simply saying no."""
    sound = {
        Quantity.FLANGEWAY_DEPTH: "1 7/8 in",
        Quantity.FLANGEWAY_WIDTH: "1 7/8 in",
        Quantity.GUARD_CHECK_GAGE: "4 ft 6 5/8 in",
        Quantity.GUARD_FACE_GAGE: "4 ft 4 3/4 in",
        Quantity.HORN_CLEARANCE: "1/8 in",
        Quantity.RAISED_GUARD_WEAR: "1/8 in",
    }
    measured = tuple(
        Reading(q, parse(text, None, Dimension.LENGTH), DAY, "R") for q, text in sound.items()
    )
    frog = replace(case.component, kind=ComponentKind.FROG)
    assume(case.track.track_class is not None)
    decision = decide(replace(case, component=frog, defect=None, readings=measured), RULES)
    assert decision.traffic.kind is TrafficKind.CLASS_SPEED
    assert decision.disposition is Disposition.WATCH


@every_set
@patient
@given(st.sampled_from(sorted(AROUND)), st.data(), st.sampled_from([1, 2, 3, 4, 5]))
def test_the_unit_of_entry_never_matters(
    rules: RuleSet, quantity: Quantity, data: st.DataObject, track_class: int
) -> None:
    """A length typed as a fraction of an inch or as mm gives one answer: 1 in = 25.4 mm."""
    low, high = (int(Decimal(mm) / Decimal("25.4") * 128) for mm in AROUND[quantity])
    inches = Fraction(data.draw(st.integers(low, high)), 128)
    whole, rest = divmod(inches, 1)
    typed = f"{whole} {rest} in" if rest else f"{whole} in"
    mm = Decimal(inches.numerator) * Decimal("25.4") / Decimal(inches.denominator)
    component = ComponentFacts(
        ComponentKind.FROG, FrogDesign.SELF_GUARDED_MANGANESE, Steel.MANGANESE
    )

    def answer(value: Decimal) -> Decision:
        reading = Reading(quantity, value, DAY, "R")
        return decide(Case(component, None, (reading,), TrackFacts(track_class), DAY, DAY), rules)

    in_inches = answer(parse(typed, None, Dimension.LENGTH))
    in_mm = answer(parse(f"{mm:f} mm", None, Dimension.LENGTH))
    assert in_inches.traffic == in_mm.traffic
    assert [f.outcome for f in in_inches.findings] == [f.outcome for f in in_mm.findings]


@every_set
@patient
@given(cases())
def test_every_answer_says_why_and_by_when(rules: RuleSet, case: Case) -> None:
    decision = decide(case, rules)
    assert decision.sentence.endswith(".")
    assert decision.due_on >= case.reported_on
    assert decision.due_reason
    assert any("decides and signs" in caution for caution in decision.cautions)
    seen = {row.rule_id for row in decision.rules_seen}
    assert {f.rule_id for f in decision.findings} <= seen
    for finding in decision.findings:
        assert finding.clause
        assert finding.sentence
        assert finding.rule_set == rules.id
        if finding.outcome is Outcome.NEAR:
            assert finding.uncertainty_mm


MUST_MEASURE = {
    "ca-qc-s33r2": {Quantity.FLANGEWAY_WIDTH, Quantity.FLANGEWAY_DEPTH},  # S-3.3, r. 2, s. 76(4)
    "eu-inf-tsi": {  # 4.2.8.6(b), (c), (e) and (f)
        Quantity.GUARD_CHECK_GAGE,
        Quantity.GUARD_FACE_GAGE,
        Quantity.FLANGEWAY_WIDTH,
        Quantity.FLANGEWAY_DEPTH,
    },
}


@pytest.mark.parametrize("name", MUST_MEASURE)
@patient
@given(cases())
def test_the_metric_sets_clear_no_frog_on_missing_readings(name: str, case: Case) -> None:
    frog = replace(case, component=replace(case.component, kind=ComponentKind.FROG))
    decision = decide(frog, rule_sets()[name])
    if not MUST_MEASURE[name] <= {r.quantity for r in case.readings}:
        assert decision.traffic.kind is not TrafficKind.CLASS_SPEED
        assert any(m.blocks for m in decision.to_measure)


@patient
@given(cases())
def test_a_decision_is_the_same_when_replayed(case: Case) -> None:
    assert decide(case, RULES) == decide(case, RULES)


def test_a_restriction_on_a_stricter_class_is_due_no_later() -> None:
    def due(track_class: int) -> date:
        defect = DefectFacts(DefectKind.CHIP, Zone.POINT, Decimal(200), depth_mm=Decimal(20))
        frog = ComponentFacts(ComponentKind.FROG, FrogDesign.BOLTED_RIGID, Steel.CARBON)
        return decide(Case(frog, defect, (), TrackFacts(track_class), DAY, DAY), RULES).due_on

    dates = [due(track_class) for track_class in range(6)]
    assert dates == sorted(dates, reverse=True)
    assert dates[0] > dates[5]
