"""The records taken out: ask for a file, see how far it is, save it."""

from typing import Any
from uuid import uuid4

from django import forms
from django.db.models import QuerySet
from django.http import FileResponse, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from turnouts.access import Action, may
from turnouts.downloads import download
from turnouts.models import LongRun, Person
from turnouts.pages.asking import Asked, form_status, page
from turnouts.services.export_runs import KEPT_FOR, KIND, file_of, start_export
from turnouts.services.exports import units_of
from turnouts.services.runs import with_progress
from turnouts.services.sheets.registry import all_sheets

EARLIER_SHOWN = 10


class ExportForm(forms.Form):
    """What to take out; only sheets that the reader may see are shown."""

    form = forms.ChoiceField(
        label="Form", choices=[("xlsx", "one XLSX workbook"), ("zip", "a ZIP of CSV files")]
    )
    sheet = forms.MultipleChoiceField(required=False)
    key = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, person: Person, data: Any = None) -> None:
        super().__init__(data, initial={"key": uuid4()}, auto_id="export-%s")
        self.fields["sheet"].choices = [(sheet.name, sheet.name) for sheet in all_sheets()]  # type: ignore[attr-defined]
        self.shown = [sheet.name for sheet in all_sheets() if may(person, sheet.see)]


@page(Action.SEE)
def exports(request: Asked) -> HttpResponse:
    """Ask for the chosen sheets, or all of them, as a file in the reader's own units."""
    form = ExportForm(request.user, request.POST or None)
    if request.method == "POST" and form.is_valid():
        run = start_export(
            by=request.user,
            request_key=str(form.cleaned_data["key"]),
            names=form.cleaned_data["sheet"],
            form=form.cleaned_data["form"],
            units=units_of(request.user),
        )
        return redirect("export-run", run.pk)
    context = {"form": form, "earlier": _own(request)[:EARLIER_SHOWN], "days": KEPT_FOR.days}
    status = form_status(request, form)
    return render(request, "turnouts/exports.html", context, status=status)


def _own(request: Asked) -> QuerySet[LongRun]:
    return LongRun.objects.filter(kind=KIND, requested_by=request.user).select_related(
        "export_file"
    )


@page(Action.SEE)
def export_run(request: Asked, pk: int) -> HttpResponse:
    """How far the file is; at its end, what it holds and the way to save it."""
    run = with_progress(get_object_or_404(_own(request), pk=pk))
    context = {"run": run, "days": KEPT_FOR.days}
    return render(request, "turnouts/export_run.html", context)


@page(Action.SEE)
def export_file(request: Asked, pk: int) -> FileResponse:
    """The file itself, for the person who asked for it."""
    run = get_object_or_404(_own(request), pk=pk)
    return download(file_of(by=request.user, run=run))
