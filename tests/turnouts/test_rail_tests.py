"""What a rail test found is kept with the defect: by import and by the forms of pages and API."""

from decimal import Decimal

import pytest

from tests.turnouts import sheets
from turnouts.models import Defect
from turnouts.services.exports import export

pytestmark = pytest.mark.django_db

HEADER = "reference,inspection,position,kind,zone,head_reach,flaw,head_share_percent\n"


def file_with(flaw: str, share: str, head: str = "") -> dict[str, str]:
    row = f"D1,I1,frog,crack,head,{head},{flaw},{share}\n"
    return {"defects": HEADER + row}


@pytest.mark.parametrize("share", ["0", "29.5", "100"])
def test_a_rail_tests_flaw_and_share_of_the_head_are_read_and_written_back(share: str) -> None:
    by = sheets.importer()
    files = sheets.everything(**file_with("detail_fracture", share, "clear"))
    assert sheets.bring_in(by, files).applied
    row = Defect.objects.get()
    assert (row.flaw, row.head_share_percent, row.head_reach) == (
        "detail_fracture",
        Decimal(share),
        "clear",
    )
    (back,) = sheets.rows_in_zip(export(by=by, names=["defects"], form="zip"), "defects")
    assert (back["flaw"], back["head_share_percent"]) == ("detail_fracture", share)


def test_a_share_above_the_whole_head_is_refused_in_words() -> None:
    by = sheets.importer()
    files = sheets.everything(**file_with("detail_fracture", "100.01"))
    assert "flaw takes 0 to 100 percent" in sheets.bring_in(by, files).faults[0].sentence


def test_a_flaw_the_table_does_not_know_is_refused_with_those_it_does() -> None:
    by = sheets.importer()
    report = sheets.bring_in(by, sheets.everything(**file_with("hairline", "5")))
    assert "detail_fracture" in report.faults[0].sentence


def test_access_metal_left_skin_and_damage_are_read_exactly_and_written_back() -> None:
    by = sheets.importer()
    text = (
        "reference,inspection,position,kind,zone,welder_access,metal_left [in],hardened [in],"
        "damaged\nD1,I1,frog,spall,point,no,1/2,3/16,yes\n"
    )
    assert sheets.bring_in(by, sheets.everything(defects=text)).applied
    row = Defect.objects.get()
    # 1/2 in is 12.7 mm and 3/16 in 4.7625 mm exactly (1 in = 25.4 mm)
    assert (row.metal_left_mm, row.hardened_mm) == (Decimal("12.7"), Decimal("4.7625"))
    assert (row.welder_access, row.damaged) == (False, True)
    (back,) = sheets.rows_in_zip(export(by=by, names=["defects"], form="zip"), "defects")
    assert (back["welder_access"], back["metal_left [mm]"]) == ("no", "12.7")


def test_a_file_without_the_columns_leaves_them_unknown() -> None:
    sheets.settled(sheets.importer())
    row = Defect.objects.get()
    assert (row.flaw, row.head_share_percent, row.head_reach) == ("", None, "")
