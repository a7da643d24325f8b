"""How the forecasts did: how often the 50, 80 and 95 % times of finished jobs held."""

import csv
from uuid import uuid4

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from repairs.services.cooling import newest_cooling_fit, request_cooling_fit
from repairs.services.learning import outcomes, taught_seen
from repairs.welding.calibration import ENOUGH, calibration
from repairs.welding.rows_toml import table_of
from turnouts.access import Action
from turnouts.pages.asking import Asked, page
from turnouts.services.runs import with_progress

COLUMNS = ("sheet", "p50_min", "p80_min", "p95_min", "actual_min")


@page(Action.ESTIMATE)
def forecasts(request: Asked) -> HttpResponse:
    """Forecast against actual over signed records, and what they moved."""
    found = outcomes(request.user)
    cooling = newest_cooling_fit(request.user)
    context = {
        "outcomes": sorted(found, key=lambda one: one.reference),
        "record": calibration(found),
        "enough": ENOUGH,
        "learnt": taught_seen(),
        "cooling": with_progress(cooling) if cooling else None,
        "key": uuid4(),
        "row": table_of("heating", "cooling")["air_quench"],
    }
    return render(request, "repairs/forecasts.html", context)


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
