"""From a spalled point to the sheet on the welder's phone, in a real browser."""

from datetime import timedelta
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.test import Client
from django.utils import timezone

from repairs import tasks
from repairs.models import Confirmation, RepairJob
from tests import railway
from tests.repairs import rows
from turnouts.models import LongRun, Person

PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}


@pytest.fixture
def railway_with_a_spalled_point(transactional_db: None) -> Any:
    return rows.spalled_point(railway.turnout(access="Gate at Mill Lane"))


def enter(browser: Any, live_server: Any, person: Person, size: dict[str, int], path: str) -> Any:
    client = Client()
    client.force_login(person)
    context = browser.new_context(viewport=size)
    session = {"name": "sessionid", "value": client.cookies["sessionid"].value}
    context.add_cookies([session | {"url": live_server.url}])
    page = context.new_page()
    page.said = []
    page.on("console", lambda m: page.said.append(m.text) if m.type == "error" else None)
    page.goto(live_server.url + path)
    return page


def sound(page: Any) -> None:
    """Nothing serious for people who use the page by ear or by key; nothing refused by policy."""
    found = Axe().run(page).response["violations"]
    assert [one["id"] for one in found if one["impact"] in ("serious", "critical")] == []
    assert page.said == []
    sideways = "document.documentElement.scrollWidth > document.documentElement.clientWidth"
    assert page.evaluate(sideways) is False


def test_from_a_spalled_point_to_the_sheet_on_a_phone(
    railway_with_a_spalled_point: Any, live_server: Any, browser: Any
) -> None:
    defect = railway_with_a_spalled_point
    territory = defect.turnout.territory
    supervisor = railway.person("supervisor", territory)

    page = enter(browser, live_server, supervisor, DESK, "/defects/")
    assert page.get_by_text("Not judged yet").is_visible()
    page.get_by_role("button", name="Judge all open defects").click()
    assert page.get_by_role("status").get_by_text("Waiting").is_visible()
    tasks.triage(LongRun.objects.get(kind="triage").pk)
    page.get_by_text("Judged 1 open defect: 1 new answer").wait_for()  # the page asks by itself
    assert page.get_by_text("Class speed, 40 mph").is_visible()
    sound(page)

    page.get_by_role("link", name=defect.reference, exact=True).click()
    page.get_by_label("Note, if any").fill("Seen on site")
    page.get_by_role("button", name="Confirm this decision").click()
    assert page.get_by_text("Confirmed under your name.").is_visible()
    assert Confirmation.objects.get().by == supervisor
    page.get_by_text("Why: each value beside its limit").click()
    assert page.get_by_text("49 CFR 213.143(a)").first.is_visible()
    sound(page)

    page.get_by_role("link", name="Defects", exact=True).click()
    page.get_by_role("button", name="Make repair jobs").click()
    tasks.jobs(LongRun.objects.get(kind="jobs").pk)
    page.get_by_text("1 job made").wait_for()
    page.get_by_role("main").get_by_role("link", name="Repair jobs").click()
    job = RepairJob.objects.with_place().get()
    page.get_by_role("link", name=job.reference).click()
    assert page.get_by_text("enough in 95 of 100").is_visible()
    sound(page)

    welder = rows.welder(job)
    begins = timezone.now() + timedelta(hours=2)
    sheet = rows.sheet(job, [welder], track_time=rows.track_time(job, starts_at=begins))
    phone = enter(browser, live_server, welder, PHONE, "/sheets/")
    sound(phone)
    phone.get_by_role("link", name=sheet.number).click()
    assert phone.get_by_text("Gate at Mill Lane").is_visible()
    phone.get_by_role("link", name="Hold points").click()
    assert phone.get_by_text("Before the first bead in a zone").is_visible()
    sound(phone)
