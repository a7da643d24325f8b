"""Moving a job by hand: the places it could go to, and what becomes of the choice.

Every step is a link, a choice in a list or a button, so that it goes by mouse, by touch and by
keyboard alike; the pictures only offer the same places once more.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any

from django.contrib import messages
from django.db.models import Q, QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from planning.models import Crew, JobOrder, WeekPlan, WorkWindow
from planning.pages.picture import week_picture
from planning.reading import read_plan
from planning.services.calendar import Week
from planning.services.hand_edits import Wanted, lock_by_hand, place_by_hand, take_out_by_hand
from planning.services.holding import STARTED, WAITING
from planning.services.job_orders import drop_order, put_in_order
from planning.services.places import Offer, Places, places_for
from planning.services.week import windows_in
from repairs.models import RepairJob
from turnouts.access import Action
from turnouts.pages.asking import Asked, found, page
from turnouts.services.errors import Conflict, Refused


@dataclass(frozen=True)
class PlaceRow:
    """One offer in the list, with what the form sends back for it."""

    number: int
    offer: Offer
    crew: str
    window: WorkWindow

    @property
    def value(self) -> str:
        return f"{self.offer.crew} {self.offer.window} {self.offer.starts_at.isoformat()}"


@page(Action.PLAN)
def move(request: Asked, pk: int, reference: str) -> HttpResponse:
    """The places for a job: a piece of the week page for htmx, else a page of its own."""
    plan, job = _asked_for(request, pk, reference)
    template = "planning/_mover.html" if request.htmx else "planning/move.html"  # type: ignore[attr-defined]
    return render(request, template, _shown(plan, job, request.GET.get("to", "")))


def _asked_for(request: Asked, pk: int, reference: str) -> tuple[WeekPlan, RepairJob]:
    plan = found(request, WeekPlan.objects.select_related("territory"), Action.PLAN, pk=pk)
    inside = RepairJob.objects.with_place().filter(
        turnout__track__line__territory=plan.territory_id
    )
    return plan, get_object_or_404(inside, reference=reference)


def _shown(plan: WeekPlan, job: RepairJob, to: str, fault: str = "") -> dict[str, Any]:
    placed = plan.placed.select_related("crew", "window").filter(job=job).first()
    held = placed is not None and placed.locked
    places = Places((), ()) if held else _places(plan, job)
    chosen = int(to) if to.isdigit() and int(to) < len(places.offers) else None
    return {
        "plan": plan,
        "job": job,
        "placed": placed,
        "left": plan.left_out.filter(job=job).first(),
        "may_unlock": job.state not in STARTED,
        "closed": places.closed,
        "orders": _orders(job),
        "others": _others(job),
        "chosen": chosen,
        "fault": fault,
    } | _drawn(plan, places, chosen)


def _orders(job: RepairJob) -> list[JobOrder]:
    return list(_orders_of(job).select_related("first__turnout", "then__turnout", "by"))


def _others(job: RepairJob) -> list[RepairJob]:
    """Jobs that this one may be said to come after."""
    waiting = RepairJob.objects.filter(
        turnout__track__line__territory=job.turnout.territory, state__in=WAITING
    )
    rows = waiting.exclude(pk=job.pk).exclude(comes_before__then=job)
    return list(rows.select_related("turnout", "component").order_by("turnout__code", "reference"))


def _places(plan: WeekPlan, job: RepairJob) -> Places:
    if plan.state == "superseded" or job.state not in ("estimated", "issued"):
        return Places((), ())
    try:
        return places_for(plan, job.reference, timezone.now())
    except KeyError:  # it waits for track time, but has its place in another week
        return Places((), ())


def _drawn(plan: WeekPlan, places: Places, chosen: int | None) -> dict[str, Any]:
    """The list of the offers, and the days that have one with the offers in them."""
    windows = windows_in(plan.territory, Week(plan.week))
    named = {window.reference: window for window in windows}
    crews = dict(Crew.objects.values_list("code", "name"))
    rows = [
        PlaceRow(number, offer, crews[offer.crew], named[offer.window])
        for number, offer in enumerate(places.offers)
    ]
    read = read_plan(plan)
    threads = {crew: n for n, crew in enumerate(sorted({p.crew_id for p in read.placed}))}
    shown = week_picture(
        windows, read.placed, plan.detail["window_chance"], threads, places.offers, chosen
    )
    return {"rows": rows, "days": shown if rows else []}


@require_POST
@page(Action.PLAN)
def place(request: Asked, pk: int, reference: str) -> HttpResponse:
    """Move the job to the place chosen, or put it in there."""
    wanted = _wanted(request.POST.get("place", ""), request.POST.get("start", "").strip())

    def change(plan: WeekPlan, version: int) -> WeekPlan:
        return place_by_hand(
            by=request.user,
            plan=plan,
            expected_version=version,
            job=reference,
            wanted=wanted,
            at=timezone.now(),
        )

    return _changed(request, pk, reference, change)


@require_POST
@page(Action.PLAN)
def take_out(request: Asked, pk: int, reference: str) -> HttpResponse:
    """Take the job out of the plan."""

    def change(plan: WeekPlan, version: int) -> WeekPlan:
        return take_out_by_hand(
            by=request.user, plan=plan, expected_version=version, job=reference, at=timezone.now()
        )

    return _changed(request, pk, reference, change)


@require_POST
@page(Action.PLAN)
def lock(request: Asked, pk: int, reference: str) -> HttpResponse:
    """Lock the job where it is, or free it."""
    locked = request.POST.get("locked") == "1"

    def change(plan: WeekPlan, version: int) -> WeekPlan:
        return lock_by_hand(
            by=request.user,
            plan=plan,
            expected_version=version,
            job=reference,
            locked=locked,
            at=timezone.now(),
        )

    return _changed(request, pk, reference, change)


@require_POST
@page(Action.PLAN)
def order(request: Asked, pk: int, reference: str) -> HttpResponse:
    """Say that the job comes after another one, or take that back."""
    plan, job = _asked_for(request, pk, reference)
    try:
        if "drop" in request.POST:
            dropped = request.POST["drop"]
            row = get_object_or_404(_orders_of(job), pk=dropped if dropped.isdecimal() else None)
            drop_order(by=request.user, order=row)
            messages.success(request, f"{row.then} need not come after {row.first} any more.")
        else:
            row = put_in_order(
                by=request.user,
                first=_chosen_first(request, plan),
                then=job,
                reason=request.POST.get("reason", ""),
                at=timezone.now(),
            )
            messages.success(request, f"{row.then} comes after {row.first} from now on.")
    except Refused as refusal:
        status = 409 if isinstance(refusal, Conflict) else 400
        context = _shown(plan, job, "", fault=str(refusal))
        return render(request, "planning/move.html", context, status=status)
    return redirect("move-job", plan.pk, job.reference)


def _orders_of(job: RepairJob) -> QuerySet[JobOrder]:
    return JobOrder.objects.filter(Q(then=job) | Q(first=job))


def _chosen_first(request: Asked, plan: WeekPlan) -> RepairJob:
    inside = RepairJob.objects.with_place().filter(
        turnout__track__line__territory=plan.territory_id
    )
    found = inside.filter(reference=request.POST.get("first", "")).first()
    if found is None:
        raise Refused("Choose the job that comes first, then confirm.")
    return found


def _changed(
    request: Asked, pk: int, reference: str, change: Callable[[WeekPlan, int], WeekPlan]
) -> HttpResponse:
    """To the plan that came of it; a refusal is shown beside the places that are there."""
    plan, job = _asked_for(request, pk, reference)
    version = request.POST.get("version", "")
    if not version.isdigit():
        raise Refused("The form had no version; open the week page again and try once more.")
    try:
        made = change(plan, int(version))
    except Refused as refusal:
        status = 409 if isinstance(refusal, Conflict) else 400
        plan.refresh_from_db()
        context = _shown(plan, job, "", fault=str(refusal))
        return render(request, "planning/move.html", context, status=status)
    if made.change:
        messages.success(request, made.change)
    address = reverse("week", args=[plan.territory.code, plan.week])
    return redirect(f"{address}?plan={made.number}")


def _wanted(chosen: str, start: str) -> Wanted:
    """The place the form sent back, at its own start or at the one typed."""
    parts = chosen.split(" ")
    try:
        crew, window, at = parts[0], parts[1], datetime.fromisoformat(parts[2])
    except (IndexError, ValueError):
        raise Refused("Choose one of the places, then confirm.") from None
    return Wanted(crew, window, _typed(window, start) if start else at)


def _typed(reference: str, start: str) -> datetime:
    """The time of day typed, on the day the window begins or, past midnight, on the next."""
    try:
        clock = time.fromisoformat(start if len(start) == 5 else f"0{start}")
    except ValueError:
        raise Refused(f"{start} is no time of day; type it as 23:30.") from None
    window = WorkWindow.objects.filter(reference=reference).first()
    if window is None:
        raise Refused(f"There is no work window {reference}.")
    day = timezone.localdate(window.starts_at)
    at = timezone.make_aware(datetime.combine(day, clock))
    after = timezone.make_aware(datetime.combine(day + timedelta(days=1), clock))
    return after if at < window.starts_at and after < window.ends_at else at
