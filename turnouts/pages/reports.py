"""Report an inspection by hand: on a phone beside the track, or at a desk from a paper form."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.timezone import localdate, localtime

from turnouts.access import Action
from turnouts.analysis.terms import (
    DefectKind,
    FrogDesign,
    HeadReach,
    Orientation,
    Position,
    Quantity,
    RailFlaw,
    Route,
    Zone,
)
from turnouts.models import Component, Inspection, Turnout
from turnouts.pages import report_forms as forms
from turnouts.pages.asking import Asked, found, page
from turnouts.services.errors import Conflict, Refused
from turnouts.services.history import NewDefect, NewMeasurement, report_inspection

MORE = 3


@dataclass
class Report:
    """The three parts of the form, and what was said against it as a whole."""

    visit: forms.VisitForm
    readings: Any
    defects: Any
    refusal: str = ""
    checked: bool = False

    def is_valid(self) -> bool:
        self.checked = True
        return all([part.is_valid() for part in (self.visit, self.readings, self.defects)])


@page(Action.REPORT)
def report(request: Asked, code: str) -> HttpResponse:
    """Show the form, add rows to it, or keep what was typed."""
    turnout = found(request, Turnout.objects.with_place(), Action.REPORT, code=code)
    if request.method != "POST":
        return _show(request, turnout, _empty(request, turnout))
    if "more" in request.POST:
        return _show(request, turnout, _longer(request, turnout, request.POST))
    filled = _filled(request, turnout)
    if filled.is_valid():
        try:
            return _keep(request, turnout, filled)
        except Refused as refusal:
            filled.refusal = str(refusal)
    return _show(request, turnout, filled, status=400)


def _show(request: Asked, turnout: Turnout, report: Report, status: int = 200) -> HttpResponse:
    example = "1 3/8 or 34.9 mm" if request.user.length_unit == "in" else "34.9 or 1 3/8 in"
    context = {"turnout": turnout, "report": report, "example": example}
    return render(request, "turnouts/report.html", context, status=status)


def _standing(turnout: Turnout) -> dict[Position, FrogDesign | None]:
    stays = turnout.installations.filter(removed_on__isnull=True).select_related("component")
    return {
        Position(stay.position): FrogDesign(stay.component.design)
        if stay.component.design
        else None
        for stay in stays
    }


def _row_options(request: Asked, turnout: Turnout) -> dict[str, Any]:
    held = set(turnout.installations.values_list("position", flat=True))
    positions = [position for position in Position if position.value in held]
    return {"form_kwargs": {"units": request.user.units, "positions": positions}}


def _empty(request: Asked, turnout: Turnout) -> Report:
    now = localtime()
    options = _row_options(request, turnout)
    usual = forms.usual_readings(_standing(turnout))
    return Report(
        forms.VisitForm(initial={"inspected_at": now, "key": forms.new_key(now)}),
        _rows(forms.ReadingRows, "readings", [*usual, {}], options),
        _rows(forms.DefectRows, "defects", [{}], options),
    )


def _longer(request: Asked, turnout: Turnout, typed: QueryDict) -> Report:
    """The same form with more rows of one kind, and everything that was typed so far."""
    options = _row_options(request, turnout)
    rows = {
        prefix: _typed_rows(typed, prefix, form.base_fields)
        for prefix, form in (("readings", forms.ReadingForm), ("defects", forms.DefectForm))
    }
    wanted = typed["more"]
    if wanted in rows:
        rows[wanted] += [{} for _ in range(MORE if wanted == "readings" else 1)]
    visit = forms.VisitForm(initial={name: typed.get(name, "") for name in typed})
    return Report(
        visit,
        _rows(forms.ReadingRows, "readings", rows["readings"], options),
        _rows(forms.DefectRows, "defects", rows["defects"], options),
    )


def _typed_rows(typed: QueryDict, prefix: str, names: Any) -> list[dict[str, Any]]:
    total = typed.get(f"{prefix}-TOTAL_FORMS", "0")
    count = min(int(total) if total.isdigit() else 0, 40)
    return [{name: typed.get(f"{prefix}-{n}-{name}", "") for name in names} for n in range(count)]


def _rows(kind: Any, prefix: str, initial: list[dict[str, Any]], options: dict[str, Any]) -> Any:
    return kind(prefix=prefix, initial=initial, **options)


def _filled(request: Asked, turnout: Turnout) -> Report:
    options = _row_options(request, turnout)
    return Report(
        forms.VisitForm(request.POST),
        forms.ReadingRows(request.POST, prefix="readings", **options),
        forms.DefectRows(request.POST, prefix="defects", **options),
    )


def _keep(request: Asked, turnout: Turnout, filled: Report) -> HttpResponse:
    """Keep the report and go to it; one that this form has kept already is only gone to."""
    visit = filled.visit.cleaned_data
    reference = f"{turnout.code}-{visit['key']}"
    earlier = Inspection.objects.filter(reference=reference, inspector=request.user)
    kept = earlier.first()
    if kept is None:
        try:
            kept = _report(request, turnout, filled, reference)
        except Conflict:  # the other of two clicks was kept while this one was being read
            kept = earlier.first()
            if kept is None:
                raise
        else:
            messages.success(request, f"Kept as inspection {reference}.")
    return redirect("inspection", kept.reference)


def _report(request: Asked, turnout: Turnout, filled: Report, reference: str) -> Inspection:
    visit = filled.visit.cleaned_data
    there = Standing(turnout, localdate(visit["inspected_at"]))
    return report_inspection(
        by=request.user,
        reference=reference,
        turnout=turnout,
        inspected_at=visit["inspected_at"],
        kind=visit["kind"],
        note=visit["note"],
        measurements=[
            _measurement(row.cleaned_data, there, visit)
            for row in filled.readings
            if row.has_changed()
        ],
        defects=[
            _defect(row, there, f"{reference}-{number}")
            for number, row in enumerate((r for r in filled.defects if r.has_changed()), start=1)
        ],
    )


class Standing:
    """What stood in each position of a turnout on one day."""

    def __init__(self, turnout: Turnout, day: date) -> None:
        self.turnout, self.day = turnout, day
        stays = turnout.installations.filter(installed_on__lte=day).select_related("component")
        self._there = {
            stay.position: stay.component
            for stay in stays.order_by("installed_on")
            if stay.removed_on is None or stay.removed_on >= day
        }

    def at(self, position: str) -> Component:
        """The component; Refused with a sentence when there was none."""
        if position not in self._there:
            raise Refused(
                f"Nothing stood in {self.turnout.code}, {Position(position).label.lower()}, on "
                f"{self.day:%Y-%m-%d}. Choose another position or day, or ask an engineer to "
                "note the installation."
            )
        return self._there[position]


def _measurement(row: dict[str, Any], there: Standing, visit: dict[str, Any]) -> NewMeasurement:
    return NewMeasurement(
        quantity=Quantity(row["quantity"]),
        value=row["stored"],
        typed=row["value"],
        typed_unit=row["unit"],
        component=there.at(row["position"]) if row["position"] else None,
        route=Route(row["route"]) if row["route"] else None,
        behind_point_mm=row["behind_point"],
        instrument=visit["instrument"],
    )


def _defect(form: forms.DefectForm, there: Standing, reference: str) -> NewDefect:
    row = form.cleaned_data
    return NewDefect(
        reference=reference,
        component=there.at(row["position"]),
        kind=DefectKind(row["kind"]),
        zone=Zone(row["zone"]),
        length_mm=row["length"],
        width_mm=row["width"],
        depth_mm=row["depth"],
        behind_point_mm=row["behind_point"],
        orientation=Orientation(row["orientation"]) if row["orientation"] else None,
        breaks_surface=form.known("breaks_surface"),
        reaches_edge=form.known("reaches_edge"),
        reaches_base=form.known("reaches_base"),
        head_reach=HeadReach(row["head_reach"]) if row["head_reach"] else None,
        flaw=RailFlaw(row["flaw"]) if row["flaw"] else None,
        head_share_percent=row["head_share_percent"],
        welder_access=form.known("welder_access"),
        metal_left_mm=row["metal_left"],
        hardened_mm=row["hardened"],
        damaged=form.known("damaged"),
        note=row["note"],
    )
