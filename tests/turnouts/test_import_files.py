"""Files as people hand them over: what is read, and the sentence for what is not."""

import io
import zipfile
from datetime import date, datetime
from decimal import Decimal

import pytest

from tests.turnouts.sheets import workbook
from turnouts.services.sheets import raw, read_files
from turnouts.services.sheets.faults import Unreadable
from turnouts.services.sheets.raw import Broken
from turnouts.services.sheets.read_files import pack, read_file

LINES = "code,name\nL1,Line One\n"


def refused(name: str, content: bytes) -> str:
    sheets, faults = read_file(name, content)
    assert sheets == []
    assert len(faults) == 1
    return faults[0].sentence


def zipped(files: dict[str, bytes]) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return held.getvalue()


@pytest.mark.parametrize(
    "content",
    [
        LINES.encode(),
        b"\xef\xbb\xbf" + LINES.encode(),
        LINES.replace(",", ";").encode(),
        LINES.replace("\n", "\r\n").encode(),
        b'"code","name"\n"L1","Line One"\n',
    ],
    ids=["utf-8", "byte order mark", "semicolons", "windows line ends", "quoted"],
)
def test_a_csv_is_read_however_a_spreadsheet_wrote_it(content: bytes) -> None:
    sheets, faults = read_file("lines.csv", content)

    assert faults == []
    assert sheets[0].name == "lines"
    assert sheets[0].header == ["code", "name"]
    assert sheets[0].rows == [(2, ["L1", "Line One"])]


def test_row_numbers_are_those_a_spreadsheet_shows() -> None:
    content = b'code,name\nL1,"two\nlines"\n\n,\nL2,Two\n'

    sheets, _ = read_file("lines.csv", content)

    assert [number for number, _ in sheets[0].rows] == [2, 5]


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "is empty"),
        (b"\xef\xbb\xbf\n \n", "is empty"),
        (LINES.encode("utf-16"), "UTF-16"),
        ("code,name\nL1,Br\xfccke\n".encode("latin-1"), "line 2 has a sign in another encoding"),
        (b"code,name\nL1,\0\n", "is not text"),
        (b"code;name,x\nL1,1\n", "not parted by commas alone"),
        (b"code\tname\nL1\tOne\n", "not parted by commas alone"),
        (b'code,name\nL1,"open\n', "Often a quotation mark is opened"),
        (b"\ncode,name\n", "its first row must name the columns"),
    ],
)
def test_a_csv_that_cannot_be_read_gets_a_sentence(content: bytes, says: str) -> None:
    assert says in refused("lines.csv", content)


def test_a_file_is_what_its_bytes_say_not_its_name() -> None:
    sheets, faults = read_file("lines.csv", workbook(lines=[["code"], ["L1"]]))

    assert faults == []
    assert sheets[0].rows == [(2, ["L1"])]


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("book.xlsx", b"not a workbook", "it is not what its name says"),
        ("book.xls", b"\xd0\xcf\x11\xe0\xa1\xb1", "old Excel file"),
        ("book.xlsx", b"PK\x03\x04 and nothing more", "damaged"),
        ("folder.zip", zipped({}), "no CSV file"),
        ("!!.csv", LINES.encode(), "is not the name of a sheet"),
    ],
)
def test_a_file_of_the_wrong_kind_gets_a_sentence(name: str, content: bytes, says: str) -> None:
    assert says in refused(name, content)


def test_a_folder_in_a_zip_is_read_without_what_the_computer_added() -> None:
    content = zipped(
        {
            "railway/lines.csv": LINES.encode(),
            "__MACOSX/lines.csv": b"\0",
            "railway/.DS_Store": b"\0",
            "railway/tracks.csv": b"line,name\nL1,Main\n",
        }
    )

    sheets, faults = read_file("railway.zip", content)

    assert faults == []
    assert [sheet.name for sheet in sheets] == ["lines", "tracks"]


def test_each_unreadable_part_of_a_zip_is_named() -> None:
    content = zipped({"lines.csv": b"", "notes": b"hi", "tracks.csv": b"line,name\nL1,Main\n"})

    sheets, faults = read_file("railway.zip", content)

    assert [sheet.name for sheet in sheets] == ["tracks"]
    assert [fault.sheet for fault in faults] == ["lines.csv", "notes"]


