"""The value asked about first is the one the answer hangs on."""

from dataclasses import replace
from decimal import Decimal

from hypothesis import given

from repairs.triage.bands import values_of
from repairs.triage.decide import decide
from repairs.triage.decision import TrafficKind
from repairs.triage.facts import Case, ComponentFacts, DefectFacts, Reading, TrackFacts
from repairs.triage.governing import governing_values
from repairs.triage.rows import DefectPart
from repairs.triage.rules import federal_rules, rule_sets, rules_in_force
from repairs.triage.turning import turning_points
from tests.repairs.triage.strategies import DAY, cases, patient
from turnouts.analysis.terms import (
    ComponentKind,
    DefectKind,
    FrogDesign,
    Quantity,
    Steel,
    Zone,
)

RULES = federal_rules()
SOUND = {
    Quantity.TRACK_GAGE: "1435.1",
    Quantity.FLANGEWAY_WIDTH: "45",
    Quantity.FLANGEWAY_DEPTH: "47",
    Quantity.GUARD_CHECK_GAGE: "1387.475",
    Quantity.GUARD_FACE_GAGE: "1339.85",
}
FROG = ComponentFacts(ComponentKind.FROG, FrogDesign.RAIL_BOUND_MANGANESE, Steel.MANGANESE)


def frog(defect: DefectFacts | None = None, **changes: str) -> Case:
    readings = SOUND | {Quantity(name): mm for name, mm in changes.items()}
    taken = tuple(Reading(q, Decimal(mm), DAY, f"R {q}") for q, mm in readings.items())
    return Case(FROG, defect, taken, TrackFacts(4), DAY, DAY)


def first(case: Case) -> str:
    return values_of(case, (RULES,))[0].name


def test_a_short_guard_check_gage_is_asked_about_before_a_sound_track_gage() -> None:
    # 49 CFR 213.143(a): 4 ft 6 3/8 in, 1381.125 mm, on class 4
    assert first(frog(guard_check_gage="1380")) == "guard_check_gage"
    assert turning_points(frog(guard_check_gage="1380"), RULES)[0].quantity is (
        Quantity.GUARD_CHECK_GAGE
    )


def test_of_two_limits_missed_the_one_that_sets_the_lower_speed_comes_first() -> None:
    # 49 CFR 213.137(c): a tread over 3/8 in down is held to 10 mph; 213.143(a) here allows 25 mph
    worn = frog(guard_check_gage="1380", tread_wear="10")
    assert first(worn) == "tread_wear"
    assert first(frog(guard_check_gage="1380", tread_wear="9")) == "guard_check_gage"


def test_a_reported_depth_that_sets_the_work_comes_before_gages_that_are_sound() -> None:
    # the railway's own choice: deeper than 1/8 in is welded
    spall = DefectFacts(DefectKind.SPALL, Zone.POINT, Decimal(50), depth_mm=Decimal(5))
    assert first(frog(spall)) == "defect_depth"


def test_a_reading_deeper_than_the_report_is_the_one_that_governs() -> None:
    spall = DefectFacts(DefectKind.SPALL, Zone.POINT, Decimal(50), depth_mm=Decimal(2))
    assert first(frog(spall, point_wear_depth="6")) == "point_wear_depth"


def test_a_needed_reading_nobody_took_comes_first() -> None:
    whole = frog()
    fewer = replace(
        whole, readings=tuple(r for r in whole.readings if r.quantity != Quantity.GUARD_FACE_GAGE)
    )
    assert first(fewer) == "guard_face_gage"


def test_the_length_of_a_bolt_hole_crack_in_rail_governs() -> None:
    # 49 CFR 213.113(c): the line goes by the length
    rail = ComponentFacts(ComponentKind.STOCK_RAIL, None, Steel.CARBON)
    crack = DefectFacts(
        DefectKind.BOLT_HOLE_CRACK, Zone.BOLT_HOLE, Decimal(30), depth_mm=Decimal(5)
    )
    case = replace(frog(crack), component=rail)
    assert first(case) == f"defect_{DefectPart.LENGTH}"


def test_under_two_sets_the_value_of_the_stricter_one_comes_first() -> None:
    # 4.2.8.6(f) asks 40 mm of depth; 49 CFR 213.137(a) 38.1 mm: 39 mm is missed under one only
    sets = (RULES, rule_sets()["eu-inf-tsi"])
    shallow = frog(flangeway_depth="39", guard_check_gage="1395")
    assert values_of(shallow, sets)[0].name == "flangeway_depth"


@patient
@given(cases())
def test_the_values_the_answer_hangs_on_lead_and_every_other_follows(case: Case) -> None:
    sets = tuple(rules_in_force(rules, DAY) for rules in rule_sets().values())
    names = governing_values(case, sets)
    values = [(v.quantity, v.part) for v in values_of(case, sets)]
    leading = [name for name in names if name in values]
    assert values[: len(leading)] == leading
    assert len(set(values)) == len(values)


@patient
@given(cases())
def test_a_speed_set_by_measured_values_is_led_by_one_that_is_past_its_limit(case: Case) -> None:
    decision = decide(case, RULES)
    past = {f.quantity for f in decision.findings if f.applies_to_traffic and f.quantity}
    seen = {f.rule_id for f in decision.findings if f.applies_to_traffic and not f.quantity}
    if decision.traffic.kind is TrafficKind.RESTRICTED and past and not seen:
        quantity, part = governing_values(case, (rules_in_force(RULES, DAY),))[0]
        assert quantity in past or part is not None
