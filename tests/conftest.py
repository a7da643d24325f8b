"""What every test may use: the browser, the queue, an empty cache."""

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.core.cache import cache
from django.db import connection
from hypothesis import settings as hypothesis_settings

from config.celery import app

CHROMIUM = (
    os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
)
# Chromium as root has no sandbox; and it is to call nobody by itself.
_CHROMIUM_FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]

# A slow machine is no fault of the code.
hypothesis_settings.register_profile("frogs", deadline=None)
hypothesis_settings.load_profile("frogs")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Whatever opens a page is a browser test, marked or not."""
    for item in items:
        if "browser" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.browser)


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Without Chromium a browser test is skipped on a desk, and fails where it must be run."""
    if item.get_closest_marker("browser") and not CHROMIUM:
        sentence = "Chromium is missing: `make browser` installs it, or CHROMIUM names its program."
        if os.environ.get("CI"):
            pytest.fail(sentence, pytrace=False)
        pytest.skip(sentence)


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """Debian's Chromium instead of a downloaded one."""
    return browser_type_launch_args | {"executable_path": CHROMIUM, "args": _CHROMIUM_FLAGS}


@pytest.fixture
def empty_cache() -> Iterator[None]:
    """Redis's cache, empty before and after."""
    cache.clear()
    yield
    cache.clear()


@pytest.fixture(scope="session")
def worker(django_db_setup: None, django_db_blocker: Any) -> Iterator[subprocess.Popen[bytes]]:
    """A real Celery worker on the test's database and queue. The test needs `transactional_db`."""
    server = os.environ["DATABASE_URL"].rpartition("/")[0]
    with django_db_blocker.unblock():
        name = connection.settings_dict["NAME"]
    environment = os.environ | {
        "DATABASE_URL": f"{server}/{name}",
        "REDIS_URL": django_settings.REDIS_URL,
        "DJANGO_SETTINGS_MODULE": "config.settings",
    }
    command = [sys.executable, "-m", "celery", "-A", "config", "worker", "--concurrency=1"]
    process = subprocess.Popen(command, env=environment, start_new_session=True)  # noqa: S603
    try:
        _wait_until_it_listens(process)
        yield process
    finally:
        process.send_signal(signal.SIGTERM)
        try:
            process.wait(20)
        finally:
            if process.poll() is None:
                os.killpg(process.pid, signal.SIGKILL)


def _wait_until_it_listens(process: subprocess.Popen[bytes]) -> None:
    deadline = time.monotonic() + 60
    while not app.control.ping(timeout=0.5):
        assert process.poll() is None, "the Celery worker ended by itself"
        assert time.monotonic() < deadline, "the Celery worker did not begin to listen"
