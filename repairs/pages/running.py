"""The supervisor's jobs under way now, with the chance of each to be handed back in time."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from repairs.services.closing_changes import waiting_closings
from repairs.services.field_running import running_for
from turnouts.access import Action
from turnouts.pages.asking import Asked, page


@page(Action.LET_START)
def running_jobs(request: Asked) -> HttpResponse:
    """Those in danger first; the page asks again every minute while it is open."""
    at = timezone.now()
    found = running_for(request.user, at)
    context = {"found": found, "at": at, "closings": waiting_closings(request.user)}
    return render(request, "repairs/running.html", context)
