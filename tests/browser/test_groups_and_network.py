"""Groups side by side and the network, with something drawn: readable by everybody, and by key."""

from datetime import date
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests import railway
from tests.browser.conftest import Enter
from tests.browser.looking import DESK, PHONE, SIZES, sound
from tests.turnouts.test_component_file import records_since
from tests.turnouts.test_families import BAD, GOOD, batch
from turnouts.models import Person, Turnout
from turnouts.services.family_comparisons import renew_comparisons

COMPARED = "/components/families/?family=frog..&by=batch"


@pytest.fixture(scope="module")
def spot(db: None) -> Turnout:
    """A bad batch among others, compared."""
    made = railway.turnout()
    records_since(made)
    batch(made, BAD, 6, 6)
    batch(made, GOOD, 8, 2)
    renew_comparisons(on=date(2026, 4, 1), progress=lambda done, total, words: None)
    return made


@pytest.fixture(scope="module")
def engineer(spot: Turnout) -> Person:
    return railway.person("engineer", spot.territory, password="a-frog-is-no-toad")


def _open_all(page: Page) -> None:
    page.evaluate("document.querySelectorAll('details').forEach(it => { it.open = true })")


@pytest.mark.parametrize("size", SIZES.values(), ids=SIZES)
@pytest.mark.parametrize("address", [COMPARED, "/components/families/", "/network/"])
def test_it_can_be_read_by_everybody(
    enter: Enter, engineer: Person, address: str, size: Any
) -> None:
    page = enter(engineer, address, size)
    _open_all(page)
    sound(page)


def test_a_finding_leads_to_its_comparison(enter: Enter, engineer: Person) -> None:
    page = enter(engineer, "/components/families/", DESK)
    page.get_by_role("link", name="half-year it was made in").first.press("Enter")
    expect(
        page.get_by_role("heading", name="Frog, all, by half-year it was made in")
    ).to_be_visible()
    expect(page.get_by_role("main")).to_contain_text("times the defects of the others")


def test_a_turnout_of_the_drawing_is_reached_and_opened_by_key(
    enter: Enter, engineer: Person, spot: Turnout
) -> None:
    page = enter(engineer, "/network/", PHONE)
    mark = page.get_by_role("link", name=f"{spot.code}, mi 5")
    for _ in range(60):
        page.keyboard.press("Tab")
        if mark.evaluate("it => it === document.activeElement"):
            break
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/turnouts/{spot.code}/")
