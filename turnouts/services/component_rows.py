"""The rows of many components as the analysis takes them: tonnage, readings, repairs, defects.

A handful of queries, however many components are asked for.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db.models import Min
from django.utils import timezone

from turnouts.analysis.hints.hints import DefectFact
from turnouts.analysis.recurrence.histories import History
from turnouts.analysis.terms import DefectKind, DefectState, Quantity, Zone
from turnouts.analysis.wear.resets import AT_THE_SEAT, WEARS, brought_back
from turnouts.analysis.wear.runs import Reading, Run, runs_of
from turnouts.models import Component, Defect, DefectStep, Inspection, Measurement
from turnouts.services.errors import Refused
from turnouts.services.tonnage_clock import Clock, clock_of

Place = tuple[Quantity, str, Decimal | None]
"""What is measured: quantity, route or nothing, millimetres behind the point or the worst place."""


@dataclass(frozen=True)
class Taken:
    """One reading with the tonnage by then; lengths in mm, the uncertainty a 95 % half-width."""

    mgt: float
    at: datetime
    value: Decimal
    uncertainty: Decimal
    inspection: str

    @property
    def reading(self) -> Reading:
        return Reading(self.mgt, float(self.value), self.inspection)


@dataclass(frozen=True)
class Found:
    """One defect as found, with the tonnages by then and at each of its repairs."""

    pk: int
    fact: DefectFact
    repaired_mgt: tuple[float, ...]
    repaired_on: tuple[date, ...]


@dataclass(frozen=True)
class Life:
    """What is known of one component since its tonnage is known."""

    component: Component
    clock: Clock
    readings: Mapping[Place, Sequence[Taken]]
    defects: Sequence[Found]

    def runs(self, place: Place) -> tuple[Run, ...]:
        """The readings at one place cut where they start again, the present run last."""
        readings = [taken.reading for taken in self.readings.get(place, ())]
        return runs_of(_named(self.component, place), readings, self._resets(place[0]))

    def _resets(self, quantity: Quantity) -> list[float]:
        days: list[date] = [visit.arrived_on for visit in self.component.shop_visits.all()]
        if quantity in AT_THE_SEAT:
            days += [stay.installed_on for stay in self.component.installations.all()]
        marks = [mgt for mgt in (self.clock.at(day) for day in days) if mgt is not None]
        for found in self.defects:
            if quantity in brought_back(found.fact.kind, found.fact.zone):
                marks += found.repaired_mgt
        return [self.clock.mgts[0], *marks]

    def history(self, begins_on: date | None, on: date) -> History | None:
        """Its defects by tonnage, watched from when the records begin; ``None`` without tonnage.

        What was found on the first day of the records had come before, so it is not counted.
        """
        after_first = begins_on + timedelta(days=1) if begins_on is not None else None
        begins = self.clock.at(after_first) if after_first is not None else None
        begins = self.clock.mgts[0] if begins is None else begins
        ends = self.clock.at(on + timedelta(days=1))
        if ends is None or ends <= begins:
            return None
        events = sorted(found.fact.mgt for found in self.defects)
        inside = tuple(mgt for mgt in events if begins < mgt <= ends)
        return History(self.component.serial, inside, ends, begins)


def _named(component: Component, place: Place) -> str:
    quantity, route, behind = place
    parts = [component.serial, quantity.value, route, "" if behind is None else f"{behind:f}"]
    return "/".join(parts)


def records_begin() -> date | None:
    """The day of the first inspection of the railway: before it nothing was written down."""
    first = Inspection.objects.aggregate(first=Min("inspected_at"))["first"]
    return None if first is None else timezone.localdate(first)


def lives_of(
    components: Iterable[Component], on: date, places: Iterable[Quantity] = WEARS
) -> tuple[dict[int, Life], dict[int, str]]:
    """By id the lives, and for each component without a known tonnage the reason.

    ``components`` come with installations, their turnouts and traffic, and shop visits prefetched.
    """
    clocks: dict[int, tuple[Component, Clock]] = {}
    unknown: dict[int, str] = {}
    for component in components:
        try:
            clocks[component.pk] = (component, clock_of(component))
        except Refused as refusal:
            unknown[component.pk] = str(refusal)
    readings = _readings(clocks, on, places)
    defects = _defects(clocks, on)
    lives = {
        pk: Life(component, clock, readings.get(pk, {}), defects.get(pk, []))
        for pk, (component, clock) in clocks.items()
    }
    return lives, unknown


def _readings(
    clocks: Mapping[int, tuple[Component, Clock]], on: date, quantities: Iterable[Quantity]
) -> dict[int, dict[Place, list[Taken]]]:
    rows = Measurement.objects.filter(
        component__in=clocks,
        quantity__in=[quantity.value for quantity in quantities],
        inspection__inspected_at__date__lte=on,
    ).values_list(
        "component_id",
        "quantity",
        "route",
        "behind_point_mm",
        "inspection__inspected_at",
        "value",
        "uncertainty",
        "inspection__reference",
    )
    found: dict[int, dict[Place, list[Taken]]] = defaultdict(lambda: defaultdict(list))
    for pk, quantity, route, behind, at, value, uncertainty, reference in rows.order_by(
        "inspection__inspected_at", "id"
    ):
        mgt = clocks[pk][1].at(at)
        if mgt is not None:
            place = (Quantity(quantity), route, behind)
            found[pk][place].append(Taken(mgt, at, value, uncertainty, reference))
    return found


def _defects(clocks: Mapping[int, tuple[Component, Clock]], on: date) -> dict[int, list[Found]]:
    steps: dict[int, list[datetime]] = defaultdict(list)
    repaired = DefectStep.objects.filter(
        defect__component__in=clocks, state=DefectState.REPAIRED.value, at__date__lte=on
    )
    for defect, at in repaired.order_by("at").values_list("defect_id", "at"):
        steps[defect].append(at)
    rows = Defect.objects.filter(component__in=clocks, reported_on__lte=on).order_by(
        "reported_on", "reference"
    )
    found: dict[int, list[Found]] = defaultdict(list)
    for pk, component, reference, kind, zone, day, seen in rows.values_list(
        "pk", "component_id", "reference", "kind", "zone", "reported_on", "inspection__inspected_at"
    ):
        clock = clocks[component][1]
        mgt = clock.at(seen)
        if mgt is None:
            continue
        fact = DefectFact(reference, DefectKind(kind), Zone(zone), mgt, day)
        done = [at for at in steps[pk] if clock.at(at) is not None]
        found[component].append(
            Found(
                pk,
                fact,
                tuple(clock.at(at) or 0.0 for at in done),
                tuple(timezone.localdate(at) for at in done),
            )
        )
    return found
