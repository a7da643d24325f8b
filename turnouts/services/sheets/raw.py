"""Sheets as they stand in a file, before anybody asks what the columns mean."""

import re
from dataclasses import dataclass
from datetime import date, datetime, time

from turnouts.services.sheets.faults import Unreadable

ROWS_AT_MOST = 200_000
COLUMNS_AT_MOST = 100
SHEETS_AT_MOST = 60
UNPACKED_AT_MOST = 150 * 1024 * 1024
"""Limits that no railway's sheet comes near, and that keep a hostile file from filling memory."""

_SHEET_NAME = re.compile(r"[a-z][a-z_]{0,39}")


@dataclass(frozen=True, slots=True)
class Broken:
    """A cell that holds no value of its own, such as a formula; the text says what to do."""

    sentence: str


Cell = str | int | float | bool | date | datetime | time | Broken | None


@dataclass(frozen=True, slots=True)
class RawSheet:
    """A header and the rows below it, each with its number as a spreadsheet shows it."""

    name: str
    header: list[Cell]
    rows: list[tuple[int, list[Cell]]]


def sheet_name(text: str) -> str:
    """The name of a sheet as typed on a tab or a file; Unreadable when it cannot be one."""
    name = text.strip().lower().replace(" ", "_").replace("-", "_")
    if not _SHEET_NAME.fullmatch(name):
        raise Unreadable(f'"{text[:60]}" is not the name of a sheet.')
    return name


def check_row_count(name: str, count: int) -> None:
    if count > ROWS_AT_MOST:
        raise Unreadable(
            f"Sheet {name} has more than {ROWS_AT_MOST:,} rows. Send it in smaller parts."
        )


def check_width(name: str, row: int, width: int) -> None:
    if width > COLUMNS_AT_MOST:
        raise Unreadable(
            f"Row {row} of sheet {name} has {width:,} cells; at most {COLUMNS_AT_MOST} are read."
        )


def with_header(name: str, numbered: list[tuple[int, list[Cell]]]) -> RawSheet:
    """Split off the header, which is the first row; blank rows below it are left out."""
    if not numbered or numbered[0][0] != 1 or is_blank(numbered[0][1]):
        raise Unreadable(f"Sheet {name} is empty: its first row must name the columns.")
    rows = [(number, cells) for number, cells in numbered[1:] if not is_blank(cells)]
    return RawSheet(name, numbered[0][1], rows)


def is_blank(cells: list[Cell]) -> bool:
    return all(cell is None or (isinstance(cell, str) and not cell.strip()) for cell in cells)
