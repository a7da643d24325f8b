"""The network at a glance: the lines of a territory drawn with their turnouts, and as a table."""

from dataclasses import dataclass

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.timezone import localdate

from turnouts.access import Action, visible
from turnouts.analysis import showing
from turnouts.analysis.units import Dimension
from turnouts.models import Line, Territory
from turnouts.pages.asking import Asked, asked_choice, page
from turnouts.pages.line_drawing import LineDrawing, line_drawing
from turnouts.pages.why import csv_answer
from turnouts.services.network import LineOverview, Show, Spot, overview_of

COLUMNS = ("turnout", "line", "milepost", "track", "open_defects", "traffic", "speed_kmh",
           "repair_due", "inspection_due", "repeat_offenders", "early_warnings")  # fmt: skip


@dataclass(frozen=True)
class Shown:
    """One line: its drawing, and the turnouts picked out with their words."""

    line: Line
    drawing: LineDrawing | None
    rows: list[tuple[Spot, str]]
    all: int


@page(Action.SEE)
def network(request: Asked) -> HttpResponse:
    """One territory at a time; what the reader asks for is picked out, the rest is drawn small."""
    territories, chosen = _territory(request)
    show = _show(request)
    lines = overview_of(request.user, chosen, localdate()) if chosen else []
    spots = [spot for line in lines for spot in line.spots]
    context = {
        "territories": territories,
        "chosen": chosen,
        "show": show,
        "counts": [(one, sum(spot.is_in(one) for spot in spots)) for one in Show],
        "lines": [_shown(line, show, request.user.units) for line in lines],
        "total": len(spots),
        "lacking": sum(spot.held.facts_lacking for spot in spots),
    }
    return render(request, "turnouts/network.html", context)


@page(Action.SEE)
def network_csv(request: Asked) -> HttpResponse:
    """The table of the same turnouts for a spreadsheet; speeds in km/h."""
    _, chosen = _territory(request)
    show = _show(request)
    rows = (
        (
            spot.turnout.code,
            line.line.code,
            f"{spot.turnout.milepost.normalize():f}",
            spot.turnout.track.name,
            str(spot.open_defects),
            spot.held.traffic,
            "" if spot.held.speed_kmh is None else f"{spot.held.speed_kmh.normalize():f}",
            f"{spot.held.repair_due or ''}",
            "now" if spot.held.inspect_now else f"{spot.held.inspection_due or ''}",
            str(spot.repeat_offenders),
            str(spot.warnings),
        )
        for line in (overview_of(request.user, chosen, localdate()) if chosen else [])
        for spot in line.spots
        if spot.is_in(show)
    )
    return csv_answer("turnouts-at-a-glance", COLUMNS, rows)


def _territory(request: Asked) -> tuple[list[Territory], Territory | None]:
    """The reader's territories, and the one asked for or the first."""
    rows = list(visible(request.user, Territory.objects.all()))
    asked = asked_choice(request, "territory", (row.code for row in rows))
    return rows, next((row for row in rows if row.code == asked), rows[0] if rows else None)


def _show(request: Asked) -> Show:
    return Show(asked_choice(request, "show", Show, Show.ALL))


def _shown(line: LineOverview, show: Show, units: showing.UnitPreference) -> Shown:
    def said(spot: Spot) -> tuple[str, str]:
        short = ", ".join(_states(spot, units))
        milepost = f"{line.line.milepost_unit} {spot.turnout.milepost.normalize():f}"
        defects = f"{spot.open_defects} open defect{'' if spot.open_defects == 1 else 's'}"
        words = ", ".join((milepost, spot.turnout.track.name, defects, *_states(spot, units)))
        return short, f"{spot.turnout.code}, {words}"

    picked = [(spot, said(spot)[0]) for spot in line.spots if spot.is_in(show)]
    return Shown(line.line, line_drawing(line, show, said), picked, len(line.spots))


def _states(spot: Spot, units: showing.UnitPreference) -> list[str]:
    """What there is to know of a turnout, the gravest first."""
    said = []
    if traffic := traffic_words(spot, units):
        said.append(traffic)
    if spot.held.inspect_now:
        said.append("inspect now")
    elif spot.due_soon:
        said.append(f"due {spot.due_on:%d %b}")
    if spot.repeat_offenders:
        said.append("repeat")
    if spot.warnings:
        said.append("warned")
    return said


def traffic_words(spot: Spot, units: showing.UnitPreference) -> str:
    """The restriction in the reader's units; nothing where trains may run at class speed."""
    if spot.held.traffic == "restricted" and spot.held.speed_kmh is not None:
        return showing.show(spot.held.speed_kmh, Dimension.SPEED, units)
    return {"class_speed": "", "stop": "stop", "restricted": "restricted"}.get(
        spot.held.traffic, "keep restriction"
    )
