"""The whole site as people meet it in Chromium: with PostgreSQL, Redis and a Celery worker.

Every test ends by asking whether a page it opened complained or called out to another machine.
"""

from collections.abc import Callable, Iterator
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.core.cache import cache
from django.core.management import call_command
from django.db import connections
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page, Response, expect
from pytest_django.live_server_helper import LiveServer

from tests.browser.looking import DESK
from turnouts.models import Person

PATIENCE_MS = 30_000
expect.set_options(timeout=PATIENCE_MS)  # a busy machine is no fault of the page

Enter = Callable[..., Page]
"""``enter(person, "/week/", PHONE)``: a browser of one person, logged in, at an address."""


@pytest.fixture(scope="module")
def db(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    """In this folder the test database is open for a whole module, and empty again after it.

    The site and the worker read what is committed, so no test can be undone by itself; each one
    makes a territory of its own instead. The name is pytest-django's, which makes the database
    for whoever asks for it by this name.
    """
    with django_db_blocker.unblock():
        cache.clear()
        yield
        call_command("flush", verbosity=0, interactive=False)
        cache.clear()
        # The browser's event loop made Django open one more, which nobody else would close.
        connections.close_all()


@pytest.fixture(scope="module")
def site(db: None) -> Iterator[str]:
    """The address of the served site."""
    server = LiveServer("localhost")
    yield server.url
    server.stop()


class Watch:
    """What the pages of one browser complained about, and whom they called."""

    def __init__(self, context: BrowserContext, site: str) -> None:
        self.complaints: list[str] = []
        self.called: set[str] = set()
        self._refused: set[str] = set()
        self._own = urlsplit(site).netloc
        context.on("response", self._answered)
        context.on("request", lambda request: self.called.add(urlsplit(request.url).netloc))
        context.on("weberror", lambda fault: self.complaints.append(str(fault.error)))
        context.on("console", self._said)

    def _answered(self, response: Response) -> None:
        """The browser complains of each page that is refused; the tests ask for some of those.

        So it does when a phone calls with a login that ran out, which its page answers in words.
        """
        asked = response.request.is_navigation_request() or response.status == 403
        if asked and response.status >= 400:
            self._refused.add(response.url)

    def _said(self, message: Any) -> None:
        cut = "ERR_INTERNET_DISCONNECTED" in message.text  # a test took the network away
        if message.type == "error" and not cut and message.location["url"] not in self._refused:
            self.complaints.append(f"{message.location['url']}: {message.text}")

    def must_be_quiet(self) -> None:
        assert self.complaints == []
        assert self.called <= {self._own}


@pytest.fixture
def enter(browser: Browser, site: str) -> Iterator[Enter]:
    """Opens the site as a person (None: as nobody yet) in a browser of their own."""
    opened: list[tuple[BrowserContext, Watch]] = []

    def _enter(
        person: Person | None = None,
        path: str = "/",
        size: Any = DESK,
        scheme: Any = "light",
    ) -> Page:
        context = browser.new_context(
            base_url=site, viewport=size, color_scheme=scheme, reduced_motion="reduce"
        )
        opened.append((context, Watch(context, site)))
        if person is not None:
            context.add_cookies([_session_of(person, site)])
        page = context.new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.goto(path)
        return page

    yield _enter
    for context, _ in opened:
        context.close()
    for _, watch in opened:
        watch.must_be_quiet()


def _session_of(person: Person, site: str) -> Any:
    client = Client()
    client.force_login(person)
    return {"name": "sessionid", "value": client.cookies["sessionid"].value, "url": site}
