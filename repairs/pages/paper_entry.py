"""At the office: what a paper sheet says, typed in as the record of the job."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from repairs.models import JobSheet
from repairs.pages.paper_forms import PaperForm
from repairs.services.field_paper import enter_from_paper
from repairs.services.field_rights import require_write
from repairs.services.field_rows import facts_of
from turnouts.access import Action
from turnouts.pages.asking import Asked, found, page


@page(Action.RECORD)
def paper_entry(request: Asked, number: str) -> HttpResponse:
    """The boxes of the paper sheet; what is filled in becomes entries marked as from paper."""
    rows = JobSheet.objects.select_related("job__turnout__track__line__territory")
    row = found(request, rows, Action.RECORD, number=number)
    require_write(request.user, row)
    given = request.POST if request.method == "POST" else None
    form = PaperForm(given, sheet=row, facts=facts_of(row), by=request.user, label_suffix="")
    if form.is_valid():
        done = enter_from_paper(
            by=request.user,
            sheet=row,
            worked_by=form.people[form.cleaned_data["worked_by"]],
            entries=form.entries(),
            at=timezone.now(),
            reason=form.cleaned_data["why"],
        )
        said = f"{len(done.taken)} entered from paper"
        known = f", {len(done.known)} were there already" if done.known else ""
        messages.success(request, f"{said}{known}.")
        return redirect("job-sheet-record", row.number)
    context = {
        "sheet": row,
        "form": form,
        "before": row.field_events.filter(entered_from="paper").count(),
    }
    return render(request, "repairs/paper_entry.html", context, status=400 if given else 200)
