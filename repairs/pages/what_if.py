"""What if a value were another: a form that answers, and keeps nothing."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from repairs.asking import panel
from repairs.services.what_if import Facts, facts_of
from turnouts.access import Action
from turnouts.models import Defect
from turnouts.pages.asking import Asked, found, page


@page(Action.SEE)
def what_if_page(request: Asked, reference: str) -> HttpResponse:
    """The answer at the value asked for: a whole page, or for htmx the part that changed."""
    row = found(request, Defect.objects.with_place(), reference=reference)
    facts = facts_of(row, timezone.localdate())
    context: dict[str, Any] = {"defect": row, "ask": None}
    if facts.values:
        context["ask"] = panel(facts, request.GET, request.user.units, first_value(facts))
    htmx = request.htmx  # type: ignore[attr-defined]
    if not htmx or htmx.history_restore_request:
        return render(request, "repairs/what_if.html", context)
    if htmx.trigger_name == "of":
        return render(request, "repairs/_what_if.html", context)
    context["moved"] = htmx.trigger_name
    return render(request, "repairs/_what_if_changed.html", context)


def first_value(facts: Facts) -> str:
    """What is asked about first: a value that decides now, else the defect's own size."""
    decided = facts.judged(facts.case)
    names = {one.name for one in facts.values}
    for finding in decided.findings:
        if finding.applies_to_traffic and finding.quantity and finding.quantity.value in names:
            return finding.quantity.value
    return next((n for n in ("defect_depth", "defect_length") if n in names), facts.values[0].name)
