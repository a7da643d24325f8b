"""Sheets written as a workbook or as a ZIP of CSV files; the same rows give the same bytes."""

import csv
import io
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from itertools import chain
from typing import IO

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from turnouts.services.errors import Refused
from turnouts.services.sheets.kinds import Written

_ONE_DAY = datetime(2000, 1, 1)


@dataclass(frozen=True, slots=True)
class WrittenSheet:
    """A sheet ready to be written; its rows are made as they are asked for, once."""

    name: str
    header: tuple[str, ...]
    rows: Iterable[Sequence[Written]]


def to_workbook(sheets: Iterable[WrittenSheet], held: IO[bytes]) -> None:
    """An .xlsx workbook with one tab a sheet, its header kept in sight.

    Rows go to a temporary file as they come, so that no sheet is held in memory. Raises Refused
    for what a workbook cannot hold.
    """
    with xlsxwriter.Workbook(held, {"constant_memory": True}) as book:
        book.set_properties({"created": _ONE_DAY})
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        for sheet in sheets:
            tab = book.add_worksheet(sheet.name)
            tab.freeze_panes(1, 0)
            for number, row in enumerate(chain([sheet.header], sheet.rows)):
                _put_row(tab, number, row, day)


def _put_row(tab: Worksheet, number: int, row: Sequence[Written], day: Format) -> None:
    """Numbers and dates as such; a text always as text, so that nothing is worked out of it."""
    for column, value in enumerate(row):
        if value is None:
            continue
        if isinstance(value, str):
            refused = tab.write_string(number, column, value)
        elif isinstance(value, date):
            refused = tab.write_datetime(number, column, value, day)
        else:
            refused = tab.write_number(number, column, value)
        if refused:
            raise Refused(
                f"Sheet {tab.get_name()}, row {number + 1}, column {column + 1}: a workbook cannot "
                "hold so many rows or so long a text. Take the records out as a ZIP of CSV files."
            )


def to_zip(sheets: Iterable[WrittenSheet], held: IO[bytes]) -> None:
    """A ZIP of CSV files in UTF-8 with a byte order mark, which spreadsheets look for."""
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for sheet in sheets:
            entry = zipfile.ZipInfo(f"{sheet.name}.csv", _ONE_DAY.timetuple()[:6])
            entry.compress_type = zipfile.ZIP_DEFLATED
            with (
                archive.open(entry, "w") as packed,
                io.TextIOWrapper(packed, "utf-8-sig", newline="") as text,
            ):
                _write_csv(sheet, text)


def _write_csv(sheet: WrittenSheet, text: IO[str]) -> None:
    writer = csv.writer(text)
    writer.writerow(sheet.header)
    writer.writerows([_text(value) for value in row] for row in sheet.rows)


def _text(value: Written) -> str:
    if value is None:
        return ""
    if isinstance(value, Decimal):
        return f"{value:f}"
    return value.isoformat() if isinstance(value, date) else str(value)
