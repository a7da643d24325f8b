"""The list of components, and the engineer's page of one: why does it keep coming back?"""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from turnouts.access import Action, may, visible
from turnouts.analysis import showing
from turnouts.analysis.life import OPEN_STATES
from turnouts.analysis.terms import ComponentKind, FrogDesign, Quantity, Steel, Zone
from turnouts.analysis.units import QUANTITY_DIMENSION, Dimension, from_stored
from turnouts.lifeline import Event, life_line
from turnouts.models import Component, Installation, Measurement, Person
from turnouts.pages import pictures
from turnouts.pages.asking import Asked, asked_choice, found, one_page, page
from turnouts.services.errors import Refused
from turnouts.services.tonnage import carried
from turnouts.services.tonnage_clock import Clock, clock_of

NO_WEAR = {Quantity.RAIL_TEMPERATURE, Quantity.AIR_TEMPERATURE}


@page(Action.SEE)
def components(request: Asked) -> HttpResponse:
    """All components by kind, design, steel or text; those with most defects first if asked."""
    standing = Installation.objects.filter(component=OuterRef("pk"), removed_on__isnull=True)
    rows = visible(request.user, _asked_for(request)).annotate(
        place=Subquery(standing.values("turnout__code")[:1]),
        place_position=Subquery(standing.values("position")[:1]),
        defect_count=Count("defects", distinct=True),
        open_count=Count(
            "defects", Q(defects__state__in=[s.value for s in OPEN_STATES]), distinct=True
        ),
    )
    worst_first = asked_choice(request, "order", ["defects"]) == "defects"
    rows = rows.order_by("-defect_count", "serial") if worst_first else rows.order_by("serial")
    context = {
        "page": one_page(request, rows),
        "kinds": list(ComponentKind),
        "designs": list(FrogDesign),
        "steels": list(Steel),
        "asked": request.GET,
    }
    return render(request, "turnouts/components.html", context)


def _asked_for(request: Asked) -> QuerySet[Component]:
    rows = Component.objects.all()
    for name, known in (("kind", ComponentKind), ("design", FrogDesign), ("steel", Steel)):
        if wanted := asked_choice(request, name, known):
            rows = rows.filter(**{name: wanted})
    if text := request.GET.get("q", "").strip():
        rows = rows.filter(serial__icontains=text)
    return rows


@page(Action.SEE)
def component(request: Asked, serial: str) -> HttpResponse:
    """Identity, places, tonnage, life line, measured quantities and repeat defects of one."""
    rows = Component.objects.prefetch_related(
        "installations__turnout__track__line", "installations__turnout__traffic", "shop_visits"
    )
    row = found(request, rows, serial=serial)
    now = timezone.localtime()
    places = carried(row, now.date())
    every = life_line(row, request.user)
    kinds = sorted({event.kind for event in every})
    shown = [kind for kind in request.GET.getlist("what") if kind in kinds] or kinds
    events = [event for event in every if event.kind in shown]
    clock = _clock(row)
    visits = list(row.shop_visits.all())
    zones = repeats(row)
    context = {
        "component": row,
        "places": places,
        "standing": next((p for p in places if p.installation.removed_on is None), None),
        "visits": visits,
        "in_shop": next((visit for visit in visits if visit.left_on is None), None),
        "events": [(event, clock.at(event.at) if clock else None) for event in events],
        "kinds": [(kind, kind in shown) for kind in kinds],
        "all_shown": shown == kinds,
        "picture": _picture(events, [s for s in _spans(row, now) if s.kind in shown], now, clock),
        "histories": histories(row, request.user),
        "zones": zones,
        "defect_total": sum(zone.times for zone in zones),
        "open_total": sum(zone.still_open for zone in zones),
        "may_edit": may(request.user, Action.EDIT_INVENTORY),
        "seen_turnouts": seen_turnouts(request.user, row),
    }
    return render(request, "turnouts/component.html", context)


def _clock(component: Component) -> Clock | None:
    """Its tonnage over time, or nothing where none is known."""
    try:
        return clock_of(component)
    except Refused:
        return None


def _picture(
    events: list[Event], spans: list[pictures.Span], now: datetime, clock: Clock | None
) -> pictures.LifePicture | None:
    return pictures.life_picture(events, spans, now, clock) if events else None


def seen_turnouts(reader: Person, of: Component) -> set[int]:
    """Turnouts of this component's history that the reader may open."""
    stays = visible(reader, Installation.objects.filter(component=of))
    return set(stays.values_list("turnout_id", flat=True))


def _spans(component: Component, now: datetime) -> list[pictures.Span]:
    today = now.date()
    stays = [
        pictures.Span("In track", s.installed_on, s.removed_on or today, s.turnout.code)
        for s in component.installations.all()
        if s.installed_on <= today
    ]
    visits = [
        pictures.Span("Shop", v.arrived_on, v.left_on or today, v.shop)
        for v in component.shop_visits.all()
    ]
    return stays + visits


@dataclass(frozen=True)
class ZoneCount:
    """How often defects were found in one zone, and in how many kinds."""

    zone: Zone
    times: int
    still_open: int
    kinds: str


def repeats(component: Component) -> list[ZoneCount]:
    """Defects by zone, the zone that came back most often first."""
    rows = list(component.defects.all())
    times = Counter(row.zone for row in rows)
    return [
        ZoneCount(
            Zone(zone),
            count,
            sum(row.zone == zone and row.is_open for row in rows),
            ", ".join(sorted({row.get_kind_display().lower() for row in rows if row.zone == zone})),
        )
        for zone, count in times.most_common()
    ]


@dataclass(frozen=True)
class History:
    """Readings of one quantity on one route at one distance behind the point, over time."""

    title: str
    unit: str
    dimension: str
    readings: list[Measurement]
    picture: pictures.Chart | None


def histories(component: Component, reader: Person) -> list[History]:
    """Each measured quantity against time; a picture where there are two readings at least."""
    rows = component.measurements.select_related("inspection", "instrument")
    groups: dict[tuple[str, str, Decimal | None], list[Measurement]] = {}
    for row in rows.order_by("quantity", "route", "behind_point_mm", "inspection__inspected_at"):
        if Quantity(row.quantity) not in NO_WEAR:
            groups.setdefault((row.quantity, row.route, row.behind_point_mm), []).append(row)
    return [_history(key, group, reader.units) for key, group in groups.items()]


def _history(
    key: tuple[str, str, Decimal | None],
    rows: list[Measurement],
    units: showing.UnitPreference,
) -> History:
    quantity, route, behind = key
    title = Quantity(quantity).label + (f", {route}" if route else "")
    if behind is not None:
        title += f", {showing.show(behind, Dimension.LENGTH, units)} behind the point"
    dimension = QUANTITY_DIMENSION[Quantity(quantity)]
    unit = units.unit_of(dimension)
    readings = [
        (
            row.inspection.inspected_at,
            Decimal(float(from_stored(row.value, unit))),
            f"{row.inspection.inspected_at:%Y-%m-%d}: {showing.show(row.value, dimension, units)}",
        )
        for row in rows
    ]
    picture = pictures.chart(readings) if len(readings) > 1 else None
    return History(title, unit.shown or unit.symbol, dimension.value, rows, picture)
