"""An Excel workbook (.xlsx), read sheet by sheet without ever holding it as a tree."""

import io
import zipfile
from collections.abc import Iterator
from typing import Any

import openpyxl
from openpyxl.utils.escape import unescape

from turnouts.services.sheets.faults import Fault, Unreadable
from turnouts.services.sheets.raw import (
    COLUMNS_AT_MOST,
    ROWS_AT_MOST,
    SHEETS_AT_MOST,
    Broken,
    Cell,
    RawSheet,
    check_row_count,
    sheet_name,
    with_header,
)

_FORMULA = Broken(
    "This cell holds a formula, whose result may change. Copy the column and paste it as values."
)
_ENTITY = b"<!ENTITY"


def read_workbook(archive: zipfile.ZipFile, content: bytes) -> tuple[list[RawSheet], list[Fault]]:
    """The sheets of a workbook, and a fault for each one that cannot be read.

    Raises Unreadable when the whole file cannot be. ``archive`` has had its size checked.
    """
    _refuse_entities(archive)
    try:
        book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, keep_links=False)
    except Exception as error:  # openpyxl raises whatever the broken part made it stumble over
        raise Unreadable(f"The workbook is damaged and cannot be opened ({error}).") from error
    try:
        return _read_all(book)
    finally:
        book.close()


def _read_all(book: Any) -> tuple[list[RawSheet], list[Fault]]:
    if len(book.worksheets) > SHEETS_AT_MOST:
        raise Unreadable(f"The workbook has more than {SHEETS_AT_MOST} sheets.")
    sheets: list[RawSheet] = []
    faults: list[Fault] = []
    for tab in book.worksheets:
        try:
            name = sheet_name(tab.title)
            sheets.append(with_header(name, list(_rows(name, tab))))
        except Unreadable as refusal:
            faults.append(Fault(tab.title, 0, "", str(refusal)))
    return sheets, faults


def _rows(name: str, tab: Any) -> Iterator[tuple[int, list[Cell]]]:
    tab.reset_dimensions()  # what the file says of its own size is not to be trusted
    rows = tab.iter_rows(max_row=ROWS_AT_MOST + 2, max_col=COLUMNS_AT_MOST)
    number = 0
    try:
        for number, cells in enumerate(rows, start=1):
            check_row_count(name, number - 1)
            read = [_cell(cell) for cell in cells]
            while read and read[-1] is None:
                read.pop()
            if read or number == 1:
                yield number, read
    except Unreadable:
        raise
    except Exception as error:  # a part that is not XML, a number that is none
        raise Unreadable(
            f"Sheet {name} is damaged after row {number} and cannot be read ({error})."
        ) from error


def _cell(cell: Any) -> Cell:
    kind = cell.data_type
    if kind == "f":
        return _FORMULA
    if kind == "e":
        return Broken(f"This cell holds the error {cell.value}. Put its value in, or empty it.")
    value: Cell = cell.value
    return _unescaped(value) if isinstance(value, str) else value


def _unescaped(text: str) -> Cell:
    """A workbook writes signs that XML cannot hold as _x000D_, and such letters themselves with
    their underscore escaped (ECMA-376 part 1, ST_Xstring, from memory)."""
    plain: str = unescape(text)
    if plain != text and any("\ud800" <= sign <= "\udfff" for sign in plain):
        return Broken(f"{text} holds half a sign, which is no text. Type the text again.")
    return plain


def _refuse_entities(archive: zipfile.ZipFile) -> None:
    """A workbook never declares entities; one that does is made to swell when it is read."""
    for part in archive.infolist():
        if part.filename.endswith((".xml", ".rels")) and _ENTITY in archive.read(part):
            raise Unreadable("The workbook declares XML entities, which no spreadsheet writes.")
