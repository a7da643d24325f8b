"""Reviews for a meeting: ask for one of a territory and a time, see how far it is, save the PDF."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

from django import forms
from django.db.models import QuerySet
from django.http import FileResponse, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from repairs.services.review_runs import KIND, request_review
from turnouts.access import Action, visible
from turnouts.downloads import download
from turnouts.models import LongRun, Person, Territory
from turnouts.pages.asking import Asked, form_status, page, refusals_in
from turnouts.services.export_runs import KEPT_FOR, file_of
from turnouts.services.runs import with_progress

EARLIER_SHOWN = 10


class ReviewForm(forms.Form):
    """Of which territory and time; only territories that the reader may see are offered."""

    territory = forms.ModelChoiceField(Territory.objects.none(), empty_label=None)
    since = forms.DateField(label="From", widget=forms.DateInput({"type": "date"}))
    until = forms.DateField(label="To", widget=forms.DateInput({"type": "date"}))
    key = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, person: Person, data: Any = None) -> None:
        today = timezone.localdate()
        initial = {"key": uuid4(), "since": today - timedelta(days=365), "until": today}
        super().__init__(data, initial=initial, auto_id="review-%s")
        self.fields["territory"].queryset = visible(person, Territory.objects.all())  # type: ignore[attr-defined]


@page(Action.SEE)
def reviews(request: Asked) -> HttpResponse:
    """Ask for a review; the person's earlier ones below."""
    form = ReviewForm(request.user, request.POST or None)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        with refusals_in(form):
            run = request_review(
                by=request.user,
                territory=given["territory"],
                since=given["since"],
                until=given["until"],
                request_key=str(given["key"]),
            )
            return redirect("review", run.pk)
    context = {"form": form, "earlier": _own(request)[:EARLIER_SHOWN], "days": KEPT_FOR.days}
    status = form_status(request, form)
    return render(request, "repairs/reviews.html", context, status=status)


def _own(request: Asked) -> QuerySet[LongRun]:
    return LongRun.objects.filter(kind=KIND, requested_by=request.user).select_related(
        "export_file"
    )


@page(Action.SEE)
def review(request: Asked, pk: int) -> HttpResponse:
    """How far it is; at its end what it says in short, and the way to save it."""
    run = with_progress(get_object_or_404(_own(request), pk=pk))
    return render(request, "repairs/review.html", {"run": run, "days": KEPT_FOR.days})


@page(Action.SEE)
def review_file(request: Asked, pk: int) -> FileResponse:
    """The PDF, for the person who asked for it."""
    run = get_object_or_404(_own(request), pk=pk)
    return download(file_of(by=request.user, run=run))
