"""Where the answer turns: exact at each limit, and the nearest one on either side."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from repairs.triage.decide import decide
from repairs.triage.decision import TrafficKind
from repairs.triage.facts import Case, ComponentFacts, DefectFacts, Reading, TrackFacts
from repairs.triage.rows import DefectPart
from repairs.triage.rules import federal_rules, rule_sets
from repairs.triage.turning import TurningPoint, turning_points, with_reading, with_size
from tests.repairs.triage.strategies import DAY, cases, patient
from turnouts.analysis.terms import (
    ComponentKind,
    DefectKind,
    Disposition,
    FrogDesign,
    Quantity,
    Steel,
    Zone,
)
from turnouts.analysis.units import PLACES

RULES = federal_rules()
SOUND = (
    Reading(Quantity.FLANGEWAY_DEPTH, Decimal(47), DAY, "R1"),
    Reading(Quantity.GUARD_CHECK_GAGE, Decimal("1387.475"), DAY, "R2"),
    Reading(Quantity.GUARD_FACE_GAGE, Decimal("1339.85"), DAY, "R3"),
)
FROG = ComponentFacts(ComponentKind.FROG, FrogDesign.RAIL_BOUND_MANGANESE, Steel.MANGANESE)


def frog(readings: tuple[Reading, ...] = SOUND, defect: DefectFacts | None = None) -> Case:
    return Case(FROG, defect, readings, TrackFacts(4), DAY, DAY)


def point(
    case: Case, *, quantity: Quantity | None = None, part: DefectPart | None = None, rising: bool
) -> TurningPoint:
    (found,) = (
        p
        for p in turning_points(case, RULES)
        if (p.quantity, p.part, p.rising) == (quantity, part, rising)
    )
    return found


def test_a_flangeway_turns_just_below_an_inch_and_a_half_on_class_4() -> None:
    # 49 CFR 213.137(a): 1 1/2 in, 38.1 mm; below it only class 1 is met
    turn = point(frog(), quantity=Quantity.FLANGEWAY_DEPTH, rising=False)
    assert (turn.value, turn.at_value, turn.now) == (Decimal("38.1"), False, 47)
    assert turn.traffic.speed_mph == 10
    assert turn.disposition is Disposition.WELD_IN_TRACK
    assert turn.sentence == (
        "Flangeway depth past 1 1/2 in (38.1 mm) down: not over 10 mph, passenger trains 15 mph, "
        "weld in track."
    )


def test_from_the_wrong_side_it_turns_at_the_limit_itself() -> None:
    low = (replace(SOUND[0], value=Decimal(37)), *SOUND[1:])
    turn = point(frog(low), quantity=Quantity.FLANGEWAY_DEPTH, rising=True)
    assert (turn.value, turn.at_value) == (Decimal("38.1"), True)
    assert turn.traffic.kind is TrafficKind.CLASS_SPEED


def test_an_uncertain_reading_turns_by_its_uncertainty_before_the_limit() -> None:
    rough = (replace(SOUND[0], uncertainty=Decimal("0.5")), *SOUND[1:])
    turn = point(frog(rough), quantity=Quantity.FLANGEWAY_DEPTH, rising=False)
    assert (turn.value, turn.at_value) == (Decimal("38.6"), False)


def test_a_reading_on_the_limit_turns_just_past_it() -> None:
    at = (replace(SOUND[0], value=Decimal("38.1")), *SOUND[1:])
    turn = point(frog(at), quantity=Quantity.FLANGEWAY_DEPTH, rising=False)
    assert (turn.value, turn.at_value) == (Decimal("38.1"), False)


def test_the_depth_of_a_defect_turns_both_ways() -> None:
    # 49 CFR 213.137(c): a tread over 3/8 in down is restricted; the railway's own: weld past 1/8 in
    spall = DefectFacts(DefectKind.SPALL, Zone.TREAD, Decimal(60), depth_mm=Decimal(5))
    case = frog(defect=spall)
    up = point(case, part=DefectPart.DEPTH, rising=True)
    assert (up.value, up.at_value, up.traffic.speed_mph) == (Decimal("9.525"), False, 10)
    down = point(case, part=DefectPart.DEPTH, rising=False)
    assert (down.value, down.at_value) == (Decimal("3.175"), True)
    assert down.disposition is Disposition.GRIND


def test_a_missing_reading_says_what_it_would_settle() -> None:
    case = frog(SOUND[1:])
    good, bad = (p for p in turning_points(case, RULES) if p.quantity is Quantity.FLANGEWAY_DEPTH)
    assert (good.now, good.value, good.rising, good.at_value) == (None, Decimal("38.1"), True, True)
    assert good.traffic.kind is TrafficKind.CLASS_SPEED
    assert (bad.value, bad.rising, bad.at_value) == (Decimal("38.1"), False, False)
    assert bad.traffic.speed_mph == 10


def test_a_measurement_no_rule_asks_of_this_part_turns_nothing() -> None:
    horn = Reading(Quantity.HORN_CLEARANCE, Decimal(3), DAY, "R4")
    points = turning_points(frog((*SOUND, horn)), RULES)
    assert Quantity.HORN_CLEARANCE not in {p.quantity for p in points}


def test_a_size_of_no_defect_cannot_be_turned() -> None:
    with pytest.raises(ValueError, match="no defect"):
        with_size(frog(), DefectPart.DEPTH, Decimal(1))


def turned(case: Case, turn: TurningPoint, value: Decimal) -> Case:
    if turn.part is not None:
        return with_size(case, turn.part, value)
    taken = [r for r in case.readings if r.quantity is turn.quantity]
    return with_reading(case, taken[0], value)


@patient
@given(cases(), st.sampled_from(list(rule_sets())), st.data())
def test_up_to_a_turning_point_the_answer_stands_and_there_it_is_another(
    case: Case, name: str, data: st.DataObject
) -> None:
    rules = rule_sets()[name]

    def answer(changed: Case) -> tuple[object, ...]:
        decision = decide(changed, rules)
        return decision.traffic, decision.disposition

    before = answer(case)
    for turn in turning_points(case, rules):
        if turn.now is None:
            continue
        step = PLACES if turn.rising else -PLACES
        there = turn.value if turn.at_value else turn.value + step
        assert answer(turned(case, turn, there)) == (turn.traffic, turn.disposition) != before
        share = Decimal(data.draw(st.integers(0, 1000))) / 1000
        # anywhere between the value now and the turning point nothing changes
        last = there - step
        between = turn.now + (last - turn.now) * share
        assert answer(turned(case, turn, between)) == before


@patient
@given(cases(), st.data())
def test_where_no_turning_point_lies_above_no_larger_value_changes_the_answer(
    case: Case, data: st.DataObject
) -> None:
    known = {(p.quantity, p.rising) for p in turning_points(case, RULES)}
    before = decide(case, RULES)
    for reading in case.readings:
        if (reading.quantity, True) in known:
            continue
        more = reading.value + Decimal(data.draw(st.integers(0, 400))) / 8
        after = decide(with_reading(case, reading, more), RULES)
        assert (after.traffic, after.disposition) == (before.traffic, before.disposition)
