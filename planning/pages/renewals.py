"""Which certificates of the crews run out soon, and what each member holds."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from planning.services.renewals import AHEAD, crew_certificates, renewals_due
from turnouts.access import Action
from turnouts.pages.asking import Asked, page


@page(Action.PLAN)
def renewals(request: Asked) -> HttpResponse:
    """For the supervisor, the earliest first; what has run out stands on top."""
    today = timezone.localdate()
    context = {
        "due": renewals_due(request.user, today),
        "ahead": AHEAD.days,
        "held": crew_certificates(request.user, today),
    }
    return render(request, "planning/renewals.html", context)
