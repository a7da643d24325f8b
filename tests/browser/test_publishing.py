"""A plan published from a page that no longer shows how things stand."""

import pytest
from playwright.sync_api import Page, expect

from repairs.models import JobSheet
from tests.browser.conftest import Enter
from tests.browser.district import District, district
from tests.browser.looking import says, sound
from tests.browser.repairs import waiting_jobs
from turnouts.analysis.terms import Role

pytestmark = pytest.mark.usefixtures("worker")


def plan(page: Page, button: str, number: int) -> None:
    page.get_by_role("button", name=button).click()
    heading = page.get_by_role("heading", name=f"Plan {number}: draft")
    expect(heading).to_be_visible()


def publish(page: Page, number: int) -> None:
    page.get_by_role("button", name=f"Publish plan {number}").click()
    expect(page.get_by_role("heading", name=f"Plan {number}: published")).to_be_visible()


def sheets_in_force(here: District) -> set[str]:
    rows = JobSheet.objects.filter(job__turnout__in=here.spots, withdrawn_at=None)
    return set(rows.values_list("number", flat=True))


def planned(enter: Enter) -> tuple[District, Page]:
    """A supervisor before the first draft of a week with two repairs."""
    here = district(("4", "6"))
    waiting_jobs(here)
    page = enter(here.people[Role.SUPERVISOR], here.week_page)
    plan(page, "Plan this week", 1)
    return here, page


def test_a_second_tab_with_an_old_plan_is_told_and_changes_nothing(enter: Enter) -> None:
    here, stale = planned(enter)
    page = enter(here.people[Role.SUPERVISOR], here.week_page)
    publish(page, 1)
    plan(page, "Plan it again", 2)
    publish(page, 2)
    sheets = sheets_in_force(here)
    assert len(sheets) == len(here.spots)

    with stale.expect_navigation() as went:
        stale.get_by_role("button", name="Publish plan 1").click()

    assert went.value.status == 409
    says(stale, "Somebody was faster, or it is too late for that", "changed by somebody else")
    sound(stale)
    assert (
        set(JobSheet.objects.filter(withdrawn_at=None).values_list("number", flat=True)) == sheets
    )
    page.reload()
    expect(page.get_by_role("heading", name="Plan 2: published")).to_be_visible()


def test_publishing_from_two_tabs_issues_each_sheet_once(enter: Enter) -> None:
    here, first = planned(enter)
    second = enter(here.people[Role.SUPERVISOR], here.week_page)
    publish(first, 1)
    publish(second, 1)
    assert len(sheets_in_force(here)) == len(here.spots)


def test_whoever_may_not_plan_sees_the_plan_and_no_button(enter: Enter) -> None:
    here, page = planned(enter)
    publish(page, 1)
    for role in (Role.WELDER, Role.ENGINEER):
        reader = enter(here.people[role], here.week_page)
        expect(reader.get_by_role("heading", name="Plan 1: published")).to_be_visible()
        expect(reader.get_by_role("button", name="Plan it again")).to_have_count(0)
        expect(reader.get_by_role("button", name="Publish")).to_have_count(0)
