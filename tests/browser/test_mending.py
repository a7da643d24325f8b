"""An entry put right on the phone with no signal: typed, and kept by the tap on the reason."""

from decimal import Decimal

import pytest
from playwright.sync_api import Page, expect

from repairs.field.events import Kind
from repairs.models import FieldEvent, JobSheet
from repairs.services.field_rows import field_state
from tests.browser.conftest import Enter
from tests.browser.looking import sound
from tests.browser.trackside import at_the_office, issued, opened
from tests.repairs.trackside import Night
from turnouts.analysis.terms import Role

pytestmark = pytest.mark.usefixtures("db")


@pytest.fixture
def phone(enter: Enter) -> tuple[Page, JobSheet]:
    """The working page of a sheet with one temperature entered, its network cut."""
    here, sheet = issued()
    night = Night(sheet)
    zone = night.facts.zones[0].key
    night.tap("pass_temperature", 30, zone=zone, degc=90, place_mm=25)
    assert night.send(here.people[Role.WELDER]).refused == []
    page = opened(enter, here, sheet)
    page.context.set_offline(True)
    page.get_by_text("What was written down").click()
    expect(page.locator("#log").get_by_text("194 °F before the next bead")).to_be_visible()
    return page, sheet


def put_right(page: Page) -> None:
    page.locator("#log").get_by_role("button", name="Put right").click()
    expect(page.get_by_role("dialog")).to_be_visible()


def sent(page: Page, sheet: JobSheet) -> FieldEvent:
    """The correction, once there is signal again."""
    page.context.set_offline(False)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    at_the_office(page)
    return FieldEvent.objects.get(sheet=sheet, kind=Kind.CORRECTION.value)


def test_a_mistyped_temperature_is_put_right_by_typing_and_a_tap_on_the_reason(
    phone: tuple[Page, JobSheet],
) -> None:
    page, sheet = phone
    put_right(page)
    sound(page)
    box = page.get_by_label("Temperature, °F")
    expect(box).to_have_value("194")
    page.get_by_role("button", name="Read wrong").click()
    expect(page.get_by_role("alert").get_by_text("Nothing is changed")).to_be_visible()
    box.fill("480")
    page.get_by_role("button", name="Read wrong").click()
    expect(page.get_by_role("dialog")).to_have_count(0)
    expect(page.locator("#log")).to_contain_text("(corrected)")
    expect(page.locator("#signal")).to_contain_text("1 entry is safe on this phone")
    made = sent(page, sheet)
    # (480 - 32) * 5 / 9 is 248.89 degC to two places.
    assert (made.data["reason"], made.data["data"]["degc"]) == ("Read wrong", "248.89")
    assert field_state(sheet).pass_temperatures[0].degc == Decimal("248.89")


def test_an_entry_that_never_happened_is_struck_out_and_another_reason_is_typed(
    phone: tuple[Page, JobSheet],
) -> None:
    page, sheet = phone
    put_right(page)
    page.get_by_label("Temperature, °F").fill("200")
    page.get_by_text("Another reason").first.click()
    page.get_by_label("Another reason").fill("Gauge 2")
    page.get_by_role("button", name="Leave it as it is").click()
    expect(page.get_by_role("dialog")).to_have_count(0)
    put_right(page)
    page.get_by_role("button", name="It did not happen").click()
    expect(page.locator("#log")).to_contain_text("Tapped by mistake")
    assert sent(page, sheet).data["data"] is None
    assert field_state(sheet).pass_temperatures == ()
