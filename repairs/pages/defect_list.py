"""The list of defects: what holds of each, as a page and as a table for a spreadsheet."""

import csv
from collections.abc import Iterator
from typing import Any
from uuid import uuid4

from django import forms
from django.contrib import messages
from django.db.models import F, FilteredRelation, Prefetch, Q, QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from repairs.models import Decision
from repairs.pages.overrules import with_standing
from repairs.services.held import with_held
from repairs.services.queue import request_jobs, request_triage
from repairs.showing import with_speeds
from turnouts.access import Action, may, visible
from turnouts.analysis.terms import DefectState, Disposition
from turnouts.models import Defect, Line, LongRun, Territory
from turnouts.pages.asking import Asked, asked_choice, asked_code, one_page, page
from turnouts.services.runs import with_progress
from turnouts.services.sheets.texts import guarded

PLACES = {
    "territory": "turnout__track__line__territory__code",
    "line": "turnout__track__line__code",
}
HELD = {"disposition": "held_disposition", "traffic": "held_traffic"}
CHOICES: dict[str, list[str]] = {
    "disposition": [one.value for one in Disposition],
    "traffic": list(dict(Decision.TRAFFIC)),
    "state": ["all", *(one.value for one in DefectState)],
}


@page(Action.SEE)
def defects(request: Asked) -> HttpResponse:
    """Every defect the reader may see, the most urgent first."""
    asked = _asked(request)
    shown = one_page(request, _wanted(request, asked))
    with_standing(shown)
    context = {
        "page": shown,
        "asked": asked,
        "territories": visible(request.user, Territory.objects.all()),
        "lines": visible(request.user, Line.objects.all()),
        "dispositions": list(Disposition),
        "traffic": Decision.TRAFFIC,
        "states": list(DefectState),
        "today": timezone.localdate(),
        "may_judge": may(request.user, Action.TRIAGE),
        "may_estimate": may(request.user, Action.ESTIMATE),
        "key": uuid4().hex,
        "run": _run(request),
    }
    return render(request, "repairs/defects.html", context)


def _asked(request: Asked) -> dict[str, str]:
    """Each filter by its name; empty where it lets all through."""
    places = {
        "territory": asked_code(request, "territory", Territory.objects.all()),
        "line": asked_code(request, "line", Line.objects.all()),
    }
    return places | {name: asked_choice(request, name, known) for name, known in CHOICES.items()}


def _wanted(request: Asked, asked: dict[str, str]) -> QuerySet[Defect]:
    """Not yet judged first, then by the date that holds; with the present decision read along."""
    places = {field: asked[name] for name, field in PLACES.items() if asked[name]}
    rows = visible(request.user, Defect.objects.with_place()).filter(**places)
    if asked["state"] != "all":
        wanted = asked["state"]
        rows = rows.filter(state=wanted) if wanted else rows.still_open()  # type: ignore[attr-defined]
    present = FilteredRelation("decisions", condition=Q(decisions__current=True))
    rows = with_held(rows.annotate(present=present), decision="present__", key="defect_id")
    return (
        rows.filter(**{field: asked[name] for name, field in HELD.items() if asked[name]})
        .prefetch_related(
            Prefetch("decisions", with_speeds(Decision.objects.current()), to_attr="current")
        )
        .order_by(F("held_due_on").asc(nulls_first=True), "reported_on", "reference")
    )


@page(Action.SEE)
def defects_csv(request: Asked) -> HttpResponse:
    """The same list, filtered and sorted alike, whole."""
    answer = HttpResponse(content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="defects.csv"'
    rows = list(_wanted(request, _asked(request)))
    with_standing(rows)
    lines = [dict(_line(row)) for row in rows]
    writer = csv.DictWriter(answer, [name for name, _ in _line(None)])
    writer.writeheader()
    writer.writerows(lines)
    return answer


def _line(row: Any) -> Iterator[tuple[str, Any]]:
    """Heading and cell of each column; of no row the headings alone.

    What holds comes first; what the rules said stands beside it under names of its own.
    """
    now = row.current[0] if row and row.current else None
    holds = now.holds if now else None
    yield "defect", row and guarded(row.reference)
    yield "turnout", row and guarded(row.turnout.code)
    yield "line", row and guarded(row.turnout.track.line.code)
    yield "track", row and guarded(row.turnout.track.name)
    yield "milepost", row and row.turnout.milepost
    yield "component", row and guarded(row.component.serial)
    yield "kind", row and row.kind
    yield "zone", row and row.zone
    yield "state", row and row.state
    yield "reported_on", row and row.reported_on
    yield "traffic", holds and holds.traffic
    yield "speed [km/h]", holds and holds.speed_kmh
    yield "disposition", holds and holds.disposition
    yield "due_on", holds and holds.due_on
    yield "overruled", holds and ("yes" if holds.overrule else "no")
    yield "asks_again", holds and ("yes" if holds.asks_again else "no")
    yield "rules_traffic", now and now.traffic
    yield "rules_disposition", now and now.disposition
    yield "rules_due_on", now and now.due_on


def _run(request: Asked) -> LongRun | None:
    """The run of the reader's own that the address asks to show."""
    pk = request.GET.get("run", "")
    if not pk.isdecimal():
        return None
    own = LongRun.objects.filter(requested_by=request.user, kind__in=["triage", "jobs"])
    return with_progress(get_object_or_404(own, pk=pk))


class KeyForm(forms.Form):
    """A long run is asked for once, however often the button is pressed."""

    key = forms.UUIDField()


@require_POST
@page(Action.TRIAGE)
def judge_all(request: Asked) -> HttpResponse:
    """Queue the judging of every open defect."""
    return _started(request, request_triage, "triage")


@require_POST
@page(Action.ESTIMATE)
def make_jobs(request: Asked) -> HttpResponse:
    """Queue the making of repair jobs."""
    return _started(request, request_jobs, "jobs")


def _started(request: Asked, ask: Any, kind: str) -> HttpResponse:
    form = KeyForm(request.POST)
    if not form.is_valid():
        messages.error(request, "The page was out of date; press the button again.")
        return redirect("defects")
    key = f"{kind} {request.user.pk} {form.cleaned_data['key']}"
    run = ask(by=request.user, on=timezone.localdate(), request_key=key)
    return redirect(f"{reverse('defects')}?run={run.pk}")
