"""What must hold of every decision, whatever the numbers."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from repairs.triage.decide import decide
from repairs.triage.decision import Decision, Outcome, TrafficKind
from repairs.triage.disposition import ORDER
from repairs.triage.facts import Case, ComponentFacts, DefectFacts, HeavyPoint, Reading, TrackFacts
from repairs.triage.rules import federal_rules
from repairs.triage.traffic import severity
from turnouts.analysis.terms import (
    ComponentKind,
    DefectKind,
    Disposition,
    FrogDesign,
    Orientation,
    Quantity,
    Steel,
    Zone,
)
from turnouts.analysis.units import Dimension, parse

RULES = federal_rules()
patient = settings(
    deadline=None,  # a busy machine is no failure
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
DAY = date(2026, 11, 20)
GROWS = (
    Quantity.POINT_WEAR_DEPTH,
    Quantity.POINT_WEAR_LENGTH,
    Quantity.TREAD_WEAR,
    Quantity.RAISED_GUARD_WEAR,
    Quantity.HORN_CLEARANCE,
    Quantity.GUARD_FACE_GAGE,
    Quantity.POINT_FIT_GAP,
    Quantity.SWITCH_POINT_WEAR,
)
"""Quantities that get worse as they grow; the others below get worse as they shrink."""
SHRINKS = (Quantity.FLANGEWAY_DEPTH, Quantity.FLANGEWAY_WIDTH, Quantity.GUARD_CHECK_GAGE)

AROUND = {
    Quantity.FLANGEWAY_DEPTH: (30, 45),
    Quantity.FLANGEWAY_WIDTH: (34, 50),
    Quantity.GUARD_CHECK_GAGE: (1370, 1390),
    Quantity.GUARD_FACE_GAGE: (1340, 1356),
    Quantity.POINT_WEAR_DEPTH: (0, 25),
    Quantity.POINT_WEAR_LENGTH: (0, 250),
    Quantity.TREAD_WEAR: (0, 15),
    Quantity.RAISED_GUARD_WEAR: (0, 15),
    Quantity.HORN_CLEARANCE: (0, 10),
    Quantity.POINT_FIT_GAP: (0, 8),
    Quantity.SWITCH_POINT_WEAR: (0, 9),
}
"""The stretch in mm around the limits of 49 CFR 213.133 to 213.143 where answers change."""


def eighths(low: int, high: int) -> st.SearchStrategy[Decimal]:
    """Lengths in mm, every sixteenth of a mm and every sixteenth of an inch."""
    metric = st.integers(low * 16, high * 16).map(lambda n: Decimal(n) / 16)
    inches = st.integers(int(low / 25.4 * 16), int(high / 25.4 * 16) + 1)
    return metric | inches.map(lambda n: Decimal(n) * Decimal("25.4") / 16)


def sizes(high: int) -> st.SearchStrategy[Decimal | None]:
    return st.none() | eighths(0, high)


readings = st.fixed_dictionaries(
    {}, optional={quantity: eighths(*around) for quantity, around in AROUND.items()}
)
uncertainties = st.sampled_from([Decimal(0), Decimal("0.5"), Decimal("1.5875")])
truth = st.none() | st.booleans()
heavy_points = st.none() | st.builds(HeavyPoint, truth, st.none() | st.integers(0, 5), truth, truth)
components = st.builds(
    ComponentFacts,
    kind=st.sampled_from(ComponentKind),
    design=st.none() | st.sampled_from(FrogDesign),
    steel=st.none() | st.sampled_from(Steel),
    heavy_point=heavy_points,
    crossing_angle_deg=st.none() | st.sampled_from([Decimal(10), Decimal(20), Decimal(45)]),
    movable_guard_rails=truth,
    earlier_welds_here=st.integers(0, 7),
)
defects = st.none() | st.builds(
    DefectFacts,
    kind=st.sampled_from(DefectKind),
    zone=st.sampled_from(Zone),
    length_mm=sizes(300),
    depth_mm=sizes(60),
    uncertainty_mm=uncertainties,
    orientation=st.none() | st.sampled_from(Orientation),
    reaches_base=truth,
)


@st.composite
def cases(draw: st.DrawFn) -> Case:
    measured, give_or_take = draw(readings), draw(uncertainties)
    return Case(
        component=draw(components),
        defect=draw(defects),
        readings=tuple(Reading(q, mm, DAY, f"R {q}", give_or_take) for q, mm in measured.items()),
        track=TrackFacts(draw(st.none() | st.integers(0, 5))),
        reported_on=DAY,
        decided_on=DAY,
    )


def milder(first: Decision, second: Decision) -> bool:
    """Whether the second answer allows more than the first, asks less work or leaves more time."""
    if severity(second.traffic) < severity(first.traffic):
        return True
    known = Disposition.MEASURE_FIRST not in (first.disposition, second.disposition)
    if known and ORDER.index(second.disposition) < ORDER.index(first.disposition):
        return True
    return known and second.due_on > first.due_on


@patient
@given(cases(), st.data())
def test_a_worse_reading_never_gets_a_milder_answer(case: Case, data: st.DataObject) -> None:
    assume(case.readings)
    index = data.draw(st.integers(0, len(case.readings) - 1))
    reading = case.readings[index]
    step = data.draw(eighths(0, 20))
    worse = reading.value + step if reading.quantity in GROWS else reading.value - step
    assume(worse >= 0)
    changed = list(case.readings)
    changed[index] = replace(reading, value=worse)
    assert not milder(decide(case, RULES), decide(replace(case, readings=tuple(changed)), RULES))


@patient
@given(cases(), eighths(0, 60), eighths(0, 300))
def test_a_deeper_or_longer_defect_never_gets_a_milder_answer(
    case: Case, deeper: Decimal, longer: Decimal
) -> None:
    assume(case.defect is not None)
    assert case.defect is not None
    depth, length = case.defect.depth_mm, case.defect.length_mm
    worse = replace(
        case.defect,
        depth_mm=None if depth is None else depth + deeper,
        length_mm=None if length is None else length + longer,
    )
    assert not milder(decide(case, RULES), decide(replace(case, defect=worse), RULES))


@patient
@given(cases())
def test_a_coarser_instrument_never_gets_a_milder_answer(case: Case) -> None:
    coarse = tuple(replace(r, uncertainty=r.uncertainty + Decimal(1)) for r in case.readings)
    before = decide(case, RULES)
    after = decide(replace(case, readings=coarse), RULES)
    assert severity(after.traffic) >= severity(before.traffic)


@patient
@given(cases(), st.integers(0, 4))
def test_a_stricter_class_never_gets_a_milder_answer(case: Case, track_class: int) -> None:
    """Of what class speed itself allows nothing is said: class 5 is faster than class 4."""
    lower = decide(replace(case, track=TrackFacts(track_class)), RULES)
    higher = decide(replace(case, track=TrackFacts(track_class + 1)), RULES)
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


@patient
@given(st.sampled_from(sorted(AROUND)), st.integers(0, 128 * 60), st.sampled_from([1, 2, 3, 4, 5]))
def test_the_unit_of_entry_never_matters(quantity: Quantity, parts: int, track_class: int) -> None:
    """A length typed as a fraction of an inch or as mm gives one answer: 1 in = 25.4 mm."""
    inches = Fraction(parts, 128)
    whole, rest = divmod(inches, 1)
    typed = f"{whole} {rest} in" if rest else f"{whole} in"
    mm = Decimal(inches.numerator) * Decimal("25.4") / Decimal(inches.denominator)
    component = ComponentFacts(
        ComponentKind.FROG, FrogDesign.SELF_GUARDED_MANGANESE, Steel.MANGANESE
    )

    def answer(value: Decimal) -> Decision:
        reading = Reading(quantity, value, DAY, "R")
        return decide(Case(component, None, (reading,), TrackFacts(track_class), DAY, DAY), RULES)

    in_inches = answer(parse(typed, None, Dimension.LENGTH))
    in_mm = answer(parse(f"{mm:f} mm", None, Dimension.LENGTH))
    assert in_inches.traffic == in_mm.traffic
    assert [f.outcome for f in in_inches.findings] == [f.outcome for f in in_mm.findings]


@patient
@given(cases())
def test_every_answer_says_why_and_by_when(case: Case) -> None:
    decision = decide(case, RULES)
    assert decision.sentence.endswith(".")
    assert decision.due_on >= case.reported_on
    assert decision.due_reason
    assert any("213.7" in caution for caution in decision.cautions)
    seen = {row.rule_id for row in decision.rules_seen}
    assert {f.rule_id for f in decision.findings} <= seen
    for finding in decision.findings:
        assert finding.clause
        assert finding.sentence
        if finding.outcome is Outcome.NEAR:
            assert finding.uncertainty_mm


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
