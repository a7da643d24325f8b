"""From rows to the facts that the rules judge: many defects at once, in a few queries."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import Q
from django.utils import timezone

from repairs.triage.facts import Case, ComponentFacts, DefectFacts, HeavyPoint, Reading, TrackFacts
from turnouts.analysis.terms import (
    ComponentKind,
    DefectKind,
    DefectState,
    FrogDesign,
    HeadReach,
    Orientation,
    Quantity,
    RailFlaw,
    Steel,
    Zone,
)
from turnouts.analysis.units import QUANTITY_DIMENSION, Dimension
from turnouts.models import Component, Defect, Measurement, TrackClass

LOOK_BACK = timedelta(days=366)
"""How far back readings are fetched; which of them are too old to count is the rules' business."""

LENGTHS = [q.value for q in Quantity if QUANTITY_DIMENSION[q] is Dimension.LENGTH]


@dataclass(frozen=True)
class _Surroundings:
    """What the database knows around a batch of defects."""

    readings: dict[tuple[int, int | None], list[Reading]]
    classes: dict[int, list[TrackClass]]
    welds: Counter[tuple[int, str]]


def cases_for(defects: Sequence[Defect], on: date) -> list[Case]:
    """The facts of each defect as known on a day, in the order given.

    The defects come with component and turnout read (``with_place``). The number of queries does
    not depend on the number of defects.
    """
    around = _Surroundings(_readings(defects, on), _classes(defects, on), _welds(defects, on))
    return [_case(defect, on, around) for defect in defects]


def _case(defect: Defect, on: date, around: _Surroundings) -> Case:
    turnout, component = defect.turnout_id, defect.component_id
    earlier = around.welds[(component, defect.zone)]
    return Case(
        component=component_facts(defect.component, earlier),
        defect=_defect(defect),
        readings=tuple(
            around.readings.get((turnout, component), []) + around.readings.get((turnout, None), [])
        ),
        track=TrackFacts(_class_at(defect, around.classes)),
        reported_on=defect.reported_on,
        decided_on=on,
    )


def component_facts(row: Component, earlier_welds: int = 0) -> ComponentFacts:
    """The component as the rules see it, with how often the place was welded before."""
    return ComponentFacts(
        kind=ComponentKind(row.kind),
        design=FrogDesign(row.design) if row.design else None,
        steel=Steel(row.steel) if row.steel else None,
        heavy_point=_heavy_point(row),
        earlier_welds_here=earlier_welds,
    )


def _heavy_point(row: Component) -> HeavyPoint | None:
    """Only a frog that bears the mark is a heavy-point frog; the rest is looked at then."""
    if not row.heavy_point_mark:
        return None
    return HeavyPoint(
        marked=True,
        through_gage_plates=row.gage_plates,
        elastic_fasteners=row.elastic_fasteners,
        adjustable_braces_both_rails=row.adjustable_braces,
    )


def _defect(row: Defect) -> DefectFacts:
    return DefectFacts(
        kind=DefectKind(row.kind),
        zone=Zone(row.zone),
        length_mm=row.length_mm,
        width_mm=row.width_mm,
        depth_mm=row.depth_mm,
        orientation=Orientation(row.orientation) if row.orientation else None,
        breaks_surface=row.breaks_surface,
        reaches_edge=row.reaches_edge,
        reaches_base=row.reaches_base,
        head=HeadReach(row.head_reach) if row.head_reach else None,
        flaw=RailFlaw(row.flaw) if row.flaw else None,
        head_share_percent=row.head_share_percent,
        access=row.welder_access,
        metal_left_mm=row.metal_left_mm,
        hardened_mm=row.hardened_mm,
        damaged=row.damaged,
    )


def _readings(defects: Iterable[Defect], on: date) -> dict[tuple[int, int | None], list[Reading]]:
    """The newest reading of each thing at each place, by turnout and component."""
    rows = (
        Measurement.objects.filter(
            Q(component__in={d.component_id for d in defects}) | Q(component__isnull=True),
            inspection__turnout__in={d.turnout_id for d in defects},
            inspection__inspected_at__date__gte=on - LOOK_BACK,
            inspection__inspected_at__date__lte=on,
            quantity__in=LENGTHS,
        )
        .order_by("inspection__inspected_at", "id")
        .values_list(
            "inspection__turnout_id",
            "component_id",
            "quantity",
            "route",
            "behind_point_mm",
            "value",
            "uncertainty",
            "inspection__inspected_at",
            "inspection__reference",
            named=True,
        )
    )
    newest: dict[tuple[int, int | None], dict[tuple[str, str, Decimal | None], Any]]
    newest = defaultdict(dict)
    for row in rows:
        place = (row.inspection__turnout_id, row.component_id)
        newest[place][(row.quantity, row.route, row.behind_point_mm)] = row
    return {place: [_reading(m) for m in found.values()] for place, found in newest.items()}


def _reading(row: Any) -> Reading:
    reference = row.inspection__reference
    return Reading(
        quantity=Quantity(row.quantity),
        value=row.value,
        taken_on=timezone.localdate(row.inspection__inspected_at),
        reference=f"{reference}, {row.route}" if row.route else reference,
        uncertainty=row.uncertainty,
        at_mm=row.behind_point_mm,
    )


def _classes(defects: Iterable[Defect], on: date) -> dict[int, list[TrackClass]]:
    """The ranges of track class in force on a day, by track."""
    rows = TrackClass.objects.filter(
        Q(until__isnull=True) | Q(until__gt=on),
        track__in={d.turnout.track_id for d in defects},
        since__lte=on,
    )
    found: dict[int, list[TrackClass]] = defaultdict(list)
    for row in rows:
        found[row.track_id].append(row)
    return found


def _class_at(defect: Defect, classes: dict[int, list[TrackClass]]) -> int | None:
    """The class at the turnout; where two ranges meet at it, the stricter (higher) one."""
    place = defect.turnout.chainage_m
    here = [
        c.track_class
        for c in classes.get(defect.turnout.track_id, [])
        if c.from_m <= place <= c.to_m
    ]
    return max(here, default=None)


def _welds(defects: Iterable[Defect], on: date) -> Counter[tuple[int, str]]:
    """How often the same place on each component was repaired before."""
    rows = Defect.objects.filter(
        component__in={d.component_id for d in defects},
        steps__state=DefectState.REPAIRED.value,
        steps__at__date__lte=on,
    ).values_list("component_id", "zone", "id")
    return Counter((component, zone) for component, zone, _ in set(rows))
