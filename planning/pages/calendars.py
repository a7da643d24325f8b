"""The crews' calendars: the secret address each crew's phones read, and the feed behind it."""

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from planning.models import Crew, CrewCalendar
from planning.reading import crews_of
from planning.services.crew_calendars import feed, renew_calendar
from turnouts.access import Action, may
from turnouts.pages.asking import Asked, found, page


@page(Action.SEE_SHEETS)
def crew_calendars(request: Asked) -> HttpResponse:
    """The addresses a person may give to a phone, with a way to renew one that got about."""
    crews = [
        (crew, _address(request, crew), may(request.user, Action.PUBLISH, crew.depot.territory))
        for crew in crews_of(request.user)
    ]
    context = {"crews": crews, "may_plan": may(request.user, Action.PLAN)}
    return render(request, "planning/calendars.html", context)


def _address(request: HttpRequest, crew: Crew) -> str | None:
    calendar = getattr(crew, "calendar", None)
    return request.build_absolute_uri(f"/calendars/{calendar.key}.ics") if calendar else None


@require_POST
@page(Action.PUBLISH)
def renew(request: Asked, code: str) -> HttpResponse:
    """A new address; who read the old one must be given it."""
    rows = Crew.objects.select_related("depot__territory")
    crew = found(request, rows, Action.PUBLISH, code=code)
    renew_calendar(by=request.user, crew=crew, at=timezone.now())
    return redirect("crew-calendars")


@require_safe
@login_not_required
def crew_feed(request: HttpRequest, key: str) -> HttpResponse:
    """The calendar itself. A phone cannot log in; whoever knows the address may read it."""
    rows = CrewCalendar.objects.select_related("crew")
    calendar = get_object_or_404(rows, key=key)
    answer = HttpResponse(
        feed(calendar, at=timezone.now()), content_type="text/calendar; charset=utf-8"
    )
    answer["Cache-Control"] = "private, no-store"
    answer["X-Robots-Tag"] = "noindex"
    return answer
