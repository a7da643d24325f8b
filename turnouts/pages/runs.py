"""The progress of a long run, asked for again and again by the page that shows it."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render

from turnouts.access import Action
from turnouts.models import LongRun
from turnouts.pages.asking import Asked, page
from turnouts.services.runs import with_progress


@page(Action.SEE)
def run(request: Asked, pk: int) -> HttpResponse:
    """The progress as a piece of page; when the run has ended, the page is told to load anew."""
    row = with_progress(get_object_or_404(LongRun, pk=pk, requested_by=request.user))
    answer = render(request, "turnouts/_run.html", {"run": row})
    if row.finished:
        answer["HX-Refresh"] = "true"
    return answer
