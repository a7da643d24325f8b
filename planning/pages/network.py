"""The network's page: every territory's week beside the others, and the planning of all of them."""

from datetime import date, timedelta
from uuid import uuid4

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from planning.models import WeekPlan
from planning.network_week import network_week
from planning.services.calendar import Week, week_of
from planning.services.network import request_network
from planning.services.stopping import NETWORK, stop_planning
from turnouts.access import Action, may, visible
from turnouts.models import LongRun
from turnouts.pages.asking import Asked, page
from turnouts.services.errors import Refused


@page(Action.SEE_SHEETS)
def this_network(request: Asked) -> HttpResponse:
    """To the newest week that has a plan, or to the present one."""
    plans = visible(request.user, WeekPlan.objects.all(), Action.SEE_SHEETS)
    newest = plans.order_by("-week").values_list("week", flat=True).first()
    monday = newest or week_of(timezone.localdate()).monday
    return redirect("network-week", monday=monday)


@page(Action.SEE_SHEETS)
def network(request: Asked, monday: date) -> HttpResponse:
    """One week of all territories the reader sees."""
    span = Week(monday)
    context = {
        "network": network_week(request.user, span),
        "week": span,
        "before": monday - timedelta(days=7),
        "after": monday + timedelta(days=7),
        "may_plan": may(request.user, Action.PLAN),
        "over": timezone.now() >= span.end,
        "begun": timezone.now() > span.start,
        "request_key": f"network-{uuid4()}",
    }
    return render(request, "planning/network.html", context)


@require_POST
@page(Action.PLAN)
def ask_for_network(request: Asked, monday: date) -> HttpResponse:
    """Queue the planning of every territory the person plans for; a second click starts nothing."""
    key = request.POST.get("request_key", "")
    if not key:
        raise Refused("The form had no request key; open the page again and try once more.")
    request_network(
        by=request.user,
        week=Week(monday),
        request_key=key[:80],
        keep=request.POST.get("keep") == "1",
    )
    return redirect("network-week", monday=monday)


@require_POST
@page(Action.PLAN)
def stop(request: Asked, pk: int) -> HttpResponse:
    """End the planning of the network: each territory keeps the best plan it has by then."""
    run = get_object_or_404(LongRun, pk=pk, kind=NETWORK)
    stop_planning(by=request.user, run=run, at=timezone.now())
    return redirect("network-week", monday=run.asked["week"])
