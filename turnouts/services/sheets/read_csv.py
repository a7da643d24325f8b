"""One CSV file, read as the sheet it is named after."""

import codecs
import csv
import io

from turnouts.services.sheets.faults import Unreadable
from turnouts.services.sheets.raw import Cell, RawSheet, check_row_count, check_width, with_header

_OTHER_ENCODINGS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_SAVE_AS = 'Save it as "CSV UTF-8".'


def read_csv(name: str, content: bytes) -> RawSheet:
    """The rows of a CSV in UTF-8, with or without a byte order mark, parted by , or ;

    Raises Unreadable with a sentence for anything else.
    """
    text = _decoded(name, content)
    reader = csv.reader(
        io.StringIO(text, newline=""), delimiter=_delimiter(name, text), strict=True
    )
    numbered: list[tuple[int, list[Cell]]] = []
    try:
        for number, cells in enumerate(reader, start=1):
            check_row_count(name, number - 1)
            check_width(name, number, len(cells))
            numbered.append((number, list(cells)))
    except csv.Error as error:
        raise Unreadable(
            f"Line {reader.line_num} of {name}.csv cannot be read as CSV ({error}). "
            "Often a quotation mark is opened there and not closed."
        ) from None
    return with_header(name, numbered)


def _decoded(name: str, content: bytes) -> str:
    if not content.removeprefix(codecs.BOM_UTF8).strip():
        raise Unreadable(f"{name}.csv is empty.")
    if content.startswith(_OTHER_ENCODINGS):
        raise Unreadable(f"{name}.csv is in UTF-16, not in UTF-8. {_SAVE_AS}")
    if b"\0" in content:
        raise Unreadable(f"{name}.csv is not text. {_SAVE_AS}")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise Unreadable(
            f"{name}.csv is not in UTF-8: line {line} has a sign in another encoding. {_SAVE_AS}"
        ) from None


def _delimiter(name: str, text: str) -> str:
    """The mark that parts the header's names. Names hold neither mark, so this is no guess."""
    header = text.lstrip("\r\n").splitlines()[0]
    marks = [mark for mark in ",;\t" if mark in header]
    if marks == ["\t"] or len(marks) > 1:
        raise Unreadable(
            f"The header of {name}.csv is not parted by commas alone or by semicolons alone; "
            "use one of the two throughout."
        )
    return marks[0] if marks else ","
