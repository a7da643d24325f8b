"""A page opened as somebody, and what must hold of every page that is opened."""

from typing import Any

from axe_playwright_python.sync_playwright import Axe
from django.test import Client

from turnouts.models import Person

PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}


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
