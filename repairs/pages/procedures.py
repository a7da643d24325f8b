"""Welding procedures: what is in force, own editions, what one would change, the answer."""

from dataclasses import dataclass
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from repairs.models import OwnerProcedure, RepairJob
from repairs.pages.procedure_forms import EditionAnswerForm, EditionForm
from repairs.services import own_procedures as service
from repairs.services.editions import approved_editions
from repairs.services.procedure_preview import request_procedure_preview
from repairs.setting_words import GROUPS, NAMES
from repairs.welding.own_editions import shipped_edition
from repairs.welding.procedures import Procedure, all_editions, procedure_in_force
from repairs.welding.refusals import NoProcedure
from repairs.welding.rows_toml import Row
from turnouts.access import Action, Forbidden, visible
from turnouts.models import LongRun, Person
from turnouts.pages.asking import Asked, form_status, page, refusals_in
from turnouts.services.errors import Refused
from turnouts.services.runs import with_progress


@dataclass(frozen=True)
class InForce:
    """An edition in force, and the row it came from where it is the railway's own."""

    edition: Procedure
    row: OwnerProcedure | None


@dataclass(frozen=True)
class Difference:
    """One setting as shipped, as in force now and as an edition has it."""

    name: str
    shipped: Row
    now: Row
    new: Row


@page(Action.SEE)
def procedures(request: Asked) -> HttpResponse:
    """The procedures in force today, and which editions wait for an answer."""
    rows = list(_rows())
    context = {
        "procedures": _in_force_today(rows),
        "waiting": [row for row in rows if row.state == "proposed"],
    }
    return render(request, "repairs/procedures.html", context)


def _rows() -> Any:
    return OwnerProcedure.objects.select_related("proposed_by", "answered_by")


def _in_force_today(rows: list[OwnerProcedure]) -> list[InForce]:
    by_id = {row.pk: row for row in rows}
    today, own = timezone.localdate(), approved_editions()
    found = []
    for name in all_editions():
        try:
            edition = procedure_in_force(name, today, own)
        except NoProcedure:
            continue  # its first edition begins later
        found.append(InForce(edition, by_id.get(edition.own_edition or 0)))
    return found


@page(Action.SEE)
def procedure(request: Asked, name: str) -> HttpResponse:
    """One procedure in force: each setting with how well it stands, the rules, the editions."""
    edition = _present(name)
    rows = list(_rows().filter(procedure=name))
    base = _base_of(edition, rows)
    newest = all_editions()[name][-1]
    context = {
        "edition": edition,
        "row": next((row for row in rows if row.pk == edition.own_edition), None),
        "groups": _grouped(edition),
        "rules": edition.interpass_rules,
        "own": rows,
        "shipped": all_editions()[name],
        "newer": newest if edition.own_edition and newest.start > base.start else None,
        "may_propose": _may_change(request.user),
    }
    return render(request, "repairs/procedure.html", context)


def _present(name: str) -> Procedure:
    """The edition in force today, or 404."""
    try:
        return procedure_in_force(name, timezone.localdate(), approved_editions())
    except NoProcedure as refusal:
        raise Http404(str(refusal)) from refusal


def _base_of(edition: Procedure, rows: list[OwnerProcedure]) -> Procedure:
    own = next((row for row in rows if row.pk == edition.own_edition), None)
    return shipped_edition(own.procedure, own.base_since) if own else edition


def _grouped(edition: Procedure) -> list[tuple[str, list[tuple[str, Row]]]]:
    found = [
        (title, [(label, edition.rows[key]) for key, label in names.items() if key in edition.rows])
        for title, names in GROUPS.items()
    ]
    return [(title, rows) for title, rows in found if rows]


def _may_change(person: Person) -> bool:
    try:
        service.require_everywhere(person)
    except Forbidden:
        return False
    return True


@page(Action.EDIT_PROCEDURES)
def propose(request: Asked, name: str) -> HttpResponse:
    """A form of all settings; what is left empty stays as it is."""
    service.require_everywhere(request.user)
    present, today = _present(name), timezone.localdate()
    initial = {"starts_on": today.isoformat(), "seen": service.newest_approved(name)}
    form = EditionForm(
        request.POST or None,
        present=present,
        base=procedure_in_force(name, today),
        by=request.user,
        initial=initial,
    )
    if form.is_valid():
        with refusals_in(form):
            row = service.propose_edition(
                by=request.user, proposal=form.proposal(), on=today, at=timezone.now()
            )
            return redirect("own-edition", row.pk)
    context, status = {"edition": present, "form": form}, form_status(request, form)
    return render(request, "repairs/procedure_propose.html", context, status=status)


