"""How the forecasts did: how often the 50, 80 and 95 % times of finished jobs held."""

import csv

from django.http import HttpResponse
from django.shortcuts import render

from repairs.services.learning import outcomes, taught_seen
from repairs.welding.calibration import ENOUGH, calibration
from turnouts.access import Action
from turnouts.pages.asking import Asked, page

COLUMNS = ("sheet", "p50_min", "p80_min", "p95_min", "actual_min")


@page(Action.ESTIMATE)
def forecasts(request: Asked) -> HttpResponse:
    """Forecast against actual over signed records, and what they moved."""
    found = outcomes(request.user)
    context = {
        "outcomes": sorted(found, key=lambda one: one.reference),
        "record": calibration(found),
        "enough": ENOUGH,
        "learnt": taught_seen(),
    }
    return render(request, "repairs/forecasts.html", context)


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
