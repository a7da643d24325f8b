"""What if: the question as a sentence, the answer as a comparison with the plan that stands."""

from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from planning.models import WeekPlan
from planning.reading import week_choices
from planning.services.stopping import WHAT_IF, stop_planning
from planning.services.what_if import draft_what_if, request_what_if
from turnouts.access import Action
from turnouts.models import LongRun
from turnouts.pages.asking import Asked, found, page
from turnouts.services.errors import Conflict, Refused
from turnouts.services.runs import with_progress

FIELDS = (
    "kind", "window", "track", "from_milepost", "to_milepost", "begins", "ends", "gangs",
    "crew", "truck", "hours", "procedure", "person",
)  # fmt: skip
ASKED_BEFORE = 8


@page(Action.PLAN)
def ask_what_if(request: Asked, pk: int) -> HttpResponse:
    """The questions there are; a question that cannot be asked comes back with its reason."""
    rows = WeekPlan.objects.select_related("territory")
    plan = found(request, rows, Action.PLAN, pk=pk)
    if request.method != "POST":
        return _form(request, plan, {}, "", 200)
    given = _given(request)
    try:
        run, _ = request_what_if(
            by=request.user,
            plan=plan,
            question=given,
            request_key=request.POST.get("request_key", "")[:80] or f"what-if-{uuid4()}",
            at=timezone.now(),
        )
    except Refused as refusal:
        status = 409 if isinstance(refusal, Conflict) else 400
        return _form(request, plan, given, str(refusal), status)
    return redirect("week-what-if", pk=run.pk)


def _given(request: Asked) -> dict[str, Any]:
    """The form's fields by the names that services know; minutes earlier are negative."""
    given: dict[str, Any] = {n: request.POST[n] for n in FIELDS if request.POST.get(n)}
    given["days"] = request.POST.getlist("days")
    for name in ("begin", "end"):
        minutes = request.POST.get(f"{name}_min", "").strip()
        if minutes:
            earlier = request.POST.get(f"{name}_way") == "earlier"
            given[f"{name}_by"] = f"-{minutes}" if earlier else minutes
    return given


def _form(
    request: Asked, plan: WeekPlan, given: dict[str, Any], fault: str, status: int
) -> HttpResponse:
    before = LongRun.objects.filter(kind=WHAT_IF, asked__plan=plan.pk, state="done")
    context = {
        "plan": plan,
        "given": given,
        "fault": fault,
        "request_key": f"what-if-{uuid4()}",
        "before": before.order_by("-requested_at")[:ASKED_BEFORE],
    } | week_choices(plan)
    return render(request, "planning/what_if.html", context, status=status)


@page(Action.PLAN)
def what_if(request: Asked, pk: int) -> HttpResponse:
    """The answer, or how far it is."""
    run, plan = _answered(request, pk)
    context = {
        "run": with_progress(run),
        "plan": plan,
        "result": run.result if run.state == "done" else None,
    }
    if run.state == "done":
        context["more"] = run.result["then"]["value"] - run.result["present"]["value"]
        context["effect"] = run.result["then"]["value"] - run.result["alone"]
        context["alone"] = run.result["alone"] - run.result["present"]["value"]
        draft = WeekPlan.objects.filter(pk=run.result.get("draft"))
        context["draft"] = draft.first()
    return render(request, "planning/what_if_answer.html", context)


def _answered(request: Asked, pk: int) -> tuple[LongRun, WeekPlan]:
    run = get_object_or_404(LongRun.objects.select_related("requested_by"), pk=pk, kind=WHAT_IF)
    rows = WeekPlan.objects.select_related("territory")
    try:
        return run, found(request, rows, Action.PLAN, pk=run.asked["plan"])
    except WeekPlan.DoesNotExist:
        raise Http404 from None


@require_POST
@page(Action.PLAN)
def stop(request: Asked, pk: int) -> HttpResponse:
    """End the working out of an answer with the best plans it has so far."""
    run, _ = _answered(request, pk)
    stop_planning(by=request.user, run=run, at=timezone.now())
    return redirect("week-what-if", pk=run.pk)


@require_POST
@page(Action.PLAN)
def draft(request: Asked, pk: int) -> HttpResponse:
    """Make the answer a draft, and show it."""
    run, _ = _answered(request, pk)
    made = draft_what_if(by=request.user, run=run, at=timezone.now())
    messages.success(request, f"Plan {made.number} is a draft now. {made.change}")
    address = reverse("week", args=[made.territory.code, made.week])
    return redirect(f"{address}?plan={made.number}")
