"""Worse facts, missing facts and rough measurements are never a way to a milder answer."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from repairs.triage.decide import decide
from repairs.triage.decision import Confidence, Outcome, TrafficKind
from repairs.triage.facts import Case
from repairs.triage.rules import RuleSet, rule_sets
from tests.repairs.triage.strategies import cases, eighths, milder, patient
from turnouts.analysis.units import Dimension, parse

every_set = pytest.mark.parametrize("rules", rule_sets().values(), ids=rule_sets())

WORSE_FACTS = {
    "reaches_base": (False, True),
    "reaches_edge": (False, True),
    "access": (True, False),
    "damaged": (False, True),
}


@every_set
@patient
@given(cases(), st.sampled_from(sorted(WORSE_FACTS)))
def test_a_worse_fact_never_gets_a_milder_answer(rules: RuleSet, case: Case, fact: str) -> None:
    assume(case.defect is not None)
    assert case.defect is not None
    good, bad = (
        decide(replace(case, defect=replace(case.defect, **{fact: value})), rules)
        for value in WORSE_FACTS[fact]
    )
    assert not milder(good, bad)


@every_set
@patient
@given(cases(), eighths(0, 40), eighths(0, 20), st.integers(0, 4))
def test_less_metal_left_or_more_welds_never_get_a_milder_answer(
    rules: RuleSet, case: Case, left: Decimal, less: Decimal, welds: int
) -> None:
    assume(case.defect is not None)
    assert case.defect is not None
    thick = replace(case, defect=replace(case.defect, metal_left_mm=left + less))
    thin = replace(
        case,
        defect=replace(case.defect, metal_left_mm=left),
        component=replace(
            case.component, earlier_welds_here=case.component.earlier_welds_here + welds
        ),
    )
    assert not milder(decide(thick, rules), decide(thin, rules))


@every_set
@patient
@given(cases())
def test_within_the_uncertainty_of_a_limit_is_the_safe_side_and_says_so(
    rules: RuleSet, case: Case
) -> None:
    """A value nearer to its limit than its uncertainty is treated as the limit missed."""
    decision = decide(case, rules)
    for finding in decision.findings:
        if finding.margin_mm is None or finding.uncertainty_mm is None:
            continue
        if finding.outcome is Outcome.NEAR:
            assert 0 <= finding.margin_mm <= finding.uncertainty_mm or finding.due_days is not None
            assert decision.confidence is Confidence.LOW
        if finding.outcome is Outcome.WITHIN:
            assert finding.margin_mm >= finding.uncertainty_mm
        if finding.outcome is Outcome.NEAR:
            assert "uncertainty" in finding.sentence


@every_set
@patient
@given(cases())
def test_a_decision_with_something_needed_missing_is_never_fit_for_class_speed(
    rules: RuleSet, case: Case
) -> None:
    decision = decide(case, rules)
    if any(m.blocks for m in decision.to_measure):
        assert decision.traffic.kind is not TrafficKind.CLASS_SPEED
        assert decision.measure_by is not None
    unmeasured = [f for f in decision.findings if f.required and f.outcome is Outcome.NOT_MEASURED]
    if unmeasured:
        assert decision.traffic.kind is not TrafficKind.CLASS_SPEED


def in_inches(parts: int, of: int) -> str:
    whole, rest = divmod(Fraction(parts, of), 1)
    return f"{whole} {rest} in" if rest else f"{whole} in"


@every_set
@patient
@given(cases(), st.integers(0, 320), st.integers(0, 1600))
def test_the_unit_a_defect_is_typed_in_never_matters(
    rules: RuleSet, case: Case, deep: int, long: int
) -> None:
    """Depth in 128ths and length in 64ths of an inch, and the same in mm: 1 in = 25.4 mm."""
    assume(case.defect is not None)
    assert case.defect is not None

    def sized(depth: str, length: str) -> Case:
        read = [parse(text, None, Dimension.LENGTH) for text in (depth, length)]
        assert case.defect is not None
        return replace(case, defect=replace(case.defect, depth_mm=read[0], length_mm=read[1]))

    inches = decide(sized(in_inches(deep, 128), in_inches(long, 64)), rules)
    depth, length = deep * Decimal("25.4") / 128, long * Decimal("25.4") / 64
    assert inches == decide(sized(f"{depth:f} mm", f"{length:f} mm"), rules)
