"""Import of files: hand over, look at the dry run, accept."""

from typing import Any
from uuid import uuid4

from django import forms
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from turnouts.access import Action
from turnouts.models import LongRun
from turnouts.pages.asking import Asked, form_status, page, refusals_in
from turnouts.pages.exports import ExportForm
from turnouts.services.errors import Refused
from turnouts.services.imports import accept_import, report_of, start_import
from turnouts.services.runs import with_progress

FAULTS_SHOWN = 500
EARLIER_SHOWN = 10


class _SeveralFiles(forms.ClearableFileInput):
    allow_multiple_selected = True


class SeveralFilesField(forms.FileField):
    """One file or several; the cleaned value is always a list."""

    widget = _SeveralFiles

    def clean(self, data: Any, initial: Any = None) -> Any:
        given = data or [None]
        return [super(SeveralFilesField, self).clean(one, initial) for one in given]


class UploadForm(forms.Form):
    file = SeveralFilesField(
        label="File",
        widget=_SeveralFiles(attrs={"accept": ".csv,.xlsx,.zip"}),
        help_text="One XLSX workbook, one ZIP of CSV files, or several CSV files at once.",
    )
    key = forms.UUIDField(widget=forms.HiddenInput)


@page(Action.IMPORT)
def imports(request: Asked) -> HttpResponse:
    """Hand a file over; it is read and compared at once, and nothing is changed by that."""
    form = UploadForm(request.POST or None, request.FILES or None, initial={"key": uuid4()})
    if request.method == "POST" and form.is_valid():
        with refusals_in(form, "file"):
            run = start_import(
                by=request.user,
                files=[(one.name, one.read()) for one in form.cleaned_data["file"]],
                dry_run=True,
                request_key=str(form.cleaned_data["key"]),
            )
            return redirect("import-run", run.pk)
    earlier = _own(request).select_related("import_file")[:EARLIER_SHOWN]
    context = {"form": form, "earlier": earlier, "export_form": ExportForm(request.user)}
    status = form_status(request, form)
    return render(request, "turnouts/imports.html", context, status=status)


def _own(request: Asked) -> QuerySet[LongRun]:
    return LongRun.objects.filter(kind="import", requested_by=request.user)


@page(Action.IMPORT)
def import_run(request: Asked, pk: int) -> HttpResponse:
    """How far the import is; at its end, what it changes or changed, and every bad row."""
    run = get_object_or_404(_own(request).select_related("import_file"), pk=pk)
    report = report_of(run)
    context = {
        "run": with_progress(run),
        "report": report,
        "faults": report.faults[:FAULTS_SHOWN] if report else (),
        "may_accept": report is not None and report.dry_run and not report.fault_count,
        "accepted": _own(request).filter(asked__accepts=run.pk).first(),
    }
    return render(request, "turnouts/import_run.html", context)


@require_POST
@page(Action.IMPORT)
def import_accept(request: Asked, pk: int) -> HttpResponse:
    """Do what the dry run showed; a second click goes to the same run."""
    dry_run = get_object_or_404(_own(request), pk=pk)
    try:
        run = accept_import(by=request.user, dry_run=dry_run)
    except Refused as refusal:
        messages.error(request, str(refusal))
        return redirect("import-run", pk)
    return redirect("import-run", run.pk)