def test_a_sheet_that_is_there_twice_is_a_fault() -> None:
    content = zipped({"a/lines.csv": LINES.encode(), "b/lines.csv": LINES.encode()})

    _, faults = read_file("railway.zip", content)

    assert [fault.sentence for fault in faults] == ["Sheet lines is in the upload twice."]


def test_cells_of_a_workbook_keep_their_kind() -> None:
    content = workbook(
        inspections=[
            ["a", "b", "c", "d", "e"],
            ["5/8", 0.625, datetime(2026, 3, 1, 9, 30), date(2026, 3, 1), True],
        ]
    )

    sheets, _ = read_file("book.xlsx", content)

    assert sheets[0].rows[0][1] == [
        "5/8",
        0.625,
        datetime(2026, 3, 1, 9, 30),
        datetime(2026, 3, 1),
        True,
    ]


@pytest.mark.parametrize(("cell", "says"), [("=1+1", "a formula"), ("#N/A", "the error #N/A")])
def test_formulas_and_errors_are_no_values(cell: str, says: str) -> None:
    sheets, _ = read_file("book.xlsx", workbook(lines=[["code"], [cell]]))

    broken = sheets[0].rows[0][1][0]
    assert isinstance(broken, Broken)
    assert says in broken.sentence


def test_a_workbook_that_declares_entities_is_refused() -> None:
    swollen = rewritten(workbook(lines=[["code"], ["L1"]]), "xl/workbook.xml", b"<!ENTITY a 'b'>")

    assert "XML entities" in refused("book.xlsx", swollen)


def test_a_workbook_with_a_broken_part_is_refused_with_the_row_it_broke_at() -> None:
    broken = rewritten(workbook(lines=[["code"], ["L1"]]), "xl/worksheets/sheet1.xml", b"<<<")

    assert "damaged" in refused("book.xlsx", broken)


def rewritten(book: bytes, part: str, before: bytes) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(book)) as old, zipfile.ZipFile(held, "w") as new:
        for name in old.namelist():
            new.writestr(name, (before if name == part else b"") + old.read(name))
    return held.getvalue()


def test_a_file_that_swells_when_unpacked_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(read_files, "UNPACKED_AT_MOST", 10)

    assert "Send it in smaller parts" in refused("x.zip", zipped({"lines.csv": LINES.encode()}))


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_a_sheet_with_too_many_rows_is_refused(form: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(raw, "ROWS_AT_MOST", 2)
    rows = [["code"], ["L1"], ["L2"], ["L3"]]
    content = workbook(lines=rows) if form == "xlsx" else b"code\nL1\nL2\nL3\n"

    assert "more than 2 rows" in refused(f"lines.{form}", content)


def test_a_row_with_too_many_cells_is_refused() -> None:
    assert "at most 100 are read" in refused("lines.csv", b"code" + b",x" * 100 + b"\n")


def test_several_files_are_packed_into_the_same_bytes_in_any_order() -> None:
    files = [("tracks.csv", b"line,name\nL1,Main\n"), ("lines.csv", LINES.encode())]

    assert pack(files)[1] == pack(list(reversed(files)))[1]
    assert [sheet.name for sheet in read_file(*pack(files))[0]] == ["lines", "tracks"]


def test_no_file_at_all_is_refused() -> None:
    with pytest.raises(Unreadable, match="No file"):
        pack([])


def test_a_number_of_a_workbook_is_read_by_its_shortest_digits() -> None:
    sheets, _ = read_file("book.xlsx", workbook(lines=[["depth"], [0.1]]))

    assert Decimal(repr(sheets[0].rows[0][1][0])) == Decimal("0.1")


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("two_x000D_lines", "two\rlines"),
        ("_x005F_x0041_", "_x0041_"),
        ("frog_xyz_", "frog_xyz_"),
    ],
)
def test_escaped_signs_of_a_workbook_are_read_as_what_they_mean(written: str, meant: str) -> None:
    # ECMA-376 part 1, ST_Xstring (from memory): _xHHHH_ stands for the sign of that number.
    [sheet], _ = read_file("x.xlsx", workbook(lines=[["name"], [written]]))

    assert sheet.rows[0][1] == [meant]


def test_half_a_sign_in_a_workbook_is_no_text() -> None:
    [sheet], _ = read_file("x.xlsx", workbook(lines=[["name"], ["_xD800_"]]))

    [broken] = sheet.rows[0][1]
    assert isinstance(broken, Broken)
    assert "half a sign" in broken.sentence
