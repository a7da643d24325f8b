"""Inspections, measurements and defects as they are reported, and the steps of a defect's life."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import IntegrityError, transaction
from django.utils import timezone

from turnouts.access import Action, require
from turnouts.analysis import life
from turnouts.analysis.terms import (
    DefectKind,
    DefectState,
    HeadReach,
    Orientation,
    Quantity,
    RailFlaw,
    Route,
    Zone,
)
from turnouts.models import (
    Component,
    Defect,
    DefectStep,
    Inspection,
    Instrument,
    Measurement,
    Person,
    Turnout,
)
from turnouts.services.errors import Conflict, Refused, check_version


@dataclass(frozen=True)
class NewMeasurement:
    """One reading: ``value`` in mm, HBW or degC; what was typed is kept beside it."""

    quantity: Quantity
    value: Decimal
    typed: str
    typed_unit: str
    component: Component | None = None
    route: Route | None = None
    behind_point_mm: Decimal | None = None
    instrument: Instrument | None = None
    uncertainty: Decimal | None = None


@dataclass(frozen=True)
class NewDefect:
    """A defect to report. Sizes in mm; None means not measured."""

    reference: str
    component: Component
    kind: DefectKind
    zone: Zone
    length_mm: Decimal | None = None
    width_mm: Decimal | None = None
    depth_mm: Decimal | None = None
    behind_point_mm: Decimal | None = None
    orientation: Orientation | None = None
    breaks_surface: bool | None = None
    reaches_edge: bool | None = None
    reaches_base: bool | None = None
    head_reach: HeadReach | None = None
    flaw: RailFlaw | None = None
    head_share_percent: Decimal | None = None
    welder_access: bool | None = None
    metal_left_mm: Decimal | None = None
    hardened_mm: Decimal | None = None
    damaged: bool | None = None
    note: str = ""


@transaction.atomic
def report_inspection(
    *,
    by: Person,
    reference: str,
    turnout: Turnout,
    inspected_at: datetime,
    kind: str,
    thrown: bool | None = None,
    note: str = "",
    measurements: Sequence[NewMeasurement] = (),
    defects: Sequence[NewDefect] = (),
) -> Inspection:
    """Keep one visit with its readings and defects; all of it or nothing."""
    require(by, Action.REPORT, turnout.territory)
    _check_once(measurements)
    try:
        with transaction.atomic():
            inspection = Inspection.objects.create(
                reference=reference,
                turnout=turnout,
                inspected_at=inspected_at,
                kind=kind,
                inspector=by,
                thrown=thrown,
                note=note,
            )
    except IntegrityError:
        raise Conflict(
            f"There is an inspection {reference} already; give this one its own."
        ) from None
    Measurement.objects.bulk_create(_row(inspection, reading) for reading in measurements)
    for defect in defects:
        report_defect(by=by, inspection=inspection, defect=defect)
    return inspection


def _check_once(measurements: Sequence[NewMeasurement]) -> None:
    seen = set()
    for reading in measurements:
        of = reading.component.serial if reading.component else "the turnout itself"
        route = f" {reading.route.label.lower()}," if reading.route else ""
        thing = (reading.quantity, route, of, reading.behind_point_mm)
        if thing in seen:
            raise Refused(
                f"{reading.quantity.label},{route} on {of} is given twice at the same place; "
                "keep one of the two."
            )
        seen.add(thing)


def _row(inspection: Inspection, reading: NewMeasurement) -> Measurement:
    own = reading.instrument.uncertainty_mm if reading.instrument else Decimal(0)
    return Measurement(
        inspection=inspection,
        component=reading.component,
        quantity=reading.quantity.value,
        route=reading.route.value if reading.route else "",
        behind_point_mm=reading.behind_point_mm,
        value=reading.value,
        uncertainty=own if reading.uncertainty is None else reading.uncertainty,
        typed=reading.typed,
        typed_unit=reading.typed_unit,
        instrument=reading.instrument,
    )


@transaction.atomic
def report_defect(*, by: Person, inspection: Inspection, defect: NewDefect) -> Defect:
    """Keep one defect found at ``inspection``, with the first step of its life."""
    require(by, Action.REPORT, inspection.turnout.territory)
    if Defect.objects.filter(reference=defect.reference).exists():
        raise Conflict(f"There is a defect {defect.reference} already; give this one its own.")
    day = timezone.localdate(inspection.inspected_at)
    _check_stood_there(defect.component, inspection.turnout, day)
    values = {name: value for name, value in vars(defect).items() if value is not None}
    row = Defect.objects.create(
        inspection=inspection, turnout=inspection.turnout, reported_on=day, **values
    )
    DefectStep.objects.create(
        defect=row, state=DefectState.REPORTED.value, at=inspection.inspected_at, by=by
    )
    return row


def _check_stood_there(component: Component, turnout: Turnout, day: date) -> None:
    stays = component.installations.filter(turnout=turnout, installed_on__lte=day)
    if not any(stay.removed_on is None or stay.removed_on >= day for stay in stays):
        raise Refused(
            f"Component {component.serial} did not stand in {turnout.code} on {day:%Y-%m-%d}; "
            "give the component that was there, or correct its installation first."
        )


@transaction.atomic
def advance_defect(
    *,
    by: Person,
    defect: Defect,
    state: DefectState,
    at: datetime,
    note: str = "",
    expected_version: int | None = None,
) -> Defect:
    """Take the next step in a defect's life, or refuse with a sentence.

    The caller has checked the right for what it is doing (triage, planning, recording); the row
    is locked, so that two steps at once cannot both start from the same state.
    """
    row = Defect.objects.select_for_update().get(pk=defect.pk)
    if expected_version is not None:
        check_version(f"Defect {row.reference}", row.version, expected_version)
    present = DefectState(row.state)
    if not life.may_follow(present, state):
        raise Conflict(f"Defect {row.reference}: {life.why_not(present, state)}")
    row.state = state.value
    row.version += 1
    row.save(update_fields=["state", "version"])
    DefectStep.objects.create(defect=row, state=state.value, at=at, by=by, note=note)
    return row
