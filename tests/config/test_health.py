"""The health pages ask the real servers."""

import json

import pytest
from django.test import Client
from pytest_django import Settings

from tests.config.conftest import PRODUCTION, Run


@pytest.mark.django_db
def test_ready_when_database_queue_and_cache_answer(client: Client) -> None:
    answer = client.get("/health/ready")
    assert (answer.status_code, answer.json()) == (
        200,
        {"database": True, "queue": True, "cache": True},
    )


@pytest.mark.django_db
def test_not_ready_when_the_queue_is_lost(client: Client, settings: Settings) -> None:
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    answer = client.get("/health/ready")
    assert answer.status_code == 503
    assert answer.json() == {"database": True, "queue": False, "cache": True}


def test_alive_but_not_ready_when_every_server_is_lost(run: Run) -> None:
    ask = """
import django; django.setup()
from django.test import Client
for page in ("live", "ready"):
    answer = Client(SERVER_NAME="frogs.example").get(f"/health/{page}")
    print(answer.status_code, answer.content.decode())
"""
    done = run("-c", ask, **PRODUCTION, DATABASE_POOL_TIMEOUT_S="1")
    live, ready = done.stdout.splitlines()
    assert live.startswith("200 ")
    status, answers = ready.split(" ", 1)
    assert status == "503"
    assert json.loads(answers) == {"database": False, "queue": False, "cache": False}


def test_the_health_pages_are_not_sent_to_tls_but_every_other_page_is(run: Run) -> None:
    """The container asks its own health without TLS."""
    ask = """
import django; django.setup()
from django.test import Client
client = Client(SERVER_NAME="frogs.example")
print(client.get("/health/live").status_code, client.get("/login/").status_code)
print(client.get("/login/")["Location"])
"""
    done = run("-c", ask, **PRODUCTION)
    assert done.stdout.split() == ["200", "301", "https://frogs.example/login/"], done.stderr
