"""The list of turnouts, and the page of one."""

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from django.db.models import Count, Prefetch, Q, QuerySet
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.timezone import localdate

from turnouts.access import Action, may, visible
from turnouts.analysis import geometry
from turnouts.analysis.life import OPEN_STATES
from turnouts.analysis.terms import Position, Route
from turnouts.inspections_wanted import inspections_wanted
from turnouts.models import (
    Inspection,
    Installation,
    Line,
    Measurement,
    Territory,
    TrackClass,
    Traffic,
    Turnout,
)
from turnouts.pages.asking import Asked, asked_code, found, one_page, page
from turnouts.services.tonnage import Carried, carried

INSPECTIONS_SHOWN = 5


@page(Action.SEE)
def turnouts(request: Asked) -> HttpResponse:
    """All turnouts of the reader's territories, by territory, line or text."""
    rows = visible(request.user, _asked_for(request)).annotate(
        open_defects=Count("defects", Q(defects__state__in=[s.value for s in OPEN_STATES]))
    )
    rows = rows.order_by("track__line__code", "chainage_m", "code")
    context = {
        "page": one_page(request, rows),
        "territories": visible(request.user, Territory.objects.all()),
        "lines": visible(request.user, Line.objects.all()),
        "asked": request.GET,
    }
    return render(request, "turnouts/turnouts.html", context)


def _asked_for(request: Asked) -> QuerySet[Turnout]:
    rows = Turnout.objects.with_place()
    if territory := asked_code(request, "territory", Territory.objects.all()):
        rows = rows.filter(track__line__territory__code=territory)
    if line := asked_code(request, "line", Line.objects.all()):
        rows = rows.filter(track__line__code=line)
    if text := request.GET.get("q", "").strip():
        rows = rows.filter(Q(code__icontains=text) | Q(access__icontains=text))
    return rows


@dataclass
class Seat:
    """One position of a turnout: what stands in it now, and what stood there before."""

    position: Position
    standing: Carried | None = None
    earlier: list[Carried] = field(default_factory=list)


@page(Action.SEE)
def turnout(request: Asked, code: str) -> HttpResponse:
    """Everything known of one turnout."""
    row = found(request, Turnout.objects.with_place().select_related("diverges_to"), code=code)
    today = localdate()
    angle = geometry.degrees_minutes_seconds(geometry.frog_angle(row.frog_number))
    context = {
        "turnout": row,
        "angle": "{}° {:02}\N{PRIME} {:02}\N{DOUBLE PRIME}".format(*angle),
        "track_class": class_there(row, today),
        "traffic": _traffic_now(row, today),
        "seats": _seats(row, today),
        "inspections": _last_inspections(row),
        "wanted": inspections_wanted(row, today),
        "defects": row.defects.still_open().select_related("component"),
        "may_report": may(request.user, Action.REPORT, row.territory),
        "may_edit": may(request.user, Action.EDIT_INVENTORY, row.territory),
    }
    return render(request, "turnouts/turnout.html", context)


def class_there(turnout: Turnout, day: date) -> TrackClass | None:
    """The class of track at the turnout on that day, or None where nobody gave one."""
    return (
        TrackClass.objects.filter(
            Q(until__isnull=True) | Q(until__gt=day),
            track=turnout.track,
            from_m__lte=turnout.chainage_m,
            to_m__gt=turnout.chainage_m,
            since__lte=day,
        )
        .order_by("-since")
        .first()
    )


def _traffic_now(turnout: Turnout, day: date) -> list[dict[str, Traffic | str | Decimal]]:
    """The traffic row of each route that holds today."""
    rows = {row.route: row for row in turnout.traffic.filter(since__lte=day).order_by("since")}
    return [
        {"route": route.label, "row": rows[route.value]} for route in Route if route.value in rows
    ]


def _seats(turnout: Turnout, today: date) -> list[Seat]:
    """Every position that holds or held something, in the order of the words."""
    stays = Installation.objects.filter(turnout=turnout).select_related("component")
    traffic = Prefetch("component__installations__turnout__traffic")
    of_all = stays.prefetch_related("component__installations__turnout", traffic)
    seats: dict[str, Seat] = {}
    for stay in sorted(of_all, key=lambda s: s.installed_on, reverse=True):
        seat = seats.setdefault(stay.position, Seat(Position(stay.position)))
        tonnage = next((c for c in carried(stay.component, today) if c.installation == stay), None)
        if tonnage is None:
            continue  # noted for a day to come
        if stay.removed_on is None:
            seat.standing = tonnage
        else:
            seat.earlier.append(tonnage)
    return [seats[position.value] for position in Position if position.value in seats]


def _last_inspections(turnout: Turnout) -> QuerySet[Inspection]:
    readings = Measurement.objects.select_related("component", "instrument")
    return (
        turnout.inspections.select_related("inspector")
        .annotate(found=Count("defects"))
        .order_by("-inspected_at")
        .prefetch_related(Prefetch("measurements", readings))[:INSPECTIONS_SHOWN]
    )


@page(Action.SEE)
def inspection(request: Asked, reference: str) -> HttpResponse:
    """One visit: its readings and the defects found."""
    row = found(request, Inspection.objects.with_place(), reference=reference)
    context = {
        "inspection": row,
        "readings": row.measurements.select_related("component", "instrument"),
        "defects": row.defects.select_related("component"),
    }
    return render(request, "turnouts/inspection.html", context)
