"""The record of a job: as it stands, signed, corrected; and what a supervisor says of it."""

from decimal import Decimal

from django import forms
from django.contrib import messages
from django.db.models import QuerySet
from django.http import FileResponse, Http404, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from repairs.entry_words import Names
from repairs.field.penetrant import ONLY_OPEN
from repairs.field.state import as_json
from repairs.models import ClosingChange, FieldPhoto, JobSheet
from repairs.paper.record import record_paper
from repairs.services.closing_changes import approve_closing_change, reject_closing_change
from repairs.services.field_effects import confirm_restriction
from repairs.services.field_export import record_export
from repairs.services.field_reading import read_record
from repairs.services.field_records import correct_record, may_sign, sign_record
from repairs.services.field_rights import let_start, may_write
from turnouts.access import Action, may
from turnouts.analysis.units import Dimension, parse
from turnouts.models import Person
from turnouts.pages.asking import Asked, found, page
from turnouts.services.errors import Conflict, Refused


def _sheet(request: Asked, number: str) -> JobSheet:
    rows: QuerySet[JobSheet] = JobSheet.objects.select_related(
        "job__turnout__track__line__territory", "job__component", "issued_by"
    )
    return found(request, rows, Action.SEE_SHEETS, number=number)


class StatementForm(forms.Form):
    """What is corrected of a signed record, and why."""

    statement = forms.CharField(
        label="What is corrected, and why",
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3, "maxlength": 1000}),
        error_messages={
            "required": "Say what is corrected and why; it stands beside what was signed."
        },
    )


@page(Action.SEE_SHEETS)
def record(request: Asked, number: str) -> HttpResponse:
    """Everything that was entered, what follows from it, and who put their name to it."""
    row = _sheet(request, number)
    return _shown(request, row, StatementForm(label_suffix="", auto_id="correction_%s"))


def _shown(request: Asked, row: JobSheet, correction: StatementForm) -> HttpResponse:
    read = read_record(row)
    territory = row.job.turnout.territory
    signed = may_sign(request.user, row)
    context = {
        "sheet": row,
        "read": read,
        "state": read.state,
        "people": row.people.order_by("username"),
        "may_sign": signed and not read.signatures and read.state.is_over,
        "may_correct": signed and bool(read.signatures),
        "may_write": may_write(request.user, row),
        "may_put_right": may_write(request.user, row) and (signed or not read.signatures),
        "names": Names.of(row.content),
        "may_confirm": may(request.user, Action.CONFIRM, territory),
        "may_let": may(request.user, Action.LET_START, territory) and not read.state.started,
        "only_open": ONLY_OPEN,
        "correction": correction,
    }
    status = 400 if correction.is_bound else 200
    return render(request, "repairs/record.html", context, status=status)


@require_POST
@page(Action.SIGN)
def sign(request: Asked, number: str) -> HttpResponse:
    row = _sheet(request, number)
    statement = request.POST.get("statement", "")
    sign_record(by=request.user, sheet=row, statement=statement, at=timezone.now())
    messages.success(request, "Signed under your name. It cannot be altered, only corrected.")
    return redirect("job-sheet-record", row.number)


@require_POST
@page(Action.SIGN)
def correct(request: Asked, number: str) -> HttpResponse:
    """Follow the signed record by a correction; a refusal stands at its field."""
    row = _sheet(request, number)
    form = StatementForm(request.POST, label_suffix="", auto_id="correction_%s")
    if form.is_valid():
        statement = form.cleaned_data["statement"]
        try:
            correct_record(by=request.user, sheet=row, statement=statement, at=timezone.now())
        except Conflict:
            raise
        except Refused as refusal:
            form.add_error("statement", str(refusal))
        else:
            messages.success(request, "The correction stands beside what was signed.")
            return redirect("job-sheet-record", row.number)
    return _shown(request, row, form)


@require_POST
@page(Action.LET_START)
def let(request: Asked, number: str) -> HttpResponse:
    row = _sheet(request, number)
    person = get_object_or_404(Person, username=request.POST.get("person", ""))
    reason = request.POST.get("reason", "")
    let_start(by=request.user, sheet=row, person=person, reason=reason, at=timezone.now())
    messages.success(request, f"{person} may start. Your name and reason are kept with the sheet.")
    return redirect("job-sheet-record", row.number)


@require_POST
@page(Action.CONFIRM)
def confirm(request: Asked, number: str) -> HttpResponse:
    row = _sheet(request, number)
    restriction = row.restrictions.first()
    if restriction is None:
        raise Http404("No restriction follows from this sheet.")
    confirm_restriction(
        by=request.user,
        restriction=restriction,
        speed_kmh=_speed(request),
        note=request.POST.get("note", ""),
        at=timezone.now(),
    )
    messages.success(request, "Confirmed under your name.")
    return redirect("job-sheet-record", row.number)


@require_POST
@page(Action.CONFIRM)
def answer_closing(request: Asked, number: str, pk: int) -> HttpResponse:
    """A second qualified person's word on what a correction makes of the job."""
    row = _sheet(request, number)
    change = get_object_or_404(ClosingChange, record__sheet=row, pk=pk)
    note, at = request.POST.get("note", ""), timezone.now()
    if request.POST.get("answer") == "approve":
        approve_closing_change(by=request.user, change=change, at=at, note=note)
        messages.success(request, "Job and defects follow the corrected record, under your name.")
    else:
        reject_closing_change(by=request.user, change=change, at=at, note=note)
        messages.success(request, "The closing stays as it stood, under your name.")
    return redirect("job-sheet-record", row.number)


def _speed(request: Asked) -> Decimal | None:
    """The speed typed, in km/h; None where the box says closed to traffic."""
    if request.POST.get("closed"):
        return None
    typed = request.POST.get("speed", "").strip()
    if not typed:
        raise Refused("Give the speed, or say that the track is closed to traffic.")
    return parse(typed, request.user.units.speed, Dimension.SPEED)


@page(Action.SEE_SHEETS)
def as_file(request: Asked, number: str) -> JsonResponse:
    """The record of one job as JSON, with the digests that hold it together."""
    row = _sheet(request, number)
    answer = JsonResponse(as_json(record_export(row)), json_dumps_params={"indent": 2})
    answer["Content-Disposition"] = f'attachment; filename="{row.number}-record.json"'
    return answer


@page(Action.SEE_SHEETS)
def as_paper(request: Asked, number: str) -> HttpResponse:
    """The same record as PDF, with its photographs small."""
    row = _sheet(request, number)
    answer = HttpResponse(
        record_paper(read_record(row), request.user.units), content_type="application/pdf"
    )
    answer["Content-Disposition"] = f'inline; filename="{row.number}-record.pdf"'
    answer["Cache-Control"] = "private, no-cache"
    return answer


@page(Action.SEE_SHEETS)
def picture(request: Asked, number: str, pk: int) -> FileResponse:
    """A picture taken at the trackside, for people who may see the sheet."""
    row = get_object_or_404(FieldPhoto, event__sheet=_sheet(request, number), pk=pk)
    answer = FileResponse(row.image.open("rb"), content_type="image/jpeg")
    answer["Cache-Control"] = "private, max-age=86400, immutable"
    answer["X-Content-Type-Options"] = "nosniff"
    return answer
