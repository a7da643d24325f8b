"""Job sheets: the list, the page for the phone, the paper."""

from datetime import timedelta
from typing import Any

from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from repairs.drawings import cavity_drawing
from repairs.models import JobSheet
from repairs.paper.sheet import paper_for
from turnouts.access import Action, may, roles_of, visible
from turnouts.analysis.terms import Role
from turnouts.pages.asking import Asked, asked_choice, found, one_page, page

BEHIND = timedelta(days=1)
"""How long after its hand back a sheet stays among those of today: a night's work ends tomorrow."""


def _rows() -> QuerySet[JobSheet]:
    return JobSheet.objects.select_related(
        "job__turnout__track__line__territory", "job__component"
    ).defer("content")


@page(Action.SEE_SHEETS)
def sheets(request: Asked) -> HttpResponse:
    """The reader's own sheets, or all they may see; the next to begin first."""
    usual = "mine" if _only_a_welder(request) else "all"
    whose = asked_choice(request, "whose", ["mine", "all"], usual)
    rows = visible(request.user, _rows(), Action.SEE_SHEETS)
    if whose == "mine":
        rows = rows.filter(people=request.user)
    when = asked_choice(request, "when", ["earlier"])
    since = timezone.now() - BEHIND
    if when == "earlier":
        rows = rows.filter(hand_back_at__lt=since).order_by("-starts_at", "number")
    else:
        rows = rows.filter(hand_back_at__gte=since, withdrawn_at__isnull=True)
    context: dict[str, Any] = {"page": one_page(request, rows), "whose": whose, "when": when}
    context["may_watch"] = may(request.user, Action.LET_START)
    return render(request, "repairs/sheets.html", context | {"today": timezone.localdate()})


def _only_a_welder(request: Asked) -> bool:
    return roles_of(request.user) == {Role.WELDER}


def _sheet(request: Asked, number: str) -> JobSheet:
    rows = JobSheet.objects.select_related("job", "issued_by")
    return found(request, rows, Action.SEE_SHEETS, number=number)


@page(Action.SEE_SHEETS)
def sheet(request: Asked, number: str) -> HttpResponse:
    """The sheet for the phone; everything on it was settled when it was issued."""
    row = _sheet(request, number)
    drawings = [cavity_drawing(zone) for zone in row.content["zones"]]
    pairs = list(zip(row.content["defects"], drawings, strict=True))
    context = {"sheet": row, "content": row.content, "pairs": pairs}
    return render(request, "repairs/sheet.html", context)


@page(Action.SEE_SHEETS)
def paper(request: Asked, number: str) -> HttpResponse:
    """The same sheet on paper."""
    row = _sheet(request, number)
    address = request.build_absolute_uri(reverse("job-sheet", args=[row.number]))
    answer = HttpResponse(
        paper_for(row, address, request.user.units), content_type="application/pdf"
    )
    answer["Content-Disposition"] = f'inline; filename="{row.number}.pdf"'
    answer["Cache-Control"] = "private, no-cache"
    return answer
