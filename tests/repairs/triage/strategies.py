"""Cases of every kind for property tests, and what it is for an answer to be milder."""

from datetime import date
from decimal import Decimal

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from repairs.triage.decision import Decision
from repairs.triage.disposition import ORDER
from repairs.triage.facts import (
    Case,
    ComponentFacts,
    DefectFacts,
    HeavyPoint,
    Reading,
    TrackFacts,
)
from repairs.triage.traffic import severity
from turnouts.analysis.terms import (
    ComponentKind,
    DefectKind,
    Disposition,
    FrogDesign,
    HeadReach,
    Orientation,
    Quantity,
    RailFlaw,
    Steel,
    Zone,
)

patient = settings(
    max_examples=60,  # most properties run under each rule set
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
"""Quantities that get worse as they grow."""
SHRINKS = (Quantity.FLANGEWAY_DEPTH, Quantity.GUARD_CHECK_GAGE)
BETWEEN = {
    Quantity.TRACK_GAGE: Decimal("1435.1"),
    Quantity.FLANGEWAY_WIDTH: Decimal("44.45"),
}
"""Quantities that get worse away from a middle: 4 ft 8 1/2 in of gage, 1 3/4 in of flangeway."""

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
    Quantity.TRACK_GAGE: (1415, 1485),
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
    reaches_edge=truth,
    head=st.none() | st.sampled_from(HeadReach),
    flaw=st.none() | st.sampled_from(RailFlaw),
    head_share_percent=st.none() | st.integers(0, 100).map(Decimal),
    access=truth,
    metal_left_mm=sizes(40),
    hardened_mm=sizes(10),
    damaged=truth,
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


def worse(reading: Reading, step: Decimal) -> Decimal:
    """A value that is further into trouble by a step."""
    grows = reading.quantity in GROWS
    if reading.quantity in BETWEEN:
        grows = reading.value >= BETWEEN[reading.quantity]
    return reading.value + step if grows else reading.value - step


def milder(first: Decision, second: Decision) -> bool:
    """Whether the second answer allows more than the first, asks less work or leaves more time."""
    if severity(second.traffic) < severity(first.traffic):
        return True
    known = Disposition.MEASURE_FIRST not in (first.disposition, second.disposition)
    if known and ORDER.index(second.disposition) < ORDER.index(first.disposition):
        return True
    return known and second.due_on > first.due_on
