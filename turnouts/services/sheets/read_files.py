"""From uploaded bytes to raw sheets: a workbook, a CSV, or a ZIP of CSVs."""

import io
import zipfile
from collections.abc import Sequence
from pathlib import PurePosixPath

from turnouts.services.sheets.faults import Fault, Unreadable
from turnouts.services.sheets.raw import SHEETS_AT_MOST, UNPACKED_AT_MOST, RawSheet, sheet_name
from turnouts.services.sheets.read_csv import read_csv
from turnouts.services.sheets.read_workbook import read_workbook

_OLD_EXCEL = b"\xd0\xcf\x11\xe0"
_ZIP = b"PK\x03\x04"
_EMPTY_ZIP = b"PK\x05\x06"
_ENCRYPTED = 0x1
_ONE_DAY = (2000, 1, 1, 0, 0, 0)

Read = tuple[list[RawSheet], list[Fault]]


def read_file(name: str, content: bytes) -> Read:
    """The sheets in one file, and a fault for each part that cannot be read.

    What it is shows from its bytes, never from its name: a workbook may be called anything.
    """
    try:
        sheets, faults = _read(name, content)
    except Unreadable as refusal:
        return [], [Fault(name, 0, "", str(refusal))]
    return _each_once(sheets, faults)


def pack(files: Sequence[tuple[str, bytes]]) -> tuple[str, bytes]:
    """Several files as one: always the same bytes for the same files, in whatever order."""
    if len(files) == 1:
        return files[0]
    if not files:
        raise Unreadable("No file was chosen.")
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in sorted(files):
            archive.writestr(zipfile.ZipInfo(PurePosixPath(name).name, _ONE_DAY), content)
    return f"{len(files)} files.zip", held.getvalue()


def _read(name: str, content: bytes) -> Read:
    if content.startswith((_ZIP, _EMPTY_ZIP)):
        return _read_archive(content)
    if content.startswith(_OLD_EXCEL):
        raise Unreadable(
            "This is an old Excel file (.xls) or one with a password. "
            "Save it as an .xlsx workbook without a password, or as CSV."
        )
    if name.lower().endswith((".xlsx", ".zip")):
        raise Unreadable(f"{name} is damaged: it is not what its name says.")
    return [read_csv(_stem(name), content)], []


def _read_archive(content: bytes) -> Read:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            _check_size(archive)
            if "xl/workbook.xml" in archive.namelist():
                return read_workbook(archive, content)
            return _read_folder(archive)
    except (zipfile.BadZipFile, zipfile.LargeZipFile, EOFError, NotImplementedError) as error:
        raise Unreadable(f"The file is damaged and cannot be unpacked ({error}).") from error


def _check_size(archive: zipfile.ZipFile) -> None:
    parts = archive.infolist()
    if any(part.flag_bits & _ENCRYPTED for part in parts):
        raise Unreadable("The file has a password. Save it without one.")
    if sum(part.file_size for part in parts) > UNPACKED_AT_MOST:
        raise Unreadable(
            f"Unpacked the file takes more than {UNPACKED_AT_MOST // 1024**2} MB. "
            "Send it in smaller parts."
        )


def _read_folder(archive: zipfile.ZipFile) -> Read:
    names = [part.filename for part in archive.infolist() if _counts(part)]
    if not names:
        raise Unreadable("There is no CSV file in this ZIP.")
    if len(names) > SHEETS_AT_MOST:
        raise Unreadable(f"There are more than {SHEETS_AT_MOST} files in this ZIP.")
    sheets: list[RawSheet] = []
    faults: list[Fault] = []
    for name in names:
        try:
            if not name.lower().endswith(".csv"):
                raise Unreadable(
                    f"{name} is not a CSV file. Leave it out; hand a workbook over by itself."
                )
            sheets.append(read_csv(_stem(name), archive.read(name)))
        except Unreadable as refusal:
            faults.append(Fault(PurePosixPath(name).name, 0, "", str(refusal)))
    return sheets, faults


def _counts(part: zipfile.ZipInfo) -> bool:
    """Whether a person put the file there: not a folder, nor what their computer adds unseen."""
    path = PurePosixPath(part.filename)
    return not (part.is_dir() or path.name.startswith(".") or path.parts[0] == "__MACOSX")


def _stem(name: str) -> str:
    return sheet_name(PurePosixPath(name.replace("\\", "/")).stem)


def _each_once(sheets: list[RawSheet], faults: list[Fault]) -> Read:
    seen: dict[str, RawSheet] = {}
    for sheet in sheets:
        if sheet.name in seen:
            faults.append(Fault(sheet.name, 0, "", f"Sheet {sheet.name} is in the upload twice."))
        seen.setdefault(sheet.name, sheet)
    return list(seen.values()), faults
