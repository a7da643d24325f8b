"""How the forecasts did: how often the 50, 80 and 95 % times of finished jobs held."""

import csv
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from repairs.models import LanceCooling
from repairs.services.cooling import newest_cooling_fit, request_cooling_fit
from repairs.services.lance import (
    LETTERS,
    approve_lance,
    lance_fits,
    pooled_lance,
    propose_lance,
    reject_lance,
    waiting_lance,
)
from repairs.services.lance_in_force import lance_in_force
from repairs.services.lance_preview import newest_lance_preview, request_lance_preview
from repairs.services.learning import outcomes, taught_seen
from repairs.welding.calibration import ENOUGH, calibration
from repairs.welding.rows_toml import table_of
from turnouts.access import Action, territory_ids
from turnouts.models import LongRun
from turnouts.pages.asking import Asked, found, page
from turnouts.services.runs import with_progress

SHOWN = 10
"""Answers shown of coolings proposed before, the newest."""
COLUMNS = ("sheet", "p50_min", "p80_min", "p95_min", "actual_min")


@page(Action.ESTIMATE)
def forecasts(request: Asked) -> HttpResponse:
    """Forecast against actual over signed records, and what they moved."""
    done = outcomes(request.user)
    cooling = newest_cooling_fit(request.user)
    context = {
        "outcomes": sorted(done, key=lambda one: one.reference),
        "record": calibration(done),
        "enough": ENOUGH,
        "learnt": taught_seen(),
        "cooling": with_progress(cooling) if cooling else None,
        "key": uuid4(),
        "row": table_of("heating", "cooling")["air_quench"],
        **_lance(request, cooling),
    }
    return render(request, "repairs/forecasts.html", context)


def _lance(request: Asked, cooling: LongRun | None) -> dict[str, Any]:
    """What estimates reckon with under the air lance, and what a fit would make of it."""
    fits, waiting = lance_fits(cooling), waiting_lance()
    together = pooled_lance(fits) if fits else ""
    whole = territory_ids(request.user, Action.EDIT_PROCEDURES) is None
    preview = newest_lance_preview(waiting) if waiting and whole else None
    return {
        "lance": lance_in_force(),
        "waiting": waiting,
        "pooled": None if isinstance(together, str) else together,
        "why_not_pooled": together if isinstance(together, str) else "",
        "answered": LanceCooling.objects.exclude(state="proposed").select_related(
            "proposed_by", "answered_by"
        )[:SHOWN],
        "may_propose": whole and waiting is None,
        "may_answer": whole and waiting is not None and waiting.proposed_by_id != request.user.pk,
        "may_preview": whole and waiting is not None,
        "preview": with_progress(preview) if preview else None,
        "letters": LETTERS,
    }


@require_POST
@page(Action.EDIT_PROCEDURES)
def propose_cooling(request: Asked) -> HttpResponse:
    """Propose what one's own fit gives; a second engineer answers."""
    run = newest_cooling_fit(request.user)
    reason = request.POST.get("reason", "")
    propose_lance(by=request.user, run=run, reason=reason, at=timezone.now())
    messages.success(request, "Proposed. It changes nothing until a second engineer approves it.")
    return redirect("forecasts")


@require_POST
@page(Action.EDIT_PROCEDURES)
def preview_cooling(request: Asked, pk: int) -> HttpResponse:
    """Queue the look at what a proposal would change; a second click finds the first's run."""
    row = found(request, LanceCooling.objects.all(), Action.EDIT_PROCEDURES, pk=pk)
    key = f"lance preview {request.user.pk} {request.POST.get('key', '')}"[:80]
    today = timezone.localdate()
    request_lance_preview(by=request.user, lance=row, on=today, request_key=key)
    return redirect("forecasts")


@require_POST
@page(Action.EDIT_PROCEDURES)
def answer_cooling(request: Asked, pk: int) -> HttpResponse:
    """Approve or reject, as the second engineer."""
    row = found(request, LanceCooling.objects.all(), Action.EDIT_PROCEDURES, pk=pk)
    note, at = request.POST.get("note", ""), timezone.now()
    if request.POST.get("answer") == "approve":
        approve_lance(by=request.user, lance=row, on=timezone.localdate(), at=at, note=note)
        messages.success(request, "Approved. Jobs not yet issued are estimated anew.")
    else:
        reject_lance(by=request.user, lance=row, note=note, at=at)
        messages.success(request, "Rejected.")
    return redirect("forecasts")


@require_POST
@page(Action.ESTIMATE)
def fit_cooling(request: Asked) -> HttpResponse:
    """Queue the fitting of cooling coefficients; a second click finds the run of the first."""
    key = f"cooling {request.user.pk} {request.POST.get('key', '')}"[:80]
    request_cooling_fit(by=request.user, request_key=key)
    return redirect("forecasts")


@page(Action.ESTIMATE)
def forecasts_csv(request: Asked) -> HttpResponse:
    """The same as a table for a spreadsheet."""
    answer = HttpResponse(content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="how-the-forecasts-did.csv"'
    writer = csv.writer(answer)
    writer.writerow(COLUMNS)
    for one in outcomes(request.user):
        times = (one.p50_min, one.p80_min, one.p95_min, one.actual_min)
        writer.writerow([one.reference, *(f"{minutes:.1f}" for minutes in times)])
    return answer
