"""What lies on the trucks and in the depots, and what signed records took off it."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from planning.services.stock_shown import BACK, stock_of, used_beyond
from turnouts.access import Action
from turnouts.pages.asking import Asked, one_page, page


@page(Action.PLAN)
def stock(request: Asked) -> HttpResponse:
    """For the supervisor: what to count first, then everything by place."""
    context = {
        "page": one_page(request, stock_of(request.user)),
        "beyond": used_beyond(request.user, timezone.now()),
        "back": BACK.days,
    }
    return render(request, "planning/stock.html", context)
