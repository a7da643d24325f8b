"""Sheets of defects and the steps of their lives."""

from collections import defaultdict
from datetime import datetime, time
from typing import Any

from django.db.models import F, Q
from django.utils import timezone

from turnouts.access import Action
from turnouts.analysis import life
from turnouts.analysis.terms import DefectState
from turnouts.analysis.units import Dimension
from turnouts.models import Defect, DefectStep
from turnouts.services.sheets.batch import Batch, Row
from turnouts.services.sheets.inspections import POSITION
from turnouts.services.sheets.kinds import Kind, Text
from turnouts.services.sheets.lookups import DEFECT, INSPECTION, PERSON
from turnouts.services.sheets.seats import components_of, seats_of
from turnouts.services.sheets.spec import Cells, Exported, Extra, Measured, Names, Own, Sheet
from turnouts.services.sheets.stays import Visit, visits

_AT_ONCE = 2_000


def _take_from_visit(batch: Batch) -> None:
    """Turnout and, where it is not given, day of report come from the inspection."""
    found = visits({row.values["inspection_id"] for row in batch.good()})
    for row in list(batch.good()):
        visit = found[row.values["inspection_id"]]
        row.values["turnout_id"] = visit.turnout
        if row.values.get("reported_on") is None:
            row.values["reported_on"] = visit.day
        elif row.values["reported_on"] < visit.day:
            batch.fault(
                row, "reported_on", f"It was found on {visit.day} and cannot be reported before."
            )


def _first_steps(batch: Batch) -> None:
    """Each new defect is reported: the first step of its life."""
    new = [row.record for row in batch.good() if row.is_new]
    found = visits({defect.inspection_id for defect in new})
    DefectStep.objects.bulk_create(
        (_first_step(defect, found[defect.inspection_id]) for defect in new), batch_size=_AT_ONCE
    )


def _first_step(defect: Defect, visit: Visit) -> DefectStep:
    midnight = timezone.make_aware(datetime.combine(defect.reported_on, time()))
    return DefectStep(
        defect=defect,
        state=DefectState.REPORTED.value,
        at=visit.at if visit.day == defect.reported_on else midnight,
        by_id=visit.inspector,
    )


def _defect_cells(rows: list[dict[str, Any]], _: dict[str, Kind]) -> list[Cells]:
    return seats_of(rows)


DEFECTS = Sheet(
    name="defects",
    model=Defect,
    right=Action.REPORT,
    columns=(
        Own("reference", key=True),
        Names("inspection", INSPECTION),
        Extra("position", POSITION, required=True),
        Extra("component", Text()),
        Own("kind"),
        Own("zone"),
        Measured("length", Dimension.LENGTH, field="length_mm"),
        Measured("width", Dimension.LENGTH, field="width_mm"),
        Measured("depth", Dimension.LENGTH, field="depth_mm"),
        Measured("behind_point", Dimension.LENGTH, field="behind_point_mm"),
        Own("orientation"),
        Own("breaks_surface"),
        Own("reaches_edge"),
        Own("reaches_base"),
        Own("head_reach"),
        Own("flaw"),
        Own("head_share_percent"),
        Own("welder_access"),
        Measured("metal_left", Dimension.LENGTH, field="metal_left_mm"),
        Measured("hardened", Dimension.LENGTH, field="hardened_mm"),
        Own("damaged"),
        Own("reported_on", derived=True),
        Own("note"),
    ),
    fixed=("inspection_id",),
    before=(components_of, _take_from_visit),
    after=(_first_steps,),
    exported=Exported(
        paths=("inspection_id", "component_id", "component__serial"), fill=_defect_cells
    ),
)


def _steps_follow(batch: Batch) -> None:
    """The steps of each defect must follow each other, after those it has taken already."""
    new: dict[int, list[Row]] = defaultdict(list)
    for row in batch.good():
        if row.is_new:
            new[row.values["defect_id"]].append(row)
    present = _last_steps(set(new))
    for defect, rows in new.items():
        state, at = present[defect]
        for row in sorted(rows, key=lambda row: (row.values["at"], row.number)):
            wanted = DefectState(row.values["state"])
            if row.values["at"] < at:
                batch.fault(row, "at", f"The step before it was taken later, at {_local(at)}.")
            elif not life.may_follow(state, wanted):
                batch.fault(row, "state", life.why_not(state, wanted))
            state, at = wanted, row.values["at"]


def _last_steps(defects: set[int]) -> dict[int, tuple[DefectState, datetime]]:
    rows = DefectStep.objects.filter(defect_id__in=defects).order_by("at", "id")
    return {
        defect: (DefectState(state), at)
        for defect, state, at in rows.values_list("defect_id", "state", "at")
    }


def _local(at: datetime) -> str:
    return timezone.localtime(at).isoformat(sep=" ", timespec="minutes")


def _bring_states_up_to_date(batch: Batch) -> None:
    """A defect is in the state of its last step; one query a state."""
    in_state: dict[str, list[int]] = defaultdict(list)
    touched = {row.values["defect_id"] for row in batch.good() if row.is_new}
    for defect, (state, _) in _last_steps(touched).items():
        in_state[state.value].append(defect)
    for value, defects in in_state.items():
        Defect.objects.filter(pk__in=defects).update(state=value, version=F("version") + 1)


DEFECT_STEPS = Sheet(
    name="defect_steps",
    model=DefectStep,
    right=Action.CONFIRM,
    columns=(
        Names("defect", DEFECT, key=True),
        Own("state", key=True),
        Own("at", key=True),
        Names("by", PERSON),
        Own("note"),
    ),
    written_once=True,
    checks=(_steps_follow,),
    after=(_bring_states_up_to_date,),
    # The first step is written along with the defect itself.
    exported=Exported(
        leave_out=Q(state=DefectState.REPORTED.value), order=("defect__reference", "at")
    ),
)
