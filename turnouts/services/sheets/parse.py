"""From a raw sheet to rows with values: header, units, cells. Finds every fault, not the first."""

import re
from collections.abc import Callable
from datetime import date, time
from typing import Any

from turnouts.services.sheets.batch import Batch, Row, Upload
from turnouts.services.sheets.faults import HEADER_ROW, CellFault
from turnouts.services.sheets.kinds import as_text
from turnouts.services.sheets.physical import Physical, header_unit
from turnouts.services.sheets.raw import Cell, RawSheet, is_blank
from turnouts.services.sheets.spec import Bound, Measured, Sheet
from turnouts.services.sheets.texts import quoted

_HEADER = re.compile(r"(?P<name>[^\[\]]*)(?:\[(?P<unit>[^\[\]]*)\])?")
_STEP = 2_000

Reader = Callable[[Cell], Any]
Place = tuple[int, Bound, Reader]


def parse_sheet(raw: RawSheet, sheet: Sheet, upload: Upload) -> Batch:
    """The rows of ``raw``, each cell read; faults are kept in ``upload``.

    A column that is not there is left alone, or empty where it tells the rows apart. With a fault
    in the header no row is read: every one would only repeat it.
    """
    batch = Batch(sheet, upload, (), {})
    before = upload.faults.count
    places = _read_header(raw, batch)
    batch.present = tuple(bound.name for _, bound, _ in places)
    if upload.faults.count > before:
        upload.unread.add(sheet.name)
        return batch
    without = [bound for bound in sheet.left_empty if bound.name not in batch.present]
    for done, (number, cells) in enumerate(raw.rows, start=1):
        row = _read_row(batch, number, cells, places, len(raw.header))
        _leave_empty(row, without)
        batch.rows.append(row)
        if done % _STEP == 0:
            upload.advance(_STEP, f"Reading {sheet.name}")
    upload.advance(len(raw.rows) % _STEP, f"Reading {sheet.name}")
    return batch


def _read_header(raw: RawSheet, batch: Batch) -> list[Place]:
    places: list[Place] = []
    for index, cell in enumerate(raw.header):
        try:
            place = _read_heading(index, cell, batch, raw)
        except CellFault as fault:
            batch.fault_in_sheet(HEADER_ROW, _shown(cell), str(fault))
            continue
        if place is not None:
            places.append(place)
    _check_complete(batch, {bound.name for _, bound, _ in places})
    return places


def _read_heading(index: int, cell: Cell, batch: Batch, raw: RawSheet) -> Place | None:
    text = as_text(cell).strip().lower()
    if not text:
        _check_nothing_below(index, raw)
        return None
    match = _HEADER.fullmatch(text)
    name = match["name"].strip().replace(" ", "_") if match else text
    bound = batch.sheet.bound.get(name)
    if match is None or bound is None:
        known = ", ".join(batch.sheet.bound)
        raise CellFault(f"Column {quoted(text)} is not known here. The columns are: {known}.")
    if name in batch.units:
        raise CellFault(f"Column {name} is there twice.")
    batch.units[name] = ""
    return index, bound, _reader(bound, match["unit"], batch)


def _check_nothing_below(index: int, raw: RawSheet) -> None:
    for number, cells in raw.rows:
        if index < len(cells) and as_text(cells[index]).strip():
            raise CellFault(f"Column {index + 1} has no name, but row {number} has a cell in it.")


def _reader(bound: Bound, unit: str | None, batch: Batch) -> Reader:
    if bound.dimension is None:
        if unit is not None:
            raise CellFault(f"Column {bound.name} has no unit; leave out [{unit}].")
        if bound.kind is None:
            raise TypeError(f"Column {bound.name} has neither a kind nor a dimension.")
        return bound.kind.read
    if not (unit or "").strip():
        raise CellFault(f"Column {bound.name} needs its unit in the header: {_like(bound)}.")
    symbol = header_unit(unit or "", bound.dimension)
    batch.units[bound.name] = symbol
    return Physical(bound.dimension, symbol, bound.places).read


_UNITS_FOR_EXAMPLE = {
    "length": ("in", "mm"),
    "distance": ("mi", "m"),
    "speed": ("mph", "km/h"),
    "temperature": ("degF", "degC"),
    "mass": ("lb", "kg"),
    "tonnage": ("MGT",),
    "hardness": ("HBW",),
}


def _like(bound: Bound) -> str:
    dimension = bound.dimension.value if bound.dimension else ""
    return " or ".join(f"{bound.name} [{unit}]" for unit in _UNITS_FOR_EXAMPLE[dimension])


def _check_complete(batch: Batch, found: set[str]) -> None:
    named = found | set(batch.units)
    for bound in batch.sheet.bound.values():
        if bound.name not in named and (bound.required or bound.name in batch.sheet.asked):
            shown = _like(bound) if isinstance(bound.column, Measured) else bound.name
            batch.fault_in_sheet(HEADER_ROW, bound.name, f"Column {shown} is missing.")


def _shown(cell: Cell) -> str:
    return cell.strip() if isinstance(cell, str) else ""


def _read_row(batch: Batch, number: int, cells: list[Cell], places: list[Place], width: int) -> Row:
    row = Row(number)
    faults: list[tuple[str, str]] = []
    for index, bound, read in places:
        cell = cells[index] if index < len(cells) else None
        try:
            value = _read_cell(row, bound, cell, read)
        except CellFault as fault:
            faults.append((bound.name, str(fault)))
            continue
        kept = row.values if bound.attname else row.extras
        kept[bound.attname or bound.name] = value
    if not is_blank(cells[width:]):
        faults.append(("", f"The row has {len(cells)} cells, but the header names {width}."))
    for column, sentence in faults:  # once all texts are read, for they name the bad row
        batch.fault(row, column, sentence)
    return row


def _leave_empty(row: Row, without: list[Bound]) -> None:
    for bound in without:
        row.texts[bound.name] = ""
        kept = row.values if bound.attname else row.extras
        kept[bound.attname or bound.name] = bound.empty


def _read_cell(row: Row, bound: Bound, cell: Cell, read: Reader) -> Any:
    if cell is None or (isinstance(cell, str) and (not cell or cell.isspace())):
        row.texts[bound.name] = ""
        if bound.required:
            raise CellFault(f"Column {bound.name} must not be empty.")
        return bound.empty
    value = read(cell)
    row.texts[bound.name] = _text(cell, value)
    return value


def _text(cell: Cell, value: Any) -> str:
    """What the person typed, for names and sentences."""
    if isinstance(value, str):
        return value
    return str(value) if isinstance(cell, date | time) else as_text(cell).strip()
