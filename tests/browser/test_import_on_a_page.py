"""An inspector's file on its way in: looked at first, all or nothing, each bad row said."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser import files
from tests.browser.conftest import Enter
from tests.browser.district import District, district
from tests.browser.looking import SIZES, hand_over, row, says, sound
from tests.browser.repairs import waiting_jobs
from turnouts.analysis.terms import Role
from turnouts.models import Defect, Inspection, Measurement

pytestmark = pytest.mark.usefixtures("worker")


def kept(here: District) -> list[int]:
    """How many visits, readings and defects of the district are in the records."""
    visits = Inspection.objects.filter(turnout__in=here.spots)
    readings = Measurement.objects.filter(inspection__in=visits)
    return [visits.count(), readings.count(), Defect.objects.filter(inspection__in=visits).count()]


def accept(page: Page) -> None:
    page.get_by_role("button", name="Accept: keep all of it").click()
    expect(page.get_by_text("Kept.", exact=True)).to_be_visible()


@pytest.mark.parametrize("size", SIZES)
def test_a_bad_row_is_named_and_nothing_is_kept_until_it_is_put_right(
    enter: Enter, size: str
) -> None:
    here = district(("4",))
    page = enter(here.people[Role.INSPECTOR], "/", SIZES[size])
    sheets = files.spalled_points(here)
    good = sheets["defects"][1]
    sheets["defects"][1] = [*good[:5], "six", *good[6:]]

    hand_over(page, files.as_workbook(sheets))
    says(page, "1 fault. Nothing is kept until all are put right")
    fault = row(page.locator("section[aria-labelledby=faults]"), "defects")
    expect(fault.get_by_role("cell").nth(0)).to_have_text("2")
    expect(fault.get_by_role("cell").nth(1)).to_have_text("length")
    expect(fault.get_by_role("cell").nth(2)).to_contain_text("six")
    expect(page.get_by_role("button", name="Accept")).to_have_count(0)
    assert kept(here) == [0, 0, 0]
    sound(page)

    sheets["defects"][1] = good
    hand_over(page, files.as_workbook(sheets))
    says(page, "No fault. This is what would change; nothing has been kept yet.")
    assert kept(here) == [0, 0, 0]
    sound(page)
    accept(page)
    assert kept(here) == [1, len(files.GOOD), 1]

    hand_over(page, files.as_workbook(sheets))
    says(page, "Everything in this file is in the records already; there is nothing to change.")
    expect(page.get_by_role("button", name="Accept")).to_have_count(0)


def test_several_csv_files_are_one_upload(enter: Enter) -> None:
    here = district(("4", "6"))
    page = enter(here.people[Role.INSPECTOR])
    sheets = files.spalled_points(here)
    hand_over(page, *(files.as_csv(name, rows) for name, rows in sheets.items()))
    says(page, "No fault.")
    accept(page)
    assert kept(here) == [2, 2 * len(files.GOOD), 2]


def test_an_inspector_changes_no_inventory_by_a_file(enter: Enter) -> None:
    """The right to report and import (`turnouts/access.py`) is not that to change components."""
    here = district(("4",))
    page = enter(here.people[Role.INSPECTOR])
    new = [["serial", "kind", "design", "steel"], ["NEW-1", "frog", "spring", "manganese"]]
    hand_over(page, files.as_csv("components", new))
    says(page, "Nothing is kept until all are put right", "change the inventory")


def test_nobody_imports_into_a_territory_that_is_not_theirs(enter: Enter) -> None:
    here, elsewhere = district(("4",)), district(("4",))
    page = enter(elsewhere.people[Role.INSPECTOR])
    hand_over(page, files.as_workbook(files.spalled_points(here)))
    says(page, "Nothing is kept until all are put right")
    assert kept(here) == [0, 0, 0]


def test_a_file_that_is_no_table_is_refused_in_a_sentence(enter: Enter) -> None:
    here = district(("4",))
    page = enter(here.people[Role.INSPECTOR])
    hand_over(page, {"name": "morning.xlsx", "mimeType": files.XLSX, "buffer": b"not a workbook"})
    says(page, "1 fault. Nothing is kept until all are put right")
    expect(row(page, "morning.xlsx")).to_contain_text("is damaged: it is not what its name says")
    expect(page.get_by_role("button", name="Accept")).to_have_count(0)


@pytest.mark.parametrize("form", ["xlsx", "zip"])
def test_an_inspectors_own_sheets_taken_out_come_in_again_and_change_nothing(
    enter: Enter, tmp_path: Path, form: str
) -> None:
    here = district(("4",))
    waiting_jobs(here)
    page = enter(here.people[Role.INSPECTOR], "/import/")
    page.get_by_label("Form").select_option(form)
    page.get_by_text("Only some of the sheets").click()
    for sheet in ("Inspections", "Measurements", "Defects"):
        page.get_by_label(sheet, exact=True).check()
    page.get_by_role("button", name="Take out").click()
    with page.expect_download() as saved:
        page.get_by_role("link", name=re.compile("^Save records-")).click()
    kept_file = tmp_path / saved.value.suggested_filename
    saved.value.save_as(kept_file)
    assert kept_file.suffix == f".{form}"

    hand_over(page, kept_file)
    says(page, "Everything in this file is in the records already; there is nothing to change.")
