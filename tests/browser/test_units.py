"""The same limit read by somebody in inches and by somebody in mm: never on its wrong side."""

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Enter
from tests.browser.district import District, district
from tests.browser.looking import row, says
from tests.browser.repairs import waiting_jobs
from turnouts.analysis.terms import Role
from turnouts.models import Person

METRIC = {
    "Lengths": "mm",
    "Speeds and distances": "km/h",
    "Temperatures": "degC",
    "Weights": "kg",
}


def reader(here: District, unit: str) -> Person:
    person = here.people[Role.ENGINEER]
    person.length_unit = unit
    person.speed_unit = "mph" if unit == "in" else "km/h"
    person.save()
    return person


def cells(page: Page) -> list[str]:
    """Measured and limit of the point's depth: 49 CFR 213.137(b), at most 5/8 in = 15.875 mm."""
    down = row(page, "Depth of the chipped, broken or worn point")
    return down.get_by_role("cell").all_inner_texts()[:2]


@pytest.mark.parametrize(
    ("typed", "outcome", "inches", "mm"),
    [
        ("5/8", "Within", "5/8 in", "15.875 mm"),
        ("15.87 mm", "Within", "just under 5/8 in", "15.87 mm"),
        ("15.88 mm", "Past the limit", "just over 5/8 in", "15.88 mm"),
        ("41/64", "Past the limit", "41/64 in", "16.271875 mm"),
    ],
)
def test_a_value_beside_its_limit_reads_right_in_both_units(
    enter: Enter, typed: str, outcome: str, inches: str, mm: str
) -> None:
    here = district(("4",))
    waiting_jobs(here, typed)
    address = f"/defects/D-{here.spots[0].code}/"

    page = enter(reader(here, "in"), address)
    expect(row(page, "Depth of the chipped, broken or worn point")).to_contain_text(outcome)
    assert cells(page) == [inches, "5/8 in"]

    reader(here, "mm")
    page.reload()
    expect(row(page, "Depth of the chipped, broken or worn point")).to_contain_text(outcome)
    assert cells(page) == [mm, "15.875 mm"]


def test_a_person_changes_their_units_and_every_page_follows(enter: Enter) -> None:
    here = district(("4",))
    waiting_jobs(here, "11/16")
    page = enter(here.people[Role.SUPERVISOR], "/own-settings/")
    for label, unit in METRIC.items():
        page.get_by_label(label).select_option(unit)
    page.get_by_role("button", name="Keep").click()
    says(page, "Every page now reads in these units.")
    page.goto(f"/defects/D-{here.spots[0].code}/")
    assert cells(page) == ["17.4625 mm", "15.875 mm"]
    # 10 mph is 16.09 km/h; a speed is a limit, so it is rounded down.
    expect(page.locator(".now")).to_contain_text("16 km/h")
