"""Weld again or replace: the costs of one component, the break-even drawn, the engineer's word."""

from datetime import date
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from repairs.models import RenewalChoice
from repairs.renewal_drawing import turning_drawing
from repairs.services.renewal_choices import Chosen, choices_of, choose_renewal
from repairs.services.weld_or_replace import weld_or_replace_costs
from turnouts.access import Action, may, require
from turnouts.analysis.renewal.ways import Way
from turnouts.models import Component
from turnouts.pages.asking import Asked, form_status, found, page, refusals_in
from turnouts.pages.why import csv_answer
from turnouts.services.component_file import with_history
from turnouts.services.errors import Refused

WAY_COLUMNS = ("way", "welds", "cost_per_mgt", "low_90", "high_90", "chance_cheapest", "currency")
CURVE_COLUMNS = ("mean_weld_life_mgt", "cost_per_mgt", "replacing_now", "currency")


class WindowForm(forms.Form):
    window = forms.DateField(
        label="Next renewal window",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
        help_text="The day on which the turnout is renewed or out of service anyway, if planned.",
    )


class ChoiceForm(forms.Form):
    seen = forms.IntegerField(widget=forms.HiddenInput, required=False)
    window_on = forms.DateField(widget=forms.HiddenInput, required=False)
    way = forms.ChoiceField(label="Decided", choices=RenewalChoice.WAYS)
    welds = forms.IntegerField(
        label="Welds before it is replaced", min_value=1, max_value=20, required=False,
        help_text="Only for welding again.",
    )  # fmt: skip
    reason = forms.CharField(
        label="Why", max_length=500, widget=forms.Textarea(attrs={"rows": 3, "maxlength": 500})
    )

    def chosen(self) -> Chosen:
        given = self.cleaned_data
        return Chosen(Way(given["way"]), given["welds"] or 0, given["window_on"], given["reason"])


@page(Action.SEE)
def weld_or_replace(request: Asked, serial: str) -> HttpResponse:
    """The ways side by side with what they rest on, and the decisions so far."""
    row = found(request, with_history(Component.objects.all()), serial=serial)
    if request.method == "POST":
        require(request.user, Action.CHOOSE_RENEWAL)
    kept = choices_of(row)
    asked = WindowForm(request.GET or None, initial={"window": _planned(kept)})
    form = _form_of(request, kept, asked)
    if form is not None and form.is_bound and form.is_valid() and _kept(request, row, form):
        messages.success(request, "Kept under your name, with the costs of today beside it.")
        return redirect("weld-or-replace", row.serial)
    context: dict[str, Any] = {"component": row, "choices": kept, "asked": asked}
    try:
        costs = weld_or_replace_costs(row, timezone.localdate(), _window(asked, form, kept))
    except Refused as refusal:
        return render(request, "repairs/weld_or_replace.html", context | {"refused": str(refusal)})
    may_choose = may(request.user, Action.CHOOSE_RENEWAL, costs.turnout.territory)
    context |= {
        "costs": costs,
        "drawing": turning_drawing(costs.advice),
        "form": form if may_choose else None,
    }
    status = form_status(request, form)
    return render(request, "repairs/weld_or_replace.html", context, status=status)


@page(Action.SEE)
def ways_csv(request: Asked, serial: str) -> HttpResponse:
    """The ways as a table for a spreadsheet."""
    costs = _costs(request, serial)
    rows = (
        (
            one.way.value,
            str(one.welds),
            *(f"{figure:.2f}" for figure in (one.cost_per_mgt, one.low, one.high)),
            f"{one.chance_cheapest:.4f}",
            costs.prices.currency,
        )
        for one in costs.advice.options
    )
    return csv_answer(f"weld-or-replace-{serial}", WAY_COLUMNS, rows)


@page(Action.SEE)
def curve_csv(request: Asked, serial: str) -> HttpResponse:
    """The curve of the break-even as a table for a spreadsheet."""
    costs = _costs(request, serial)
    steady = costs.advice.steady_cost_per_mgt
    rows = (
        [*(f"{n:.2f}" for n in (p.life_mgt, p.cost_per_mgt, steady)), costs.prices.currency]
        for p in costs.advice.curve
    )
    return csv_answer(f"break-even-of-{serial}", CURVE_COLUMNS, rows)


def _costs(request: Asked, serial: str) -> Any:
    row = found(request, with_history(Component.objects.all()), serial=serial)
    asked = WindowForm(request.GET or None)
    return weld_or_replace_costs(row, timezone.localdate(), _window(asked, None, choices_of(row)))


def _planned(kept: list[RenewalChoice]) -> date | None:
    """The renewal window of the last decision, while it lies ahead."""
    window = kept[0].window_on if kept else None
    return window if window is not None and window > timezone.localdate() else None


def _window(asked: WindowForm, form: ChoiceForm | None, kept: list[RenewalChoice]) -> date | None:
    """The day that was sent with a decision, or asked for, or of the last decision."""
    window: date | None = _planned(kept)
    if form is not None and form.is_bound and form.is_valid():
        window = form.cleaned_data["window_on"]
    elif asked.is_bound and asked.is_valid():
        window = asked.cleaned_data["window"]
    return window


def _form_of(request: Asked, kept: list[RenewalChoice], asked: WindowForm) -> ChoiceForm | None:
    if not may(request.user, Action.CHOOSE_RENEWAL):
        return None
    initial = {"seen": kept[0].pk if kept else None, "window_on": _window(asked, None, kept)}
    return ChoiceForm(request.POST or None, initial=initial)


def _kept(request: Asked, row: Component, form: ChoiceForm) -> bool:
    """Whether it was kept; a refusal is said in the form."""
    with refusals_in(form):
        choose_renewal(
            by=request.user,
            component=row,
            chosen=form.chosen(),
            seen=form.cleaned_data["seen"],
            on=timezone.localdate(),
            at=timezone.now(),
        )
    return not form.errors
