"""The working page of a job sheet: with the network really cut, the page closed and opened again."""

import pytest
from playwright.sync_api import Page, expect

from repairs.models import FieldEvent, JobSheet
from tests.browser.conftest import Enter
from tests.browser.district import District, district
from tests.browser.looking import PHONE, sound
from tests.browser.repairs import published_week, waiting_jobs
from turnouts.analysis.terms import Role

pytestmark = pytest.mark.usefixtures("db")


def issued() -> tuple[District, JobSheet]:
    """A district with one welding job, its week published."""
    here = district(("4",))
    waiting_jobs(here)
    published_week(here)
    return here, JobSheet.objects.get(job__turnout__in=here.spots, withdrawn_at=None)


def opened(enter: Enter, here: District, sheet: JobSheet) -> Page:
    """The working page on the welder's phone, once everything for no signal is kept."""
    page = enter(here.people[Role.WELDER], f"/sheets/{sheet.number}/work/", PHONE)
    at_the_office(page)
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.wait_for_function(
        "caches.open('trackside-pages').then((kept) => kept.keys()).then((keys) => keys.length > 0)"
    )
    return page


def at_the_office(page: Page) -> None:
    expect(page.locator("#signal")).to_contain_text("Everything is at the office")


def kinds(sheet: JobSheet) -> list[str]:
    return list(FieldEvent.objects.filter(sheet=sheet).order_by("seq").values_list("kind", flat=True))


def begin(page: Page) -> None:
    for box in page.get_by_role("checkbox").all():
        box.check()
    page.get_by_role("button", name="Everybody has understood: start").click()
    expect(page.get_by_role("heading", name="Briefing and protection")).to_be_visible()


def done(page: Page) -> None:
    page.get_by_role("button", name="Done").click()


def test_taps_made_with_no_signal_reach_the_office_once_and_in_order(enter: Enter) -> None:
    here, sheet = issued()
    page = opened(enter, here, sheet)
    sound(page)
    page.context.set_offline(True)
    page.reload()

    begin(page)
    done(page)
    done(page)
    expect(page.locator("#signal")).to_contain_text("safe on this phone")
    assert kinds(sheet) == []

    page.close()
    again = page.context.new_page()
    again.goto(f"/sheets/{sheet.number}/work/")
    expect(again.get_by_role("button", name="Start gouging")).to_be_visible()
    again.context.set_offline(False)
    at_the_office(again)
    assert kinds(sheet) == [
        "briefing", "started", "stage_started", "stage_ended", "stage_started", "stage_ended",
    ]  # fmt: skip

