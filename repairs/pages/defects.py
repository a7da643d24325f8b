"""One defect as the supervisor and the inspector see it: traffic now, disposition, due."""

from typing import Any

from django import forms
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from repairs.asking import panel
from repairs.cost_drawing import life_drawing, speed_drawing
from repairs.models import RepairJob
from repairs.pages.overrules import overruling_of
from repairs.pages.what_if import first_value
from repairs.services.costs import as_held, life_costs, slow_order_cost
from repairs.services.standing import Standing
from repairs.services.triage import confirm_decision, triage_defect
from repairs.services.what_if import changes_of, facts_of
from repairs.showing import evidence_of, with_speeds
from turnouts.access import Action, may
from turnouts.models import Defect
from turnouts.pages.asking import Asked, found, page


@page(Action.SEE)
def defect(request: Asked, reference: str) -> HttpResponse:
    """One defect: what traffic may do, what becomes of it, by when; one click: why."""
    row = found(request, _record(), reference=reference)
    decisions = list(
        with_speeds(row.decisions.all(), whole=True).select_related("confirmation__by")
    )
    now = next((d for d in decisions if d.current), None)
    territory = row.turnout.territory
    context = {
        "defect": row,
        "now": now,
        "evidence": evidence_of(now) if now else None,
        "confirmation": getattr(now, "confirmation", None),
        "earlier": [d for d in decisions if not d.current],
        "steps": row.steps.select_related("by"),
        "photographs": row.photographs.select_related("added_by"),
        "jobs": RepairJob.objects.filter(treats__defect=row),
        "today": timezone.localdate(),
        "may_judge": row.is_open and may(request.user, Action.TRIAGE, territory),
        "may_confirm": may(request.user, Action.CONFIRM, territory),
        **overruling_of(request, row, now),
        "confirm_form": ConfirmForm(initial={"decision": now.pk if now else None}),
    }
    return render(
        request, "repairs/defect.html", context | _reckoned(request, row, context["holds"])
    )


def _reckoned(request: Asked, row: Defect, holds: Standing | None) -> dict[str, Any]:
    """What the facts of today make of it: what would change the answer, and what it costs.

    Costs are those of what holds: of an engineer's word where it goes before the rules.
    """
    today = timezone.localdate()
    facts = facts_of(row, today)
    decided = facts.judged(facts.case)
    held = as_held(decided, holds)
    slow, life = slow_order_cost(row, held, today), life_costs(facts, held, today)
    ask = None
    if facts.values:
        ask = panel(facts, {}, request.user.units, first_value(facts))
    return {
        "reckoned": decided,
        "held": held,
        "changes": changes_of(facts),
        "ask": ask,
        "slow": slow,
        "run": speed_drawing(slow.profile) if slow.profile else None,
        "life": life,
        "lives": life_drawing(life),
    }


def _record() -> QuerySet[Defect]:
    return Defect.objects.with_place().select_related("inspection__inspector")


class ConfirmForm(forms.Form):
    decision = forms.IntegerField(widget=forms.HiddenInput)
    note = forms.CharField(label="Note, if any", max_length=300, required=False)


@require_POST
@page(Action.TRIAGE)
def judge(request: Asked, reference: str) -> HttpResponse:
    """Judge this defect now, by the rules and readings of today."""
    row = found(request, _record(), Action.TRIAGE, reference=reference)
    before = row.decisions.filter(current=True).values_list("pk", flat=True).first()
    decision = triage_defect(
        by=request.user, defect=row, on=timezone.localdate(), at=timezone.now()
    )
    said = "Judged again: the answer is the same." if decision.pk == before else "Judged."
    messages.success(request, said)
    return redirect("defect", row.reference)


@require_POST
@page(Action.CONFIRM)
def confirm(request: Asked, reference: str) -> HttpResponse:
    """Put the reader's name to the decision they have before them, and to no other."""
    row = found(request, _record(), Action.CONFIRM, reference=reference)
    form = ConfirmForm(request.POST)
    if not form.is_valid():
        messages.error(request, "The note is too long: 300 letters at most. Nothing was kept.")
        return redirect("defect", row.reference)
    decision = get_object_or_404(row.decisions, pk=form.cleaned_data["decision"])
    confirm_decision(
        by=request.user, decision=decision, at=timezone.now(), note=form.cleaned_data["note"]
    )
    messages.success(request, "Confirmed under your name.")
    return redirect("defect", row.reference)
