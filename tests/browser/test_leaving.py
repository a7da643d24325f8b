"""Logging out on a phone: kept pages go, what was tapped stays, and that is said."""

from playwright.sync_api import Page, expect

from tests.browser.conftest import Enter
from tests.browser.looking import PHONE, log_in, sound
from tests.browser.trackside import KEPT, at_the_office, begin, issued, kinds, opened
from turnouts.analysis.terms import Role

SHEETS = "trackside.store.all('sheets').then((rows) => rows.length)"
TAPS = "trackside.store.all('taps').then((rows) => rows.length)"

TOO_WEAK = "trackside.sender.sendTaps = async () => ({ state: 'no-signal' })"
"""Signal enough to log out by, and none by which a tap would get through."""


def log_out(page: Page) -> None:
    """From the person's own page; the working page has no such button to be hit by a glove."""
    page.goto("/own-settings/")
    page.get_by_role("button", name="Log out", exact=True).click()


def test_logging_out_takes_the_kept_pages_and_sheets_away(enter: Enter) -> None:
    here, sheet = issued()
    page = opened(enter, here, sheet)
    assert page.evaluate(SHEETS) == 1
    log_out(page)
    page.wait_for_url("**/login/")
    assert page.evaluate(KEPT) == 0
    assert page.evaluate(SHEETS) == 0
    expect(page.locator("[data-waiting]")).to_be_hidden()
    page.goto(f"/sheets/{sheet.number}/work/")
    page.wait_for_url("**/login/**")


def test_unsent_taps_are_named_before_and_stay_under_the_persons_name(enter: Enter) -> None:
    here, sheet = issued()
    page = opened(enter, here, sheet)
    welder = here.people[Role.WELDER]
    page.evaluate(TOO_WEAK)
    begin(page)
    assert page.evaluate(TAPS) == 3
    log_out(page)
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("3 entries of yours are still only on this phone")
    sound(page)
    dialog.get_by_role("button", name="Stay logged in").click()
    expect(dialog).to_be_hidden()
    assert page.url.endswith("/own-settings/")

    log_out(page)
    page.get_by_role("button", name="Log out, leave them here").click()
    page.wait_for_url("**/login/")
    expect(page.locator("[data-waiting]")).to_contain_text(
        f"3 entries of {welder.username} wait on this phone"
    )
    assert page.evaluate(TAPS) == 3
    assert page.evaluate(KEPT) == 0
    assert kinds(sheet) == []

    log_in(page, welder)
    page.wait_for_url("**/sheets/")
    page.goto(f"/sheets/{sheet.number}/work/")
    at_the_office(page)
    assert kinds(sheet) == ["briefing", "started", "stage_started"]
    log_out(page)
    page.wait_for_url("**/login/")


def test_somebody_elses_taps_do_not_keep_a_person_logged_in_and_stay_too(enter: Enter) -> None:
    here, sheet = issued()
    page = opened(enter, here, sheet)
    page.evaluate(TOO_WEAK)
    begin(page)
    log_out(page)
    page.get_by_role("button", name="Log out, leave them here").click()
    page.wait_for_url("**/login/")
    log_in(page, here.people[Role.SUPERVISOR])
    page.wait_for_url("**/week/**")
    log_out(page)
    page.wait_for_url("**/login/")
    assert page.evaluate(TAPS) == 3


def test_with_no_signal_nobody_is_logged_out_and_nothing_is_taken_away(enter: Enter) -> None:
    here, sheet = issued()
    page = opened(enter, here, sheet)
    page.goto("/own-settings/")
    page.context.set_offline(True)
    page.get_by_role("button", name="Log out", exact=True).click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("No signal: you are still logged in")
    dialog.get_by_role("button", name="Go on").click()
    assert page.evaluate(KEPT) > 0
    page.goto(f"/sheets/{sheet.number}/work/")
    begin(page)
    page.context.set_offline(False)
    at_the_office(page)
    assert kinds(sheet) == ["briefing", "started", "stage_started"]


def test_a_phone_on_which_no_sheet_was_opened_just_logs_out(enter: Enter) -> None:
    here, _ = issued()
    page = enter(here.people[Role.WELDER], "/own-settings/", PHONE)
    log_out(page)
    page.wait_for_url("**/login/")
    assert page.evaluate("indexedDB.databases().then((all) => all.length)") == 0
