"""Groups of like components side by side, as the last night compared them; tables and CSV."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render

from turnouts.access import Action
from turnouts.analysis.ranking.comparison import Comparison, Look, Measure
from turnouts.analysis.ranking.comparison_words import (
    LengthUnit,
    look_sentence,
    rests_on,
    summed_up,
)
from turnouts.analysis.recurrence.log_rank import OF_A_REPAIR, By
from turnouts.analysis.showing import UnitPreference
from turnouts.analysis.terms import ComponentKind, FrogDesign, Quantity, Steel
from turnouts.analysis.units import Dimension
from turnouts.models import FamilyComparison
from turnouts.pages.asking import Asked, asked_choice, page
from turnouts.pages.family_drawing import Whiskers, rates, ratios, sides
from turnouts.pages.why import csv_answer
from turnouts.services.family_comparisons import comparison_for, findings_for

MOST_PICTURES = 12
"""Groups drawn: more hardly fit side by side. The tables have all."""

MOST_FINDINGS = 30
"""Findings listed, the surest: more are no list to act on."""

LOOK_COLUMNS = ("measure", "quantity", "group", "counted", "of", "value", "low_95", "high_95",
                "others", "p_alone", "p_corrected", "q_over_the_night")  # fmt: skip
STEP_COLUMNS = ("group", "mgt", "defects", "under_watch", "mean", "standard_error", "low_95",
                "high_95")  # fmt: skip


@dataclass(frozen=True)
class Shown:
    """One measure: its looks as the reader sees them, and their picture."""

    title: str
    axis: str
    unit: str
    rows: list[tuple[Look, str, str, str, str]]
    picture: Whiskers


@page(Action.SEE)
def families(request: Asked) -> HttpResponse:
    """The chosen family by the chosen fact; without a choice, what stands out over all of them."""
    rows = FamilyComparison.objects.defer("content", "found")
    chosen = _chosen(request)
    context: dict[str, Any] = {
        "families": {_key(row): row.family for row in rows},
        "facts": [by for by in By if any(row.by == by.value for row in rows)],
        "asked": {"family": "frog..", "by": By.BATCH.value} | request.GET.dict(),
        "row": chosen,
        "in_vain": chosen is None and bool(request.GET.get("family")),
        "made_on": rows[0].made_on if rows else None,
    }
    unit = _unit(request.user.units)
    if chosen is not None:
        context |= _told(comparison_for(request.user, chosen), unit)
    elif not request.GET.get("family"):
        found = findings_for(request.user)
        context["more"] = max(len(found) - MOST_FINDINGS, 0)
        context["findings"] = [
            (row, look_sentence(look, unit), By(row.by).label, _key(row))
            for row, look in found[:MOST_FINDINGS]
        ]
    return render(request, "turnouts/families.html", context)


@page(Action.SEE)
def looks_csv(request: Asked) -> HttpResponse:
    """Every look of the chosen comparison; wear in mm a MGT."""
    rows = (
        (x.measure.value, x.quantity, x.group, str(x.counted), str(x.of),
         *(f"{figure:.6g}" for figure in (x.value, x.low, x.high, x.others, x.p_alone, x.p, x.q)))
        for x in _comparison(request).looks
    )  # fmt: skip
    return csv_answer("groups-compared", LOOK_COLUMNS, rows)


@page(Action.SEE)
def steps_csv(request: Asked) -> HttpResponse:
    """The mean cumulative functions behind the pictures."""
    rows = (
        (part.name, f"{s.mgt:.3f}", str(s.events), str(s.watched),
         *(f"{figure:.5f}" for figure in (s.mean, s.standard_error, s.low, s.high)))
        for part in _comparison(request).parts
        for s in part.steps
    )  # fmt: skip
    return csv_answer("defects-by-group", STEP_COLUMNS, rows)


def _key(row: FamilyComparison) -> str:
    return f"{row.kind}.{row.design}.{row.steel}"


def _chosen(request: Asked) -> FamilyComparison | None:
    """The comparison asked for; None where nothing is asked, or too little is known of it."""
    family, by = asked_choice(request, "family", _names()), asked_choice(request, "by", By)
    if not family:
        return None
    kind, design, steel = family.split(".")
    return FamilyComparison.objects.filter(kind=kind, design=design, steel=steel, by=by).first()


def _names() -> Iterator[str]:
    """Every family there can be, compared yet or not."""
    for parts in product(ComponentKind, ("", *FrogDesign), ("", *Steel)):
        yield ".".join(parts)


def _comparison(request: Asked) -> Comparison:
    """The chosen one; without rows where there is none, so that the file has its head alone."""
    row = _chosen(request)
    if row is None:
        return Comparison(By.BATCH, (), (), (), 0)
    return comparison_for(request.user, row)


def _unit(units: UnitPreference) -> LengthUnit:
    unit = units.unit_of(Dimension.LENGTH)
    return LengthUnit(float(unit.factor), unit.shown or unit.symbol)


def _told(found: Comparison, unit: LengthUnit) -> dict[str, object]:
    compared = {look.group for look in found.looks}
    to_draw = [part for part in found.parts if part.name in compared and part.steps]
    return {
        "by": found.by,
        "sentence": summed_up(found.looks, unit),
        "rests_on": rests_on(found.by),
        "sides": sides(to_draw[:MOST_PICTURES]),
        "not_drawn": max(len(to_draw) - MOST_PICTURES, 0),
        "parts": found.parts,
        "of_a_repair": found.by in OF_A_REPAIR,
        "measures": _measures(found.looks, unit),
        "too_few": found.too_few,
        "without": found.without,
    }


def _measures(looks: Sequence[Look], unit: LengthUnit) -> list[Shown]:
    shown = []
    for measure, quantity in dict.fromkeys((look.measure, look.quantity) for look in looks):
        some = sorted(
            (x for x in looks if (x.measure, x.quantity) == (measure, quantity)),
            key=lambda look: look.group,
        )
        words = [look_sentence(look, unit) for look in some]
        if measure is Measure.WEAR:
            title, axis = Quantity(quantity).label, f"{unit.symbol} a MGT"
            picture, size = rates(some, words, unit.mm), unit.mm
        else:
            title = {
                Measure.DEFECTS: "Defects against the others",
                Measure.REPAIRS: "How often repairs fail against the others",
            }[measure]
            axis, picture, size = "times the others", ratios(some, words), 1.0
        rows = [_row(look, size) for look in some]
        symbol = unit.symbol if measure is Measure.WEAR else ""
        shown.append(Shown(title, axis, symbol, rows, picture))
    return shown


def _row(look: Look, size: float) -> tuple[Look, str, str, str, str]:
    value, low, high, others = (
        f"{figure / size:.3g}" for figure in (look.value, look.low, look.high, look.others)
    )
    return look, value, low, high, others
