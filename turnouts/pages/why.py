"""Why does a component come back? Its wear, its defects, hints at causes; tables and CSV."""

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from uuid import uuid4

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from turnouts.access import Action, may
from turnouts.analysis import showing
from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.recurrence.life_fits import life_sentence
from turnouts.analysis.units import Dimension
from turnouts.models import Component
from turnouts.pages.asking import Asked, found, page
from turnouts.pages.why_drawing import Drawing, defects_drawing, wear_drawing
from turnouts.services.component_file import (
    ComponentFile,
    Measured,
    Recurrence,
    component_file,
    with_history,
)
from turnouts.services.component_rows import Taken
from turnouts.services.errors import Refused

WEAR_COLUMNS = ("quantity", "route", "behind_point_mm", "inspection", "date", "mgt_since_reset",
                "value_mm", "fits")  # fmt: skip
DEFECT_COLUMNS = ("defect", "date", "mgt", "kind", "zone", "repaired_on")


@dataclass(frozen=True)
class ShownReading:
    taken: Taken
    since_mgt: float
    fits: bool


@dataclass(frozen=True)
class Shown:
    """One quantity as the reader sees it."""

    title: str
    unit: str
    sentence: str
    limits: list[str]
    inference: Sequence[str]
    drawing: Drawing | None
    readings: list[ShownReading]
    quantity: str


@dataclass(frozen=True)
class ShownRecurrence:
    sentences: list[str]
    inference: list[str]
    drawing: Drawing | None


@page(Action.SEE)
def why(request: Asked, serial: str) -> HttpResponse:
    """The page of one component; where no tonnage is known, the reason and nothing else."""
    row = found(request, with_history(Component.objects.all()), serial=serial)
    units = request.user.units
    try:
        read = component_file(row, timezone.localdate(), units)
    except Refused as refusal:
        return render(request, "turnouts/why.html", {"component": row, "refused": str(refusal)})
    context = {
        "component": row,
        "file": read,
        "key": uuid4(),
        "may_ask": may(request.user, Action.ESTIMATE),
        "quantities": [_shown(one, units) for one in read.measured],
        "recurrence": _recurrence(read),
    }
    return render(request, "turnouts/why.html", context)


@page(Action.SEE)
def wear_csv(request: Asked, serial: str) -> HttpResponse:
    """The readings behind the pictures of wear, in mm."""
    read = _file(request, serial)
    rows = (
        (
            one.place[0].value,
            one.place[1],
            "" if one.place[2] is None else f"{one.place[2].normalize():f}",
            shown.taken.inspection,
            f"{timezone.localdate(shown.taken.at)}",
            f"{shown.since_mgt:.2f}",
            f"{shown.taken.value.normalize():f}",
            "yes" if shown.fits else "no",
        )
        for one in read.measured
        for shown in _readings(one)
    )
    return csv_answer(f"wear-of-{serial}", WEAR_COLUMNS, rows)


@page(Action.SEE)
def defects_csv(request: Asked, serial: str) -> HttpResponse:
    """The defects behind the picture, with the tonnage by which each was found."""
    read = _file(request, serial)
    rows = (
        (
            one.fact.reference,
            f"{one.fact.on}",
            f"{one.fact.mgt:.2f}",
            one.fact.kind.value,
            one.fact.zone.value,
            " ".join(f"{day}" for day in one.repaired_on),
        )
        for one in read.life.defects
    )
    return csv_answer(f"defects-of-{serial}", DEFECT_COLUMNS, rows)


def _file(request: Asked, serial: str) -> ComponentFile:
    row = found(request, with_history(Component.objects.all()), serial=serial)
    return component_file(row, timezone.localdate())


def csv_answer(name: str, columns: Sequence[str], rows: Iterable[Sequence[str]]) -> HttpResponse:
    """A table as a file to save; letters of the name that no file name may hold are replaced."""
    answer = HttpResponse(content_type="text/csv; charset=utf-8")
    safe = "".join(letter if letter.isalnum() or letter in "-." else "-" for letter in name)
    answer["Content-Disposition"] = f'attachment; filename="{safe}.csv"'
    writer = csv.writer(answer)
    writer.writerow(columns)
    writer.writerows(rows)
    return answer


