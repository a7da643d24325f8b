"""Repair jobs and their estimates."""

from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.db.models import Prefetch, QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from repairs.bead_drawing import bead_drawing
from repairs.drawings import cavity_drawing, drivers_of, stage_chart
from repairs.heat_drawing import heat_drawing
from repairs.models import Estimate, RepairJob
from repairs.services.jobs import reestimate_job
from repairs.services.other_ways import newest_ways, request_other_ways
from repairs.welding.refusals import WeldingRefusal
from turnouts.access import Action, may, visible
from turnouts.pages.asking import Asked, asked_choice, found, one_page, page
from turnouts.services.errors import Refused
from turnouts.services.runs import with_progress

OPEN = ("estimated", "issued", "in_work")


def _rows() -> QuerySet[RepairJob]:
    current = Estimate.objects.filter(current=True)
    return RepairJob.objects.with_place().prefetch_related(
        Prefetch("estimates", current.defer("detail"), to_attr="present")
    )


@page(Action.SEE)
def jobs(request: Asked) -> HttpResponse:
    """The jobs that wait or are under way, the earliest due first."""
    state = asked_choice(request, "state", ["all", *dict(RepairJob.STATES)])
    rows = visible(request.user, _rows()).filter(part_of__isnull=True)
    rows = rows if state == "all" else rows.filter(state__in=[state] if state else OPEN)
    context = {
        "page": one_page(request, rows),
        "state": state,
        "states": RepairJob.STATES,
        "may_estimate": may(request.user, Action.ESTIMATE),
        "today": timezone.localdate(),
    }
    return render(request, "repairs/jobs.html", context)


@page(Action.SEE)
def job(request: Asked, reference: str) -> HttpResponse:
    """One job with its estimate: time, metal, beads, material, and what all of it assumes."""
    row = found(request, RepairJob.objects.with_place(), reference=reference)
    estimates = list(row.estimates.all())
    estimate = next((e for e in estimates if e.current), None)
    context = {
        "job": row,
        "treats": row.treats.select_related("defect", "decision"),
        "parts": row.parts.exclude(state="cancelled")
        .order_by("part_number", "pk")
        .prefetch_related("treats__defect"),
        "estimate": estimate,
        "detail": estimate.detail if estimate else None,
        "chart": stage_chart(estimate) if estimate else None,
        "drawings": [cavity_drawing(z) for z in estimate.detail["zones"]] if estimate else [],
        **(_pictures(estimate, request.user.units.temperature) if estimate else {}),
        "earlier": [e for e in estimates if not e.current],
        "sheets": visible(request.user, row.sheets.all(), Action.SEE_SHEETS),
        "today": timezone.localdate(),
        **_other_ways(request, row, estimate),
        "may_estimate": row.state == "estimated"
        and may(request.user, Action.ESTIMATE, row.turnout.territory),
    }
    return render(request, "repairs/job.html", context)


def _other_ways(request: Asked, row: RepairJob, estimate: Estimate | None) -> dict[str, Any]:
    """What anybody asked of other ways last; nothing for a job without a cavity."""
    if estimate is None or not estimate.detail["beads"]:
        return {}
    ways = newest_ways(row)
    return {
        "welded": True,
        "ways": with_progress(ways) if ways else None,
        "key": uuid4(),
        "may_ask": may(request.user, Action.ESTIMATE, row.turnout.territory),
    }


def _pictures(estimate: Estimate, temperature: str) -> dict[str, Any]:
    """Heat and beads; an estimate kept before the heat was worked out has no curve."""
    heat = estimate.detail.get("heat")
    return {
        "drivers": drivers_of(estimate.detail),
        "heat": heat_drawing(heat, temperature) if heat else None,
        "beads": [bead_drawing(zone) for zone in estimate.detail["zones"] if zone["layers"]],
    }


@require_POST
@page(Action.ESTIMATE)
def other_ways(request: Asked, reference: str) -> HttpResponse:
    """Queue the working out of other ways; a second click finds the run of the first."""
    row = found(request, RepairJob.objects.with_place(), Action.ESTIMATE, reference=reference)
    key = f"ways {row.pk} {request.POST.get('key', '')}"[:80]
    request_other_ways(by=request.user, job=row, on=timezone.localdate(), request_key=key)
    return redirect("job", row.reference)


@require_POST
@page(Action.ESTIMATE)
def estimate_again(request: Asked, reference: str) -> HttpResponse:
    """Work the job out anew from what is recorded of its defects now."""
    row = found(request, RepairJob.objects.with_place(), Action.ESTIMATE, reference=reference)
    try:
        made = reestimate_job(by=request.user, job=row, on=timezone.localdate(), at=timezone.now())
    except WeldingRefusal as refusal:
        raise Refused(str(refusal)) from refusal
    messages.success(request, f"Estimated again: {made.p50_min:.0f} minutes in the middle.")
    return redirect("job", row.reference)
