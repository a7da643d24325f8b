"""The pages of welding procedures can be read and filled in whole, at a desk and on a phone."""

from typing import Any

import pytest
from django.utils import timezone

from repairs.models import OwnerProcedure
from tests import railway
from tests.repairs import own_editions, rows
from tests.repairs.pages.looking import DESK, PHONE, enter, sound
from tests.repairs.pages.test_procedure_pages import PROPOSE, approved, proposed


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_each_page_of_procedures_is_sound(
    size: dict[str, int], transactional_db: None, live_server: Any, browser: Any
) -> None:
    rows.job()
    standing = approved()
    engineer = railway.person("engineer")
    page = enter(browser, live_server, engineer, size, "/procedures/")
    for address in (
        "/procedures/",
        "/procedures/manganese-wire/",
        "/procedures/carbon-stick/",
        f"/procedures/editions/{standing.pk}/",
    ):
        page.goto(live_server.url + address)
        sound(page)
    page.goto(live_server.url + PROPOSE)
    page.evaluate("document.querySelectorAll('details').forEach(it => { it.open = true })")
    sound(page)
    page.get_by_label("Why the railway wants it").fill("Cold nights")
    page.get_by_label("Over-fill, to be ground off: New value").fill("much")
    page.get_by_label("Over-fill, to be ground off: Why").fill("Ground too low twice")
    page.get_by_role("button", name="Propose").click()
    page.get_by_text("cannot be read as a length").wait_for()
    page.said.clear()  # the browser itself says that the form was answered with 400
    sound(page)
    page.get_by_label("Over-fill, to be ground off: New value").fill("3/16")
    page.get_by_role("button", name="Propose").click()
    page.get_by_role("button", name="Withdraw").wait_for()
    sound(page)
    assert OwnerProcedure.objects.filter(state="proposed", changes__value=4.7625).exists()


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_second_engineer_reads_what_would_change_and_rejects(
    size: dict[str, int], transactional_db: None, live_server: Any, browser: Any
) -> None:
    rows.job()
    edition = proposed()
    second = railway.person("engineer")
    own_editions.looked_at(edition, second, timezone.localdate())
    page = enter(browser, live_server, second, size, f"/procedures/editions/{edition.pk}/")
    sound(page)
    page.get_by_label("In words").fill("Not before the trial")
    page.get_by_role("button", name="Reject").click()
    page.get_by_text("Rejected; the proposal is kept").wait_for()
    sound(page)
    edition.refresh_from_db()
    assert edition.state == "rejected"