def _shown(one: Measured, units: showing.UnitPreference) -> Shown:
    quantity, route, behind = one.place
    title = quantity.label + (f", {route}" if route else "")
    if behind is not None:
        title += f", {showing.show(behind, Dimension.LENGTH, units)} behind the point"
    unit = units.unit_of(Dimension.LENGTH)
    readings = _readings(one)
    words = [
        f"{timezone.localdate(r.taken.at)}, {r.since_mgt:.1f} MGT: "
        f"{showing.show(r.taken.value, Dimension.LENGTH, units)}"
        for r in readings
    ]
    drawn = wear_drawing(one, float(unit.factor), words) if len(readings) > 1 else None
    return Shown(
        title=title,
        unit=unit.shown or unit.symbol,
        sentence=_sentence(one, float(unit.factor), unit.shown or unit.symbol),
        limits=_limits(one, units),
        inference=() if isinstance(one.wear, NotEnough) else one.wear.limits_of_inference,
        drawing=drawn,
        readings=readings,
        quantity=quantity.value,
    )


def _readings(one: Measured) -> list[ShownReading]:
    odd = set() if isinstance(one.wear, NotEnough) else {(r.mgt, r.value) for r in one.wear.odd}
    return [
        ShownReading(
            taken, taken.mgt - one.run.began_mgt, (taken.mgt, float(taken.value)) not in odd
        )
        for taken in one.readings
    ]


def _sentence(one: Measured, unit_mm: float, unit: str) -> str:
    if isinstance(one.wear, NotEnough):
        return one.wear.sentence
    low, high = (rate / unit_mm for rate in one.wear.line.rate_interval())
    rate = one.wear.line.rate / unit_mm
    way = "is steady" if low < 0 < high else "grows" if rate > 0 else "falls"
    named = one.place[0].label
    sure = f"with 95 % confidence between {low:.2g} and {high:.2g}"
    if low < 0 < high:
        said = f"{named} shows no sure change: {rate:.2g} {unit} a MGT, {sure}"
    else:
        said = f"{named} {way} by {abs(rate):.2g} {unit} a MGT, {sure}"
    like = f", read beside {one.wear.like_runs} like runs" if one.wear.like_runs else ""
    odd = len(one.wear.odd)
    left = f" {odd} did not fit and {'was' if odd == 1 else 'were'} left out." if odd else ""
    return f"{said}; from {one.wear.used} readings since the last reset{like}.{left}"


def _limits(one: Measured, units: showing.UnitPreference) -> list[str]:
    said = {} if isinstance(one.wear, NotEnough) else {
        (r.limit.value, r.limit.name): r.sentence for r in one.wear.reaches
    }  # fmt: skip
    return [
        " ".join(
            part
            for part in (
                f"Limit {'not less than' if limit.least else 'not more than'} "
                f"{showing.show(limit.mm, Dimension.LENGTH, units)} ({limit.clause}).",
                said.get((float(limit.mm), limit.clause), ""),
                limit.unsettled,
            )
            if part
        )
        for limit in one.limits
    ]


def _recurrence(read: ComponentFile) -> ShownRecurrence:
    if isinstance(read.recurrence, NotEnough):
        return ShownRecurrence([read.recurrence.sentence], [], None)
    known: Recurrence = read.recurrence
    own = known.own_history
    said = [_against(known)]
    said.append(known.law.sentence)
    if isinstance(known.repairs, NotEnough):
        said.append(f"How long a repair lasts: {known.repairs.sentence}")
    else:
        failed = sum(life.failed for life in known.own_repairs)
        said.append(life_sentence(known.repairs))
        said.append(
            f"On this component {failed} of {len(known.own_repairs)} repairs of lost metal failed "
            "again in the same zone."
        )
    notes: list[str] = []
    if not isinstance(known.law, NotEnough):
        notes += known.law.limits_of_inference
    if known.family is not None:
        notes += known.family.limits_of_inference
    return ShownRecurrence(said, notes, defects_drawing(known) if own.events_mgt else None)


def _against(known: Recurrence) -> str:
    own = known.own_history
    count = len(own.events_mgt)
    counted = f"{count} defect{'' if count == 1 else 's'}"
    said = f"{counted} on this component from {own.begins_mgt:.0f} to {own.ends_mgt:.0f} MGT"
    if known.family is None:
        return f"{said}; there is no like component to set beside it."
    usual = known.family.at(own.ends_mgt) - known.family.at(own.begins_mgt)
    return f"{said}; such components have had {usual:.1f} over the same tonnage on average."
