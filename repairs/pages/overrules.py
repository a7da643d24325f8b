"""An engineer overrules a decision; how often that happens, by rule."""

import csv
from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from repairs.models import Decision, Overrule
from repairs.services.overrules import Word, overrule_decision
from repairs.services.overruling_rate import overruling_rates
from repairs.services.standing import Standing, standing_for, standing_of
from repairs.showing import with_speeds
from turnouts.access import Action, may
from turnouts.analysis.showing import UnitPreference
from turnouts.analysis.terms import Disposition
from turnouts.analysis.units import Dimension, UnitError, parse
from turnouts.models import Defect
from turnouts.models.choices import choices
from turnouts.pages.asking import Asked, form_status, found, page, refusals_in

RATES = ["rule", "clause", "title", "judged", "overruled", "milder", "share"]


def overruling_of(request: Asked, defect: Defect, now: Decision | None) -> dict[str, Any]:
    """What the defect's page shows of an overruling, and whether the reader may make one."""
    allowed = defect.is_open and may(request.user, Action.OVERRULE, defect.turnout.territory)
    return {"holds": standing_of(now) if now else None, "may_overrule": bool(now) and allowed}


def with_standing(defects: Iterable[Any]) -> None:
    """Put what holds beside the present decision of each listed defect, in one query."""
    present = [defect.current[0] for defect in defects if defect.current]
    standing = standing_for(present)
    for decision in present:
        decision.holds = standing[decision.pk]


class OverruleForm(forms.Form):
    decision = forms.IntegerField(widget=forms.HiddenInput)
    traffic = forms.ChoiceField(label="Traffic", choices=Overrule.TRAFFIC)
    speed = forms.CharField(label="Restricted to", max_length=24, required=False)
    disposition = forms.ChoiceField(label="Disposition", choices=choices(Disposition))
    due_on = forms.DateField(label="Due", widget=forms.DateInput(attrs={"type": "date"}))
    reason = forms.CharField(
        label="Why", max_length=500, widget=forms.Textarea(attrs={"rows": 3, "maxlength": 500})
    )
    authority = forms.ChoiceField(
        label="Authority",
        choices=[("", "not needed: nothing gets milder"), *Overrule.AUTHORITY],
        required=False,
        help_text="Needed where trains may do more than before, or a restriction stays longer.",
    )
    lifts = forms.BooleanField(
        label="I lift or ease the present restriction under my own name", required=False
    )

    def __init__(self, *args: Any, units: UnitPreference, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.units = units
        self.fields["speed"].help_text = f"In {units.speed}; only for a restricted speed."

    def clean_speed(self) -> Decimal | None:
        text = self.cleaned_data["speed"]
        if not text:
            return None
        try:
            kmh = parse(text, self.units.speed, Dimension.SPEED)
        except UnitError as fault:
            raise forms.ValidationError(str(fault)) from None
        return kmh.quantize(Decimal("0.000001"))

    def word(self) -> Word:
        given = self.cleaned_data
        return Word(
            traffic=given["traffic"],
            speed_kmh=given["speed"],
            disposition=Disposition(given["disposition"]),
            due_on=given["due_on"],
            reason=given["reason"],
            authority=given["authority"],
            lifts=given["lifts"],
        )


@page(Action.OVERRULE)
def overrule(request: Asked, reference: str) -> HttpResponse:
    """The machine's answer, and beside it the form for the engineer's own."""
    row = found(request, Defect.objects.with_place(), Action.OVERRULE, reference=reference)
    now = get_object_or_404(with_speeds(row.decisions.filter(current=True), whole=True))
    holds = standing_of(now)
    units = request.user.units
    initial = _initial(now, holds, timezone.localdate(), units)
    form = OverruleForm(request.POST or None, initial=initial, units=units)
    if form.is_valid() and _kept(request, row, form):
        messages.success(request, "Kept under your name, beside what the rules say.")
        return redirect("defect", row.reference)
    context = {"defect": row, "now": now, "holds": holds, "form": form}
    context["today"] = timezone.localdate()
    status = form_status(request, form)
    return render(request, "repairs/overrule.html", context, status=status)


def _kept(request: Asked, row: Defect, form: OverruleForm) -> bool:
    """Whether it was kept; a refusal is said in the form."""
    decision = get_object_or_404(row.decisions, pk=form.cleaned_data["decision"])
    with refusals_in(form):
        overrule_decision(
            by=request.user,
            decision=decision,
            word=form.word(),
            on=timezone.localdate(),
            at=timezone.now(),
        )
    return not form.errors


def _initial(now: Decision, holds: Standing, today: date, units: UnitPreference) -> dict[str, Any]:
    """What holds, to be changed; an open question is put as a stop, which lets nothing run."""
    mph = now.mph if holds.machines_traffic else None  # type: ignore[attr-defined]
    restricted = holds.traffic == "restricted"
    return {
        "decision": now.pk,
        "traffic": "stop" if holds.traffic == "unknown" else holds.traffic,
        "speed": _speed(holds, mph) if restricted else "",
        "disposition": holds.disposition,
        "due_on": max(holds.due_on or today, today).isoformat(),
    }


def _speed(holds: Standing, mph: str | None) -> str:
    if mph is not None:
        return f"{mph} mph"
    kmh = holds.speed_kmh or Decimal(0)
    return f"{kmh.normalize():f} km/h"


@page(Action.SEE)
def rates(request: Asked) -> HttpResponse:
    """How often engineers overrule, by the rule that had decided."""
    return render(request, "repairs/overruling.html", {"rates": overruling_rates(by=request.user)})


@page(Action.SEE)
def rates_csv(request: Asked) -> HttpResponse:
    """The same as a table for a spreadsheet."""
    answer = HttpResponse(content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="overruling-by-rule.csv"'
    writer = csv.writer(answer)
    writer.writerow(RATES)
    for one in overruling_rates(by=request.user):
        cells = [getattr(one, name) for name in RATES[:-1]]
        writer.writerow([*cells, f"{one.share:.4f}"])
    return answer
