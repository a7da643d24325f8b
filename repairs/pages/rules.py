"""The railway's own rules: what stands, a proposal, what it would change, the answer."""

from datetime import date
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from repairs.models import OwnerRule, RuleSetChange
from repairs.pages.rule_forms import (
    AnswerForm,
    ProposalForm,
    RuleSetsForm,
    first_values,
    places_of,
)
from repairs.rule_figures import Settable, one_settable, settable
from repairs.services import owner_rules as service
from repairs.services.rule_preview import request_preview
from repairs.services.second_person import Proposed, newest_preview, require_for, why_not_preview
from repairs.services.territory_rules import Sets, rules_by_territory, set_names
from repairs.triage.rules import rule_sets
from turnouts.access import Action, Forbidden, may, visible
from turnouts.models import LongRun, Territory
from turnouts.pages.asking import Asked, form_status, page, refusals_in
from turnouts.services.errors import Refused
from turnouts.services.runs import with_progress


@page(Action.SEE)
def rules(request: Asked) -> HttpResponse:
    """What the railway set itself, what waits for an answer, and under which laws it stands."""
    rows = list(service.visible_rules(request.user))
    context = {
        "waiting": [row for row in rows if row.state == "proposed"],
        "standing": [row for row in rows if row.state == "approved"],
        "rejected": [row for row in rows if row.state == "rejected"],
        "places": _places(request),
        "may_edit": may(request.user, Action.EDIT_RULES),
        "today": timezone.localdate(),
    }
    return render(request, "repairs/rules.html", context)


def _places(request: Asked) -> list[dict[str, Any]]:
    territories = list(visible(request.user, Territory.objects.all()))
    waiting = {row.territory_id: row for row in RuleSetChange.objects.filter(state="proposed")}
    names = set_names([one.pk for one in territories])
    shipped = rule_sets()
    return [
        {
            "territory": one,
            "titles": [shipped[name].title for name in names[one.pk]],
            "waiting": waiting.get(one.pk),
            "form": RuleSetsForm(initial={"names": names[one.pk]}, auto_id=f"{one.code}-%s"),
            "may_edit": may(request.user, Action.EDIT_RULES, one),
        }
        for one in territories
    ]


@page(Action.EDIT_RULES)
def rows(request: Asked) -> HttpResponse:
    """Every figure of the rules that stand, to choose the one to change."""
    words = request.GET.get("words", "").strip().lower()
    shown = [one for one in _settable(request) if words in _searched(one)]
    context = {"rows": shown, "words": request.GET.get("words", "")}
    return render(request, "repairs/rule_rows.html", context)


def _searched(one: Settable) -> str:
    return f"{one.row.rule} {one.row.clause} {one.row.title} {one.figure.label}".lower()


def _settable(request: Asked) -> list[Settable]:
    return settable(_sets(request), timezone.localdate())


def _sets(request: Asked) -> Sets:
    """The rule sets of the person's territories, with the railway's own figures over them."""
    places = places_of(request.user, Action.EDIT_RULES).values_list("pk", flat=True)
    standing = rules_by_territory(places).values()
    found = dict.fromkeys(rules for sets in standing for rules in sets)
    return tuple(found) or tuple(rule_sets().values())


@page(Action.EDIT_RULES)
def propose(request: Asked) -> HttpResponse:
    """A new value beside the present one; a refusal says why it could not stand."""
    today = timezone.localdate()
    asked = (request.GET.get("rule", ""), request.GET.get("figure", ""))
    of = one_settable(_sets(request), today, *asked)
    if of is None:
        raise Http404("There is no such figure.")
    initial = first_values(of, request.user, today.isoformat())
    form = ProposalForm(request.POST or None, of=of, by=request.user, initial=initial)
    if form.is_valid():
        with refusals_in(form):
            row = service.propose_rule(
                by=request.user, proposal=form.proposal(), on=today, at=timezone.now()
            )
            return redirect("rule", row.pk)
    status = form_status(request, form)
    return render(request, "repairs/rule_propose.html", {"of": of, "form": form}, status=status)


@page(Action.SEE)
def rule(request: Asked, pk: int) -> HttpResponse:
    """One rule with all about it; while it waits, what it would change and the answer."""
    row = get_object_or_404(service.visible_rules(request.user), pk=pk)
    of = _figure_of(row, timezone.localdate())
    context = {"rule": row, "of": of, **answering(request, row)}
    return render(request, "repairs/rule.html", context)


def answering(request: Asked, row: Proposed) -> dict[str, Any]:
    """What a proposal would change as far as somebody looked, and who may look and answer."""
    today = timezone.localdate()
    run = newest_preview(row)
    return {
        "run": with_progress(run) if run else None,
        "why_not": why_not_preview(row, run, today),
        "may_preview": row.state == "proposed" and _may_answer(request, row, own=True),
        "may_answer": row.state == "proposed" and _may_answer(request, row, own=False),
        "form": AnswerForm(initial={"preview": run.pk if run else None}),
        "key": uuid4().hex,
        "today": today,
    }


def _figure_of(row: OwnerRule, today: date) -> Settable | None:
    """The figure as the law and the railway have it today, without a rule that still waits."""
    place = row.territory_id
    sets = rules_by_territory([place])[place] if place else tuple(rule_sets().values())
    return one_settable(sets, today, row.rule, row.figure)


def _may_answer(request: Asked, row: Proposed, *, own: bool) -> bool:
    if row.proposed_by_id == request.user.pk and not own:
        return False
    try:
        require_for(request.user, row.territory)
    except Forbidden:
        return False
    return True


def _own(request: Asked, pk: int) -> OwnerRule:
    return get_object_or_404(service.visible_rules(request.user), pk=pk)


@require_POST
@page(Action.EDIT_RULES)
def preview(request: Asked, pk: int) -> HttpResponse:
    """Queue the judging of the open defects by the present and the new rules."""
    row = _own(request, pk)
    key = f"rule {row.pk} {request.user.pk} {request.POST.get('key', '')}"[:80]
    request_preview(by=request.user, rule=row, on=timezone.localdate(), request_key=key)
    return redirect("rule", row.pk)


@require_POST
@page(Action.EDIT_RULES)
def answer(request: Asked, pk: int) -> HttpResponse:
    """Approve or reject, as the second person."""
    row = _own(request, pk)
    form = AnswerForm(request.POST)
    if not form.is_valid():
        raise Refused(f"The words are too long: {service.LETTERS} letters at most.")
    note = form.cleaned_data["note"]
    if request.POST.get("answer") != "approve":
        service.reject_rule(by=request.user, rule=row, note=note, at=timezone.now())
        messages.success(request, "Rejected; the proposal is kept with your words.")
        return redirect("rule", row.pk)
    seen = LongRun.objects.filter(pk=form.cleaned_data["preview"]).first()
    run = service.approve_rule(
        by=request.user,
        rule=row,
        preview=seen,
        on=timezone.localdate(),
        at=timezone.now(),
        note=note,
    )
    messages.success(request, "Approved. The open defects are being judged by it.")
    return redirect(f"{reverse('defects')}?run={run.pk}")
