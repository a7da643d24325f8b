"""Putting one entry of a record right: before the signature, and by a correction after it."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from repairs.entry_words import Names, entry_words
from repairs.field.events import Kind, read_data
from repairs.models import FieldEvent, JobSheet
from repairs.pages.put_right_boxes import Sheet
from repairs.pages.put_right_forms import PutRightForm
from repairs.services.field_records import correct_record, may_sign
from repairs.services.field_rights import require_write
from repairs.services.field_rows import events_of, facts_of
from repairs.services.put_right import (
    PutRight,
    known_change,
    put_entry_right,
    refuse_if_moved,
    standing_of,
)
from turnouts.access import Action, Forbidden
from turnouts.pages.asking import Asked, found, page
from turnouts.services.errors import Conflict, Refused


@page(Action.RECORD)
def put_right(request: Asked, number: str, event: UUID) -> HttpResponse:
    """One entry in its own boxes; what it said first stays beside what holds instead."""
    rows = JobSheet.objects.select_related("job__turnout__track__line__territory")
    sheet = found(request, rows, Action.RECORD, number=number)
    require_write(request.user, sheet)
    signed = sheet.records.count()
    if signed and not may_sign(request.user, sheet):
        raise Forbidden(
            f"The record of sheet {sheet.number} is signed: whoever may sign it may correct it."
        )
    entry = get_object_or_404(
        sheet.field_events.exclude(kind=Kind.CORRECTION.value), event_id=event
    )
    form = _form(request, sheet, entry, signed)
    if form.is_bound and _is_kept(form, sheet):
        return redirect("job-sheet-record", sheet.number)
    if form.is_valid():
        try:
            return _done(request, sheet, entry, form, signed)
        except Conflict:
            raise
        except Refused as refusal:
            form.add_error(None, str(refusal))
    return _asked(request, sheet, entry, form, signed)


def _form(request: Asked, sheet: JobSheet, entry: FieldEvent, signed: int) -> PutRightForm:
    return PutRightForm(
        request.POST or None,
        entry=entry,
        standing=standing_of(entry, events_of(sheet)),
        sheet=Sheet(facts_of(sheet), sheet.content, request.user.units),
        records=signed,
        label_suffix="",
    )


def _is_kept(form: PutRightForm, sheet: JobSheet) -> bool:
    """Whether it was put right in just this way before. Conflict where somebody else did."""
    name, held = form.posted("name"), form.posted("held")
    if name and sheet.field_events.filter(event_id=name).exists():
        return True
    refuse_if_moved(form.standing, held)
    return False


def _done(
    request: Asked, sheet: JobSheet, entry: FieldEvent, form: PutRightForm, signed: int
) -> HttpResponse:
    change, at = form.change(), timezone.now()
    if form.cleaned_data["records"] == 0:
        put_entry_right(by=request.user, sheet=sheet, change=change, at=at)
        messages.success(request, "Put right. What was entered first stands beside it.")
    else:
        _refuse_if_corrected(sheet, change, form.cleaned_data["records"], signed)
        said = f"Entry {entry.number}, {entry.get_kind_display().lower()}: {change.reason}"
        correct_record(by=request.user, sheet=sheet, statement=said, at=at, change=change)
        messages.success(request, "The correction stands beside what was signed.")
    return redirect("job-sheet-record", sheet.number)


def _refuse_if_corrected(sheet: JobSheet, change: PutRight, seen: int, signed: int) -> None:
    """A correction is signed over the record as it was seen, and not over a later one."""
    if seen != signed and known_change(sheet, change) is None:
        raise Conflict(
            f"The record of sheet {sheet.number} was corrected while you had this entry open. "
            "Nothing of yours was kept; look at the record as it is now and decide again."
        )


def _asked(
    request: Asked, sheet: JobSheet, entry: FieldEvent, form: PutRightForm, signed: int
) -> HttpResponse:
    kind, names, units = Kind(entry.kind), Names.of(sheet.content), request.user.units
    now = form.standing
    context = {
        "sheet": sheet,
        "entry": entry,
        "form": form,
        "says": entry_words(read_data(kind, entry.data), names, units),
        "now": entry_words(read_data(kind, now.data), names, units) if now.data else "",
        "standing": now,
        "signed": signed,
    }
    status = 400 if form.is_bound else 200
    return render(request, "repairs/put_right.html", context, status=status)
