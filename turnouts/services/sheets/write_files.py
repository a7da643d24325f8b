"""Sheets written as a workbook or as a ZIP of CSV files; the same rows give the same bytes."""

import csv
import io
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

import openpyxl
from openpyxl.cell import WriteOnlyCell

from turnouts.services.sheets.kinds import Written

_ONE_DAY = (2000, 1, 1, 0, 0, 0)


@dataclass(frozen=True, slots=True)
class WrittenSheet:
    """A sheet ready to be written."""

    name: str
    header: tuple[str, ...]
    rows: Sequence[Sequence[Written]]


def to_workbook(sheets: Iterable[WrittenSheet]) -> bytes:
    """An .xlsx workbook with one tab a sheet, its header kept in sight."""
    book = openpyxl.Workbook(write_only=True)
    for sheet in sheets:
        tab = book.create_sheet(sheet.name)
        tab.freeze_panes = "A2"
        tab.append(list(sheet.header))
        for row in sheet.rows:
            tab.append([_cell(tab, value) for value in row])
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def to_zip(sheets: Iterable[WrittenSheet]) -> bytes:
    """A ZIP of CSV files in UTF-8 with a byte order mark, which spreadsheets look for."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for sheet in sheets:
            entry = zipfile.ZipInfo(f"{sheet.name}.csv", _ONE_DAY)
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, to_csv(sheet).encode("utf-8-sig"))
    return held.getvalue()


def to_csv(sheet: WrittenSheet) -> str:
    """One sheet as CSV."""
    held = io.StringIO(newline="")
    writer = csv.writer(held)
    writer.writerow(sheet.header)
    writer.writerows([_text(value) for value in row] for row in sheet.rows)
    return held.getvalue()


def _text(value: Written) -> str:
    if value is None:
        return ""
    if isinstance(value, Decimal):
        return f"{value:f}"
    return value.isoformat() if isinstance(value, date) else str(value)


def _cell(tab: object, value: Written) -> object:
    """Numbers and dates as such; a text is marked as text, so that nothing is worked out of it."""
    if not isinstance(value, str):
        return value
    cell = WriteOnlyCell(tab, value=value)
    cell.data_type = "s"
    return cell
