"""The way to the job on a phone, with the network really cut."""

from decimal import Decimal

import pytest
from playwright.sync_api import expect

from repairs.models import JobSheet
from tests.browser.conftest import Enter
from tests.browser.district import district
from tests.browser.repairs import published_week, waiting_jobs
from tests.browser.trackside import opened
from turnouts.models import Turnout

pytestmark = pytest.mark.usefixtures("db")

HERE = {"latitude": Decimal("-48.8767"), "longitude": Decimal("-123.3933")}


def test_the_map_and_the_gate_are_on_the_phone_with_no_signal(enter: Enter) -> None:
    here = district(("4",))
    Turnout.objects.filter(pk__in=[spot.pk for spot in here.spots]).update(**HERE)
    waiting_jobs(here)
    published_week(here)
    sheet = JobSheet.objects.get(job__turnout__in=here.spots, withdrawn_at=None)
    page = opened(enter, here, sheet)
    page.context.set_offline(True)
    page.reload()
    page.get_by_text("Where it is").click()
    link = page.get_by_role("link", name="Open in a map")
    expect(link).to_be_visible()
    expect(link).to_have_attribute("href", "geo:-48.8767,-123.3933")
    place = page.locator("#place")
    expect(place).to_contain_text("Gate at mile")
    expect(place).to_contain_text("-48.8767, -123.3933")
