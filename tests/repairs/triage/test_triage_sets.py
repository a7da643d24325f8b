"""One case under several rule sets: the stricter stands, and both are shown."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given

from repairs.triage.all_sets import decide_all
from repairs.triage.decide import decide
from repairs.triage.decision import Outcome, TrafficKind
from repairs.triage.disposition import ORDER
from repairs.triage.facts import Case, ComponentFacts, Reading, TrackFacts
from repairs.triage.owner import OwnerChange, owner_rules
from repairs.triage.owner_figures import Figure
from repairs.triage.read import RuleError
from repairs.triage.rules import rule_sets
from repairs.triage.traffic import severity
from tests.repairs.triage.strategies import DAY, cases, patient
from turnouts.analysis.terms import ComponentKind, Disposition, FrogDesign, Quantity, Steel

SETS = rule_sets()
US, QUEBEC, EUROPE = SETS["us-49cfr213"], SETS["ca-qc-s33r2"], SETS["eu-inf-tsi"]
SOUND = {
    Quantity.FLANGEWAY_DEPTH: "47",
    Quantity.FLANGEWAY_WIDTH: "45",
    Quantity.GUARD_CHECK_GAGE: "1395",
    Quantity.GUARD_FACE_GAGE: "1340",
    Quantity.HORN_CLEARANCE: "3",
}


def spring_frog(**changes: str) -> Case:
    readings = SOUND | {Quantity(name): mm for name, mm in changes.items()}
    return Case(
        ComponentFacts(ComponentKind.FROG, FrogDesign.SPRING, Steel.CARBON),
        None,
        tuple(Reading(q, Decimal(mm), DAY, "R") for q, mm in readings.items()),
        TrackFacts(3),
        DAY,
        DAY,
    )


def test_a_quarter_inch_meets_one_law_and_not_the_other_and_the_stricter_stands() -> None:
    # 49 CFR 213.139(e): 1/4 in, 6.35 mm; Quebec S-3.3, r. 2, s. 80: 0.63 cm
    both = decide_all(spring_frog(horn_clearance="6.35"), (US, QUEBEC))
    assert [d.traffic.kind for d in both.by_set] == [TrafficKind.CLASS_SPEED, TrafficKind.UNKNOWN]
    assert both.decision.traffic.kind is TrafficKind.UNKNOWN
    outcomes = {(f.rule_set, f.rule_id): f.outcome for f in both.decision.findings}
    assert outcomes["us-49cfr213", "213.139(e)"] is Outcome.WITHIN
    assert outcomes["ca-qc-s33r2", "s.80/horn"] is Outcome.BEYOND
    assert both.decision.disposition is Disposition.ADJUST
    assert "edition of October 2020, the strictest of 2 sets of rules" in both.decision.sentence


def test_at_six_point_three_mm_both_laws_are_met_at_the_lower_of_their_speeds() -> None:
    both = decide_all(spring_frog(horn_clearance="6.3"), (US, QUEBEC))
    assert both.decision.traffic.kind is TrafficKind.CLASS_SPEED
    assert (both.decision.traffic.speed_mph, both.decision.traffic.speed_kmh) == (10, 16)
    assert both.by_set[0].traffic.speed_mph == 40


def test_a_stop_under_one_set_is_a_stop() -> None:
    # 49 CFR 213.137(a): under 1 3/8 in, 34.925 mm, no class is met; elsewhere a person decides
    both = decide_all(spring_frog(flangeway_depth="34.9"), (EUROPE, US))
    assert both.decision.traffic.kind is TrafficKind.STOP
    assert both.decision.due_on == DAY
    assert both.by_set[0].traffic.kind is TrafficKind.UNKNOWN


def test_what_one_set_asks_to_measure_is_asked_of_all() -> None:
    case = spring_frog()
    fewer = replace(case, readings=tuple(r for r in case.readings if "width" not in r.quantity))
    both = decide_all(fewer, (US, QUEBEC))
    assert [m.quantity for m in both.decision.to_measure] == [Quantity.FLANGEWAY_WIDTH]
    assert both.decision.measure_by == date(2026, 11, 21)
    assert both.by_set[0].traffic.kind is TrafficKind.CLASS_SPEED


def test_the_railways_own_set_beside_the_law_shows_both() -> None:
    change = OwnerChange(
        "213.139(e)", Figure.LIMIT, Decimal(5), date(2026, 1, 1), "play grows fast here"
    )
    both = decide_all(spring_frog(horn_clearance="6"), (US, owner_rules(US, (change,))))
    outcomes = {f.rule_set: f.outcome for f in both.decision.findings if f.rule_id == "213.139(e)"}
    assert outcomes == {"us-49cfr213": Outcome.WITHIN, "us-49cfr213+railway": Outcome.BEYOND}
    assert both.decision.traffic.kind is TrafficKind.STOP


def test_one_set_alone_says_what_it_says() -> None:
    case = spring_frog()
    assert decide_all(case, (US,)).decision == decide(case, US)


def test_no_set_at_all_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one rule set"):
        decide_all(spring_frog(), ())


def test_a_set_that_is_not_yet_in_force_is_refused_by_name() -> None:
    on = date(2014, 12, 31)
    early = replace(
        spring_frog(),
        readings=tuple(replace(r, taken_on=on) for r in spring_frog().readings),
        reported_on=on,
        decided_on=on,
    )
    with pytest.raises(RuleError, match=r"European specification.*2014-12-31"):
        decide_all(early, (US, EUROPE))


@patient
@given(cases())
def test_together_the_answer_is_never_milder_than_any_set_alone(case: Case) -> None:
    both = decide_all(case, tuple(SETS.values()))
    for alone in both.by_set:
        assert severity(both.decision.traffic) >= severity(alone.traffic)
        assert both.decision.due_on <= alone.due_on
        assert {m.what for m in alone.to_measure} <= {m.what for m in both.decision.to_measure}
        assert {f.rule_id for f in alone.findings} <= {f.rule_id for f in both.decision.findings}
        work = (both.decision.disposition, alone.disposition)
        if Disposition.MEASURE_FIRST not in work:
            assert ORDER.index(work[0]) >= ORDER.index(work[1])
        speeds = both.decision.traffic.speed_mph, alone.traffic.speed_mph
        if None not in speeds:
            assert speeds[0] <= speeds[1]  # type: ignore[operator]


@patient
@given(cases())
def test_the_order_of_the_sets_does_not_change_the_answer(case: Case) -> None:
    one = decide_all(case, (US, QUEBEC, EUROPE)).decision
    other = decide_all(case, (EUROPE, QUEBEC, US)).decision
    assert (one.traffic, one.disposition, one.due_on) == (
        other.traffic,
        other.disposition,
        other.due_on,
    )
