"""The record of a defect: what was found, its life so far, its photographs."""

from django import forms
from django.contrib import messages
from django.db.models import QuerySet
from django.http import FileResponse, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from turnouts.access import Action, may
from turnouts.models import Defect, Photograph
from turnouts.pages.asking import Asked, form_status, found, page, refusals_in
from turnouts.services.photographs import add_photograph

A_DAY_S = 24 * 3600


class PhotographForm(forms.Form):
    picture = forms.FileField(
        label="Picture",
        widget=forms.ClearableFileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
        error_messages={"required": "Choose a picture."},
    )
    caption = forms.CharField(
        label="What it shows",
        max_length=120,
        error_messages={"required": "Say in a few words what it shows."},
    )


@page(Action.SEE)
def defect_record(request: Asked, reference: str) -> HttpResponse:
    """What was found, and what came of it."""
    return _show(request, found(request, _rows(), reference=reference), PhotographForm())


def _rows() -> QuerySet[Defect]:
    return Defect.objects.with_place().select_related("inspection__inspector")


def _show(request: Asked, defect: Defect, form: PhotographForm, status: int = 200) -> HttpResponse:
    context = {
        "defect": defect,
        "steps": defect.steps.select_related("by"),
        "photographs": defect.photographs.select_related("added_by"),
        "form": form,
        "may_add": may(request.user, Action.REPORT, defect.turnout.territory),
    }
    return render(request, "turnouts/defect_record.html", context, status=status)


@require_POST
@page(Action.REPORT)
def photograph_add(request: Asked, reference: str) -> HttpResponse:
    """Keep one picture of a defect."""
    defect = found(request, _rows(), Action.REPORT, reference=reference)
    form = PhotographForm(request.POST, request.FILES)
    if form.is_valid():
        given = form.cleaned_data
        with refusals_in(form, "picture"):
            add_photograph(
                by=request.user,
                defect=defect,
                upload=given["picture"],
                caption=given["caption"],
            )
            messages.success(request, "Photograph kept, without place or time in the file.")
            return redirect("defect-record", defect.reference)
    return _show(request, defect, form, status=form_status(request, form))


@page(Action.SEE)
def photograph(request: Asked, pk: int) -> FileResponse:
    """The picture itself, for people who may see the defect; kept by their own browser only."""
    row = found(request, Photograph.objects.all(), pk=pk)
    answer = FileResponse(row.image.open("rb"), content_type="image/jpeg")
    answer["Cache-Control"] = f"private, max-age={A_DAY_S}, immutable"
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Content-Disposition"] = f'inline; filename="{row.sha256[:12]}.jpg"'
    return answer
