"""A job on another day: sliders that answer at once, and keep nothing."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from repairs.bead_drawing import bead_drawing
from repairs.drawings import drivers_of, stage_chart_of
from repairs.heat_drawing import heat_drawing
from repairs.models import RepairJob
from repairs.services.try_out import TriedOut, try_out, usual_day
from repairs.trying import QUENCH_WORDS, asked_day, sliders
from turnouts.access import Action
from turnouts.pages.asking import Asked, found, page
from turnouts.services.errors import Refused


@page(Action.SEE)
def try_out_page(request: Asked, reference: str) -> HttpResponse:
    """The answer for the day asked for: a whole page, or for htmx the part that changed."""
    row = found(request, RepairJob.objects.with_place(), reference=reference)
    context: dict[str, Any] = {"job": row, "quenches": QUENCH_WORDS}
    context |= _asked(request, row)
    htmx = request.htmx  # type: ignore[attr-defined]
    part = htmx and not htmx.history_restore_request
    return render(request, "repairs/_tried_out.html" if part else "repairs/try_out.html", context)


def _asked(request: Asked, row: RepairJob) -> dict[str, Any]:
    on, units = timezone.localdate(), request.user.units
    usual = usual_day(row, on)
    try:
        day = asked_day(request.GET, usual, units)
        tried = try_out(row, day, on)
    except Refused as refusal:
        tried = try_out(row, usual, on)
        return {"fault": str(refusal), "sliders": sliders(usual, tried.currents_a, units)}
    shown = {"sliders": sliders(day, tried.currents_a, units), "day": day}
    return shown | _pictures(tried, units.temperature)


def _pictures(tried: TriedOut, temperature: str) -> dict[str, Any]:
    detail = tried.answer.as_dict()
    heat = detail.get("heat")
    return {
        "answer": tried.answer,
        "detail": detail,
        "drivers": drivers_of(detail),
        "heat": heat_drawing(heat, temperature) if heat else None,
        "chart": stage_chart_of(detail, tried.day.available_min),
        "beads": [bead_drawing(zone) for zone in detail["zones"] if zone["layers"]],
    }
