"""How earlier forecasts did: whether bands held and chances came true, as picture, table, CSV."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render

from turnouts.access import Action, visible
from turnouts.models import ForecastRecord, WearForecast
from turnouts.pages.asking import Asked, one_page, page
from turnouts.pages.pictures import Level, Point, Tick
from turnouts.pages.why import csv_answer
from turnouts.pages.why_drawing import FLOOR, HEIGHT, LEFT, RIGHT, WIDTH, Axes

COLUMNS = ("component", "turnout", "quantity", "route", "made_on", "worked_out_on", "met_on",
           "inspection", "low_95_mm", "high_95_mm", "read_mm", "held", "limit_mm", "clause",
           "chance_past", "past")  # fmt: skip


@dataclass(frozen=True)
class Reliability:
    """Share that came against chance that was said; on the slanting line both are the same."""

    levels: list[Level]
    ticks: list[Tick]
    points: list[Point]
    even: str
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    floor: int = FLOOR


@page(Action.SEE)
def forecast_record(request: Asked) -> HttpResponse:
    """The record of all forecasts, of each quantity, and the latest readings that met one."""
    records = list(ForecastRecord.objects.all())
    whole = next((one for one in records if not one.quantity), None)
    chances = whole.figures["chances"] if whole else None
    context = {
        "whole": whole,
        "each": [one for one in records if one.quantity],
        "drawing": _reliability(chances["bins"]) if chances and chances["enough"] else None,
        "page": one_page(request, _met(request)),
    }
    return render(request, "turnouts/forecast_record.html", context)


@page(Action.SEE)
def forecast_record_csv(request: Asked) -> HttpResponse:
    """Every forecast that a reading has met, in mm."""
    lines = (
        (
            row.component.serial,
            row.turnout.code,
            row.quantity,
            row.route,
            f"{row.made_on}",
            f"{row.kept_on}",
            f"{row.came_on}",
            row.came_inspection,
            f"{row.low_mm:.2f}",
            f"{row.high_mm:.2f}",
            f"{row.came_mm.normalize():f}" if row.came_mm is not None else "",
            "yes" if row.held else "no",
            f"{row.limit_mm.normalize():f}",
            row.clause,
            f"{row.chance:.3f}",
            "yes" if row.past else "no",
        )
        for row in _met(request).iterator()
    )
    return csv_answer("how-forecasts-of-wear-did", COLUMNS, lines)


def _met(request: Asked) -> Any:
    rows = WearForecast.objects.filter(state="met").select_related("component", "turnout")
    return visible(request.user, rows)


def _reliability(bins: list[dict[str, Any]]) -> Reliability:
    axes = Axes([0.0, 100.0], [0.0, 100.0])
    shares = [(100 * one["said"], 100 * one["came"] / one["forecasts"], one) for one in bins]
    return Reliability(
        levels=[Level(level.y, f"{level.words} %") for level in axes.levels()],
        ticks=axes.ticks(),
        points=[
            Point(
                axes.x(said),
                axes.y(came),
                f"{said:.0f} % said of {one['forecasts']}: {one['came']} came, {came:.0f} %",
            )
            for said, came, one in shares
        ],
        even=axes.path([(0, 0), (100, 100)]),
    )
