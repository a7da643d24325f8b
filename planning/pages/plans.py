"""Pages of one plan: what its trucks load, and how it differs from another plan of the week."""

from datetime import date

from django.http import Http404, HttpResponse
from django.shortcuts import render

from planning.comparing import compare
from planning.models import WeekPlan
from planning.paper.answers import paper_answer
from planning.reading import plans_of
from planning.services.calendar import Week
from planning.services.load_outs import load_out_kept
from turnouts.access import Action, visible
from turnouts.models import Territory
from turnouts.pages.asking import Asked, found, page


@page(Action.SEE_SHEETS)
def load_out(request: Asked, pk: int) -> HttpResponse:
    """What each truck loads, day by day: of a draft as it would be, else as it was published."""
    rows = WeekPlan.objects.select_related("territory")
    plan = found(request, rows, Action.SEE_SHEETS, pk=pk)
    trucks = load_out_kept(plan)
    return render(request, "planning/load_out.html", {"plan": plan, "trucks": trucks})


@page(Action.SEE_SHEETS)
def load_out_on_paper(request: Asked, pk: int) -> HttpResponse:
    """The same as PDF, one page a truck and day; of one of them where the address says which."""
    rows = WeekPlan.objects.select_related("territory")
    plan = found(request, rows, Action.SEE_SHEETS, pk=pk)
    return paper_answer(
        plan, request.user, request.GET.get("truck", ""), request.GET.get("day", "")
    )


@page(Action.SEE_SHEETS)
def compare_plans(request: Asked, territory: str, monday: date) -> HttpResponse:
    """Two plans of one week; without a word, the newest beside what it was made from."""
    places = visible(request.user, Territory.objects.filter(code=territory), Action.SEE_SHEETS)
    place = places.first()
    plans = plans_of(place, Week(monday)) if place else []
    if place is None or not plans:
        raise Http404
    new = _numbered(plans, request.GET.get("new")) or plans[0]
    old = _numbered(plans, request.GET.get("old")) or _before(plans, new)
    context = {
        "territory": place,
        "week": Week(monday),
        "plans": plans,
        "old": old,
        "new": new,
        "found": compare(old, new),
    }
    return render(request, "planning/compare.html", context)


def _numbered(plans: list[WeekPlan], number: str | None) -> WeekPlan | None:
    """The plan of this number; None when none is asked for, 404 when there is none."""
    if not number:
        return None
    chosen = next((plan for plan in plans if str(plan.number) == number), None)
    if chosen is None:
        raise Http404
    return chosen


def _before(plans: list[WeekPlan], new: WeekPlan) -> WeekPlan:
    """What a plan was made from; else the published one, else the one before it."""
    made_from = next((plan for plan in plans if plan.pk == new.based_on_id), None)
    published = next((p for p in plans if p.state == "published" and p != new), None)
    earlier = next((plan for plan in plans if plan.number < new.number), None)
    return made_from or published or earlier or new
