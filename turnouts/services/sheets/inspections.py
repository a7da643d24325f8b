"""Sheets of instruments, inspections and measurements."""

import re
from decimal import Decimal
from typing import Any

from turnouts.access import Action
from turnouts.analysis.terms import Position, Quantity
from turnouts.analysis.units import QUANTITY_DIMENSION, Dimension, UnitError, unit_named
from turnouts.models import Inspection, Instrument, Measurement
from turnouts.services.sheets.batch import Batch, Row
from turnouts.services.sheets.checks import in_order
from turnouts.services.sheets.faults import CellFault
from turnouts.services.sheets.kinds import Kind, Text, Word
from turnouts.services.sheets.lookups import INSPECTION, INSTRUMENT, PERSON, TURNOUT
from turnouts.services.sheets.seats import components_of, found_where_it_stood, seats_of
from turnouts.services.sheets.spec import Cells, Exported, Extra, Measured, Names, Own, Sheet

POSITION = Word(tuple(position.value for position in Position))

_COLUMN: dict[Dimension, str] = {
    Dimension.LENGTH: "value",
    Dimension.HARDNESS: "hardness",
    Dimension.TEMPERATURE: "temperature",
}
_PLAIN_AMOUNT = re.compile(r"[0-9 ./-]+")
_AMOUNT_AND_UNIT = re.compile(r"(?P<amount>.*[0-9]) ?(?P<unit>[^0-9]+)")

INSTRUMENTS = Sheet(
    name="instruments",
    model=Instrument,
    right=Action.EDIT_INVENTORY,
    placed_by=(),
    columns=(
        Own("code", key=True),
        Own("name"),
        Measured("uncertainty", Dimension.LENGTH, field="uncertainty_mm"),
        Own("calibrated_on"),
        Own("calibration_due"),
    ),
    checks=(
        in_order("calibrated_on", "calibration_due", "The next calibration is due after the last."),
    ),
)

INSPECTIONS = Sheet(
    name="inspections",
    model=Inspection,
    right=Action.REPORT,
    columns=(
        Own("reference", key=True),
        Names("turnout", TURNOUT),
        Own("inspected_at"),
        Own("kind"),
        Names("inspector", PERSON),
        Own("note"),
        Own("thrown"),
    ),
    fixed=("turnout_id",),
    after=(found_where_it_stood,),
)


def _take_reading(batch: Batch) -> None:
    """The value from the one column that its quantity belongs in, with what was typed."""
    for row in list(batch.good()):
        dimension = QUANTITY_DIMENSION[Quantity(row.values["quantity"])]
        column = _COLUMN[dimension]
        others = [name for name in _COLUMN.values() if name != column and row.texts.get(name)]
        if others:
            sentence = f"{row.values['quantity']} is given in column {column}; empty this cell."
            batch.fault(row, others[0], sentence)
        elif row.extras.get(column) is None:
            batch.fault(row, column, f"{row.values['quantity']} needs its value in this column.")
        else:
            _keep_typed(batch, row, column, dimension)


def _keep_typed(batch: Batch, row: Row, column: str, dimension: Dimension) -> None:
    row.values["value"] = row.extras[column]
    typed, unit = as_typed(row.texts[column], batch.units[column], dimension)
    longest = Measurement._meta.get_field("typed").max_length or 0
    if len(typed) > longest:
        batch.fault(row, column, f"Type the value in {longest} characters at most.")
    row.values["typed"], row.values["typed_unit"] = typed, unit


def as_typed(text: str, column_unit: str, dimension: Dimension) -> tuple[str, str]:
    """The amount as it was typed and the unit it was typed in: its own, or else the column's."""
    match = None if _PLAIN_AMOUNT.fullmatch(text) else _AMOUNT_AND_UNIT.fullmatch(text)
    if match is None:
        return text, column_unit
    try:
        return match["amount"].strip(), unit_named(match["unit"], dimension).symbol
    except UnitError:
        return text, column_unit


def _take_uncertainty(batch: Batch) -> None:
    """The uncertainty typed, or for a new reading that of its instrument."""
    instruments: set[int] = {row.values.get("instrument_id") or 0 for row in batch.good()}
    own = dict(Instrument.objects.filter(pk__in=instruments).values_list("pk", "uncertainty_mm"))
    for row in list(batch.good()):
        typed = row.extras.get("uncertainty")
        if typed is None:
            row.at_first["uncertainty"] = own.get(row.values.get("instrument_id") or 0, Decimal(0))
        elif QUANTITY_DIMENSION[Quantity(row.values["quantity"])] is not Dimension.LENGTH:
            sentence = "Only a length has its uncertainty here; empty this cell."
            batch.fault(row, "uncertainty", sentence)
        else:
            row.values["uncertainty"] = typed


def _measurement_cells(rows: list[dict[str, Any]], kinds: dict[str, Kind]) -> list[Cells]:
    seats = seats_of(rows)
    return [seat | _reading_cells(row, kinds) for row, seat in zip(rows, seats, strict=True)]


def _reading_cells(row: dict[str, Any], kinds: dict[str, Kind]) -> Cells:
    """The reading as it was typed where that still gives the value kept, else the value itself."""
    dimension = QUANTITY_DIMENSION[Quantity(row["quantity"])]
    kind = kinds[_COLUMN[dimension]]
    typed = f"{row['typed']} {row['typed_unit']}"
    cells: Cells = {_COLUMN[dimension]: typed}
    try:
        exact = kind.read(typed) == row["value"]
    except CellFault:
        exact = False
    if not exact:
        cells[_COLUMN[dimension]] = kind.write(row["value"])
    elif row["typed_unit"] == getattr(kind, "unit", ""):
        cells[_COLUMN[dimension]] = row["typed"]
    if dimension is Dimension.LENGTH:
        cells["uncertainty"] = kinds["uncertainty"].write(row["uncertainty"])
    return cells


MEASUREMENTS = Sheet(
    name="measurements",
    model=Measurement,
    right=Action.REPORT,
    columns=(
        Names("inspection", INSPECTION, key=True),
        Extra("position", POSITION, key=True),
        Extra("component", Text()),
        Own("quantity", key=True),
        Own("route", key=True),
        Measured("behind_point", Dimension.LENGTH, field="behind_point_mm", key=True),
        Measured("value", Dimension.LENGTH),
        Measured("hardness", Dimension.HARDNESS),
        Measured("temperature", Dimension.TEMPERATURE),
        Measured("uncertainty", Dimension.LENGTH),
        Names("instrument", INSTRUMENT),
    ),
    match=("inspection_id", "component_id", "quantity", "route", "behind_point_mm"),
    beside=("typed", "typed_unit"),
    before=(components_of, _take_reading, _take_uncertainty),
    exported=Exported(
        paths=(
            "inspection_id",
            "component_id",
            "component__serial",
            "value",
            "uncertainty",
            "typed",
            "typed_unit",
        ),
        fill=_measurement_cells,
    ),
)
