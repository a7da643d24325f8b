"""The working page of a job sheet for the browser tests: a sheet, a phone, and taps on it."""

from typing import Any

from playwright.sync_api import Page, expect

from repairs.models import FieldEvent, JobSheet
from tests.browser.conftest import Enter
from tests.browser.district import District, district
from tests.browser.looking import PHONE
from tests.browser.repairs import published_week, waiting_jobs
from turnouts.analysis.terms import Role


def issued() -> tuple[District, JobSheet]:
    """A district with one welding job, its week published."""
    here = district(("4",))
    waiting_jobs(here)
    published_week(here)
    return here, JobSheet.objects.get(job__turnout__in=here.spots, withdrawn_at=None)


KEPT = "caches.open('trackside-pages').then((kept) => kept.keys()).then((keys) => keys.length)"
UNTIL_KEPT = f"""new Promise((done) => {{
  const look = () => {KEPT}.then((count) => (count ? done(count) : setTimeout(look, 100)));
  look();
}})"""
"""Kept once a page is. Asked anew each turn, the promise itself would be taken for the answer."""


def opened(enter: Enter, here: District, sheet: JobSheet) -> Page:
    """The working page on the welder's phone, once everything for no signal is kept."""
    page = enter(here.people[Role.WELDER], f"/sheets/{sheet.number}/work/", PHONE)
    at_the_office(page)
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.evaluate(UNTIL_KEPT)
    return page


def at_the_office(page: Page) -> None:
    expect(page.locator("#signal")).to_contain_text("Everything is at the office")


def kinds(sheet: JobSheet) -> list[str]:
    return list(
        FieldEvent.objects.filter(sheet=sheet).order_by("seq").values_list("kind", flat=True)
    )


def begin(page: Page) -> None:
    boxes = page.get_by_role("checkbox")
    expect(boxes.first).to_be_visible()  # all() does not wait for the script to draw them
    for box in boxes.all():
        box.check()
    page.get_by_role("button", name="Everybody has understood: start").click()
    # The briefing, the start and the first stage are three entries; this shows with the third.
    expect(page.get_by_role("button", name="Done")).to_be_visible()


def done(page: Page) -> None:
    page.get_by_role("button", name="Done").click()


def _still(minutes: int) -> list[tuple[str, dict[str, Any]]]:
    return [("note", {"text": "waiting"})] * minutes


TEST = [
    ("penetrant", {"step": "applied", "surface_degc": 20}),
    *_still(15),
    ("penetrant", {"step": "wiped"}),
    ("penetrant", {"step": "developed"}),
    *_still(15),
    ("penetrant", {"step": "read"}),
]
"""A test with its times, one entry a minute."""
