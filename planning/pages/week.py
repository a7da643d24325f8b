"""The week page: what is planned, what is left out and why, and how surely it is handed back."""

from datetime import date, timedelta
from typing import Any
from uuid import uuid4

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from planning.models import WeekPlan, WorkWindow
from planning.pages.picture import week_picture
from planning.reading import plans_of, read_plan
from planning.services.calendar import Week, week_of
from planning.services.plans import request_plan
from planning.services.publish import publish_plan
from planning.services.stopping import KIND, stop_planning
from planning.services.telling import crews_without_address
from planning.services.week import jobs_to_place, windows_in
from turnouts.access import Action, may, visible
from turnouts.models import LongRun, Territory
from turnouts.pages.asking import Asked, found, page
from turnouts.services.errors import Refused
from turnouts.services.runs import newest_run, with_progress


@page(Action.SEE_SHEETS)
def this_week(request: Asked) -> HttpResponse:
    """To the newest planned week of the person's first territory, or to the present week."""
    territory = visible(request.user, Territory.objects.all(), Action.SEE_SHEETS).first()
    if territory is None:
        raise Http404
    newest = WeekPlan.objects.filter(territory=territory).order_by("-week").first()
    monday = newest.week if newest else week_of(timezone.localdate()).monday
    return redirect("week", territory=territory.code, monday=monday)


@page(Action.SEE_SHEETS)
def week(request: Asked, territory: str, monday: date) -> HttpResponse:
    """One territory's week, with the plan asked for or the newest one."""
    places = list(visible(request.user, Territory.objects.all(), Action.SEE_SHEETS))
    place = next((p for p in places if p.code == territory), None)
    if place is None:
        raise Http404
    span = Week(monday)
    plans = plans_of(place, span)
    chosen = _chosen(plans, request.GET.get("plan"))
    windows = windows_in(place, span)
    context: dict[str, Any] = {
        "territory": place,
        "territories": places,
        "week": span,
        "before": span.monday - timedelta(days=7),
        "after": span.monday + timedelta(days=7),
        "plans": plans,
        "windows": windows,
        "may_plan": may(request.user, Action.PLAN, place),
        "request_key": f"plan-{uuid4()}",
        "run": _latest_run(place, span),
        "published": next((p for p in plans if p.state == "published"), None),
        "begun": timezone.now() > span.start,
    }
    context |= _planned(windows, chosen) if chosen else _unplanned(place, span)
    context["may_move"] = bool(chosen and chosen.state != "superseded" and context["may_plan"])
    return render(request, "planning/week.html", context)


def _chosen(plans: list[WeekPlan], asked: str | None) -> WeekPlan | None:
    """The plan asked for by number; else the newest draft or published one."""
    if asked is None:
        return plans[0] if plans else None
    chosen = next((p for p in plans if str(p.number) == asked), None)
    if chosen is None:
        raise Http404
    return chosen


def _planned(windows: list[WorkWindow], plan: WeekPlan) -> dict[str, Any]:
    read = read_plan(plan)
    crews = sorted({one.crew for one in read.placed}, key=lambda crew: crew.code)
    threads = {crew.pk: n for n, crew in enumerate(crews)}
    days = week_picture(windows, read.placed, plan.detail["window_chance"], threads)
    return {
        "plan": plan,
        "read": read,
        "days": days,
        "paper": read.paper(len(days)),
        "crews": [(crew, threads[crew.pk]) for crew in crews],
        "gap": plan.detail["gap"],
        "locked": sum(one.locked for one in read.placed),
    } | _told(plan)


def _told(plan: WeekPlan) -> dict[str, Any]:
    """How far the crews have been told of a published plan."""
    if plan.state != "published":
        return {}
    notices = list(plan.notices.all())
    faults = [notice.fault for notice in notices if notice.fault]
    return {
        "notices": len(notices),
        "told": sum(notice.sent_at is not None for notice in notices),
        "unsent_fault": faults[-1] if faults else "",
        "unreached": crews_without_address(plan),
    }


def _unplanned(place: Territory, span: Week) -> dict[str, Any]:
    return {"plan": None, "waiting": jobs_to_place(place, span)}


def _latest_run(place: Territory, span: Week) -> LongRun | None:
    """A planning run of this week that has not finished, or that failed last."""
    asked = {"territory": place.code, "week": span.monday.isoformat()}
    newest = newest_run(KIND, asked)
    return with_progress(newest) if newest is not None and newest.state != "done" else None


@require_POST
@page(Action.PLAN)
def ask_for_plan(request: Asked, territory: str, monday: date) -> HttpResponse:
    """Queue the planning of a week; a second click finds the run of the first."""
    place = found(request, Territory.objects.all(), Action.PLAN, code=territory)
    key = request.POST.get("request_key", "")
    if not key:
        raise Refused("The form had no request key; open the week page again and try once more.")
    base = request.POST.get("base", "")
    request_plan(
        by=request.user,
        territory=place,
        week=Week(monday),
        request_key=key[:80],
        base=found(request, WeekPlan.objects.all(), Action.PLAN, pk=int(base))
        if base.isdigit()
        else None,
        keep=request.POST.get("keep") == "1",
    )
    return redirect("week", territory=territory, monday=monday)


@require_POST
@page(Action.PLAN)
def stop(request: Asked, pk: int) -> HttpResponse:
    """End a planning run with the best plan it has so far."""
    run = get_object_or_404(LongRun, pk=pk, kind=KIND)
    place = found(request, Territory.objects.all(), Action.PLAN, code=run.asked["territory"])
    stop_planning(by=request.user, run=run, at=timezone.now())
    return redirect("week", territory=place.code, monday=run.asked["week"])


@require_POST
@page(Action.PUBLISH)
def publish(request: Asked, pk: int) -> HttpResponse:
    """Publish a draft as the person saw it."""
    plan = found(request, WeekPlan.objects.all(), Action.PUBLISH, pk=pk)
    version = request.POST.get("version", "")
    if not version.isdigit():
        raise Refused("The form had no version; open the week page again and try once more.")
    publish_plan(by=request.user, plan=plan, expected_version=int(version), at=timezone.now())
    return redirect("week", territory=plan.territory.code, monday=plan.week)
