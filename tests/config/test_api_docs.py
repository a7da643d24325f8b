"""The API's description opens in a browser under the site's own strict policy."""

import pytest
from django.test import Client
from playwright.sync_api import BrowserContext, ConsoleMessage, expect
from pytest_django.live_server_helper import LiveServer

from turnouts.models import Person


@pytest.mark.django_db(transaction=True)
def test_the_api_can_be_read_in_a_browser_with_nothing_blocked(
    live_server: LiveServer, context: BrowserContext, client: Client
) -> None:
    client.force_login(
        Person.objects.create_user("engineer"), "django.contrib.auth.backends.ModelBackend"
    )
    cookie = client.cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
    page = context.new_page()
    said: list[str] = []

    def listen(message: ConsoleMessage) -> None:
        if message.type in ("error", "warning"):
            said.append(message.text)

    page.on("console", listen)
    page.goto(f"{live_server.url}/api/docs/")
    expect(page.locator(".opblock").first).to_be_visible(timeout=30_000)
    assert said == [], "\n".join(said)
