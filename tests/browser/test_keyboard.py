"""The main job without a mouse: everything is reached by the tabulator key and pressed by a key."""

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser import files
from tests.browser.conftest import Enter
from tests.browser.district import district
from tests.browser.looking import PHONE, says
from tests.browser.repairs import waiting_jobs
from turnouts.analysis.terms import Role

pytestmark = pytest.mark.usefixtures("worker")

FAR_ENOUGH = 60


def tab_to(page: Page, target: Locator) -> None:
    """Press the tabulator key until the target has the focus, and see that it shows it."""
    expect(target).to_be_visible()
    for _ in range(FAR_ENOUGH):
        page.keyboard.press("Tab")
        if target.evaluate("it => it === document.activeElement"):
            break
    expect(target).to_be_focused()
    style = "it => { const s = getComputedStyle(it); return s.outlineStyle + s.boxShadow }"
    assert target.evaluate(style) != "nonenone", "nobody sees where the focus is"


def press(page: Page, name: str) -> None:
    tab_to(page, page.get_by_role("button", name=name))
    page.keyboard.press("Enter")


def test_the_first_tab_skips_the_menu(enter: Enter) -> None:
    here = district(("4",))
    page = enter(here.people[Role.ENGINEER], "/components/")
    page.keyboard.press("Tab")
    skip = page.get_by_role("link", name="Skip to the content")
    expect(skip).to_be_focused()
    expect(skip).to_be_in_viewport()
    page.keyboard.press("Enter")
    expect(page.get_by_role("main")).to_be_focused()


def test_the_week_is_planned_and_published_by_keys_alone(enter: Enter) -> None:
    here = district(("4", "6"))
    waiting_jobs(here)
    page = enter(here.people[Role.SUPERVISOR], here.week_page)
    press(page, "Plan this week")
    drafted = page.get_by_role("heading", name="Plan 1: draft")
    expect(drafted).to_be_visible()
    press(page, "Publish plan 1")
    expect(page.get_by_role("heading", name="Plan 1: published")).to_be_visible()


def test_a_file_is_looked_at_and_accepted_by_keys_alone(enter: Enter) -> None:
    here = district(("4",))
    page = enter(here.people[Role.INSPECTOR], "/import/")
    # Listened for before the first key: a listener sent together with the space bar may come late.
    with page.expect_file_chooser() as asked:
        tab_to(page, page.get_by_label("File", exact=True))
        page.keyboard.press("Space")
    asked.value.set_files(files.as_workbook(files.spalled_points(here)))
    press(page, "Look at it")
    says(page, "No fault.")
    press(page, "Accept: keep all of it")
    expect(page.get_by_text("Kept.", exact=True)).to_be_visible()


def test_a_decision_is_confirmed_by_keys_alone(enter: Enter) -> None:
    here = district(("4",))
    waiting_jobs(here)
    page = enter(here.people[Role.SUPERVISOR], f"/defects/D-{here.spots[0].code}/")
    tab_to(page, page.get_by_label("Note, if any"))
    page.keyboard.type("Seen on site")
    press(page, "Confirm this decision")
    says(page, "Confirmed under your name.", "Seen on site")


def test_on_a_phone_the_menu_opens_and_closes_by_keys(enter: Enter) -> None:
    here = district(("4",))
    page = enter(here.people[Role.ENGINEER], "/components/", PHONE)
    week = page.get_by_role("link", name="Week", exact=True)
    expect(week).to_be_hidden()
    press(page, "Menu")
    expect(week).to_be_visible()
    tab_to(page, week)
    page.keyboard.press("Escape")
    expect(week).to_be_hidden()
    expect(page.get_by_role("button", name="Menu")).to_be_focused()
