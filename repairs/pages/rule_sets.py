"""Under which rule sets a territory stands: a proposal, what it would change, the answer."""

from typing import Any

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from repairs.models import RuleSetChange
from repairs.pages.rule_forms import AnswerForm, RuleSetsForm
from repairs.pages.rules import answering
from repairs.services import rule_set_changes as service
from repairs.services.rule_preview import request_preview
from repairs.triage.rules import rule_sets
from turnouts.access import Action
from turnouts.models import LongRun, Territory
from turnouts.pages.asking import Asked, found, page
from turnouts.services.errors import Refused


def _rows() -> QuerySet[RuleSetChange]:
    return RuleSetChange.objects.select_related("territory", "proposed_by", "answered_by")


@require_POST
@page(Action.EDIT_RULES)
def propose(request: Asked, code: str) -> HttpResponse:
    """Say under which rule sets a territory is to stand; a second engineer answers."""
    row = found(request, Territory.objects.all(), Action.EDIT_RULES, code=code)
    form = RuleSetsForm(request.POST)
    if not form.is_valid():
        raise Refused("That cannot be read. Go back, choose from the list and say why in words.")
    change = service.propose_rule_sets(
        by=request.user, territory=row, at=timezone.now(), **form.cleaned_data
    )
    return redirect("rule-set-change", change.pk)


@page(Action.SEE)
def change(request: Asked, pk: int) -> HttpResponse:
    """One change with all about it; while it waits, what it would change and the answer."""
    row = found(request, _rows(), pk=pk)
    context: dict[str, Any] = {"change": row, **answering(request, row)}
    context |= {"names": _titles(row.names), "stood": _titles(row.stood)}
    return render(request, "repairs/rule_set_change.html", context)


def _titles(names: list[str]) -> list[str]:
    """The titles of rule sets; one that is no longer shipped by its id."""
    shipped = rule_sets()
    return [shipped[name].title if name in shipped else name for name in names]


@require_POST
@page(Action.EDIT_RULES)
def preview(request: Asked, pk: int) -> HttpResponse:
    """Queue the judging of the territory's open defects by the present and the new rule sets."""
    row = found(request, _rows(), Action.EDIT_RULES, pk=pk)
    key = f"rule sets {row.pk} {request.user.pk} {request.POST.get('key', '')}"[:80]
    request_preview(by=request.user, rule=row, on=timezone.localdate(), request_key=key)
    return redirect("rule-set-change", row.pk)


@require_POST
@page(Action.EDIT_RULES)
def answer(request: Asked, pk: int) -> HttpResponse:
    """Approve or reject, as the second person."""
    row = found(request, _rows(), Action.EDIT_RULES, pk=pk)
    form = AnswerForm(request.POST)
    if not form.is_valid():
        raise Refused(f"The words are too long: {service.LETTERS} letters at most.")
    note = form.cleaned_data["note"]
    if request.POST.get("answer") != "approve":
        service.reject_rule_sets(by=request.user, change=row, note=note, at=timezone.now())
        messages.success(request, "Rejected; the proposal is kept with your words.")
        return redirect("rule-set-change", row.pk)
    run = service.approve_rule_sets(
        by=request.user,
        change=row,
        preview=LongRun.objects.filter(pk=form.cleaned_data["preview"]).first(),
        on=timezone.localdate(),
        at=timezone.now(),
        note=note,
    )
    messages.success(request, "Approved. The open defects are being judged by it.")
    return redirect(f"{reverse('defects')}?run={run.pk}")
