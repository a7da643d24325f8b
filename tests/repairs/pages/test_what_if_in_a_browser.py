"""The defect page with its pictures and the slider, in a real browser, at a desk and on a phone."""

from decimal import Decimal
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.test import Client

from tests import railway
from tests.repairs import rows

SIZES = {"desk": {"width": 1280, "height": 900}, "phone": {"width": 390, "height": 844}}
A4 = {"width": 718, "height": 1047}
"""A sheet less margins of 10 mm, in pixels of 1/96 in as CSS counts them."""


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", list(SIZES))
def test_the_defect_page_is_sound_and_its_slider_answers(
    size: str, scheme: Any, transactional_db: None, live_server: Any, browser: Any, tmp_path: Any
) -> None:
    defect = rows.spalled_point(depth_mm=Decimal(17), length_mm=Decimal(160))
    person = railway.person("engineer")
    rows.judged(person)
    client = Client()
    client.force_login(person)
    context = browser.new_context(viewport=SIZES[size], color_scheme=scheme)
    session = {"name": "sessionid", "value": client.cookies["sessionid"].value}
    context.add_cookies([session | {"url": live_server.url}])
    page = context.new_page()
    said: list[str] = []
    page.on("console", lambda m: said.append(m.text) if m.type == "error" else None)
    page.goto(f"{live_server.url}/defects/{defect.reference}/")
    page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
    page.locator("select[name=of]").select_option("defect_depth")
    page.locator("input[name=was][value=defect_depth]").wait_for(state="attached")
    slider = page.get_by_role("slider")
    slider.focus()
    slider.press("Home")
    page.locator(".then.class_speed").wait_for()
    assert page.locator("#what-if-value").input_value() == "0 in"
    found = Axe().run(page).response["violations"]
    assert [one["id"] for one in found if one["impact"] in ("serious", "critical")] == []
    sideways = "document.documentElement.scrollWidth > document.documentElement.clientWidth"
    assert page.evaluate(sideways) is False
    assert said == []
    page.screenshot(path=tmp_path / f"{size}-{scheme}.png", full_page=True)
    context.close()


def test_on_paper_the_panels_stand_open_the_forms_are_gone_and_nothing_is_cut_off(
    transactional_db: None, live_server: Any, browser: Any
) -> None:
    defect = rows.spalled_point(depth_mm=Decimal(17), length_mm=Decimal(160))
    person = railway.person("engineer")
    rows.under(defect.turnout.territory, "us-49cfr213", "eu-inf-tsi")
    rows.judged(person)
    client = Client()
    client.force_login(person)
    context = browser.new_context(viewport=A4)
    session = {"name": "sessionid", "value": client.cookies["sessionid"].value}
    context.add_cookies([session | {"url": live_server.url}])
    page = context.new_page()
    page.goto(f"{live_server.url}/defects/{defect.reference}/")
    folded = page.get_by_text("Each by itself, the others as they are.")
    button = page.get_by_role("button", name="Judge again")
    assert (folded.is_visible(), button.is_visible()) == (False, True)
    page.emulate_media(media="print")
    assert (folded.is_visible(), button.is_visible()) == (True, False)
    assert not page.get_by_role("slider").is_visible()
    assert page.get_by_role("cell", name="Text read in force since 1998-09-21").first.is_visible()
    wider = "[...document.querySelectorAll('.scroll')].filter(e => e.scrollWidth > e.clientWidth)"
    assert page.evaluate(f"{wider}.length") == 0
    split = "[...document.querySelectorAll('figure')].map(e => getComputedStyle(e).breakInside)"
    assert set(page.evaluate(split)) == {"avoid"}
    context.close()