@page(Action.SEE)
def own_edition(request: Asked, pk: int) -> HttpResponse:
    """One edition of the railway's own; while it waits, what it would change and the answer."""
    row = get_object_or_404(_rows(), pk=pk)
    run = service.newest_preview(row)
    waits, mine = row.state == "proposed", row.proposed_by_id == request.user.pk
    may = waits and _may_change(request.user)
    new = service.as_proposed(row)
    base = shipped_edition(row.procedure, row.base_since)
    context = {
        "row": row,
        "new": new,
        "base": base,
        "now": _present(row.procedure),
        "differences": _differences(row, new, base),
        "hottest": max(rule.limit_degc for rule in base.interpass_rules),
        "run": with_progress(run) if run else None,
        "listed": _listed(request, run),
        "why_not": service.why_not_approve(row, run, timezone.localdate()),
        "may_preview": may,
        "may_answer": may and not mine,
        "may_withdraw": may and mine,
        "form": EditionAnswerForm(
            initial={"preview": run.pk if run else None, "version": row.version}
        ),
        "key": uuid4().hex,
    }
    return render(request, "repairs/own_edition.html", context)


def _differences(row: OwnerProcedure, new: Procedure, base: Procedure) -> list[Difference]:
    """What the edition has otherwise than as shipped, or than now while it waits."""
    now = _present(row.procedure) if row.state == "proposed" else new
    return [
        Difference(label, base.rows[key], now.rows.get(key, base.rows[key]), new.rows[key])
        for key, label in NAMES.items()
        if key in new.rows
        and (
            new.rows[key].value != base.rows[key].value
            or (key in now.rows and new.rows[key].value != now.rows[key].value)
        )
    ]


def _listed(request: Asked, run: LongRun | None) -> list[dict[str, Any]]:
    """The jobs of the preview that lie where the reader may look."""
    if run is None or run.state != "done":
        return []
    jobs: list[dict[str, Any]] = run.result["listed"]
    rows = RepairJob.objects.filter(reference__in=[one["job"] for one in jobs])
    seen = set(visible(request.user, rows).values_list("reference", flat=True))
    return [one for one in jobs if one["job"] in seen]


@require_POST
@page(Action.EDIT_PROCEDURES)
def preview(request: Asked, pk: int) -> HttpResponse:
    """Queue the estimating of waiting jobs by the present edition and the proposed one."""
    row = get_object_or_404(_rows(), pk=pk)
    key = f"edition {row.pk} {request.user.pk} {request.POST.get('key', '')}"[:80]
    request_procedure_preview(
        by=request.user, edition=row, on=timezone.localdate(), request_key=key
    )
    return redirect("own-edition", row.pk)


@require_POST
@page(Action.EDIT_PROCEDURES)
def answer(request: Asked, pk: int) -> HttpResponse:
    """Approve or reject as the second person, or withdraw as the first."""
    row = get_object_or_404(_rows(), pk=pk)
    form = EditionAnswerForm(request.POST)
    if not form.is_valid():
        raise Refused(f"Answer on the page of the edition, in {service.LETTERS} letters at most.")
    given = form.cleaned_data
    common: dict[str, Any] = {
        "by": request.user,
        "edition": row,
        "version": given["version"],
        "note": given["note"],
        "at": timezone.now(),
    }
    wanted = request.POST.get("answer")
    if wanted == "approve":
        seen = LongRun.objects.filter(pk=given["preview"]).first()
        service.approve_edition(**common, preview=seen, on=timezone.localdate())
        said = "Approved. Jobs not yet issued are estimated anew by it from its day on."
    elif wanted == "withdraw":
        service.withdraw_edition(**common)
        said = "Withdrawn; the proposal is kept."
    else:
        service.reject_edition(**common)
        said = "Rejected; the proposal is kept with your words."
    messages.success(request, said)
    return redirect("own-edition", row.pk)
