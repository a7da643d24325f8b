"""The week page: what is planned, what is left out and why, and how surely it is handed back."""

from datetime import date, timedelta
from typing import Any
from uuid import uuid4

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from planning.models import WeekPlan
from planning.pages.picture import week_picture
from planning.reading import plans_of, read_plan
from planning.services.calendar import Week, week_of
from planning.services.plans import request_plan
from planning.services.publish import publish_plan
from planning.services.week import jobs_to_place, windows_in
from turnouts.access import Action, may, require, visible
from turnouts.models import LongRun, Territory
from turnouts.services.errors import Refused


def this_week(request: HttpRequest) -> HttpResponse:
    """To the newest planned week of the person's first territory, or to the present week."""
    require(request.user, Action.SEE_SHEETS)
    territory = visible(request.user, Territory.objects.all(), Action.SEE_SHEETS).first()
    if territory is None:
        raise Http404
    newest = WeekPlan.objects.filter(territory=territory).order_by("-week").first()
    monday = newest.week if newest else week_of(timezone.localdate()).monday
    return redirect("week", territory=territory.code, monday=monday)


def week(request: HttpRequest, territory: str, monday: date) -> HttpResponse:
    """One territory's week, with the plan asked for or the newest one."""
    require(request.user, Action.SEE_SHEETS)
    places = list(visible(request.user, Territory.objects.all(), Action.SEE_SHEETS))
    place = next((p for p in places if p.code == territory), None)
    if place is None:
        raise Http404
    span = Week(monday)
    plans = plans_of(place, span)
    chosen = _chosen(plans, request.GET.get("plan"))
    context = {
        "territory": place,
        "territories": places,
        "week": span,
        "before": span.monday - timedelta(days=7),
        "after": span.monday + timedelta(days=7),
        "plans": plans,
        "windows": windows_in(place, span),
        "may_plan": may(request.user, Action.PLAN, place),
        "request_key": f"plan-{uuid4()}",
        "run": _latest_run(place, span),
    }
    context |= _planned(context["windows"], chosen) if chosen else _unplanned(place, span)
    return render(request, "planning/week.html", context)


def _chosen(plans: list[WeekPlan], asked: str | None) -> WeekPlan | None:
    """The plan asked for by number; else the newest draft or published one."""
    if asked is None:
        return plans[0] if plans else None
    found = next((p for p in plans if str(p.number) == asked), None)
    if found is None:
        raise Http404
    return found


def _planned(windows: list[Any], plan: WeekPlan) -> dict[str, Any]:
    read = read_plan(plan)
    crews = sorted({one.crew for one in read.placed}, key=lambda crew: crew.code)
    threads = {crew.pk: n for n, crew in enumerate(crews)}
    days = week_picture(windows, read.placed, plan.detail["window_chance"], threads)
    return {
        "plan": plan,
        "read": read,
        "days": days,
        "crews": [(crew, threads[crew.pk]) for crew in crews],
        "gap": plan.detail["gap"],
    }


def _unplanned(place: Territory, span: Week) -> dict[str, Any]:
    return {"plan": None, "waiting": jobs_to_place(place, span)}


def _latest_run(place: Territory, span: Week) -> LongRun | None:
    """A planning run of this week that has not finished, or that failed last."""
    asked = {"territory": place.code, "week": span.monday.isoformat()}
    newest = LongRun.objects.filter(kind="plan", asked=asked).order_by("-requested_at").first()
    return newest if newest is not None and newest.state != "done" else None


@require_POST
def ask_for_plan(request: HttpRequest, territory: str, monday: date) -> HttpResponse:
    """Queue the planning of a week; a second click finds the run of the first."""
    place = get_object_or_404(visible(request.user, Territory.objects.all()), code=territory)
    key = request.POST.get("request_key", "")
    if not key:
        raise Refused("The form had no request key; open the week page again and try once more.")
    request_plan(by=request.user, territory=place, week=Week(monday), request_key=key[:80])
    return redirect("week", territory=territory, monday=monday)


@require_POST
def publish(request: HttpRequest, pk: int) -> HttpResponse:
    """Publish a draft as the person saw it."""
    plan = get_object_or_404(visible(request.user, WeekPlan.objects.all()), pk=pk)
    version = request.POST.get("version", "")
    if not version.isdigit():
        raise Refused("The form had no version; open the week page again and try once more.")
    publish_plan(by=request.user, plan=plan, expected_version=int(version), at=timezone.now())
    return redirect("week", territory=plan.territory.code, monday=plan.week)
