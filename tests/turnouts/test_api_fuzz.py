"""Whatever is sent to the API, it answers or refuses, and never with a fault of its own."""

import json
from typing import Any

import pytest
import requests
import schemathesis
from django.test import Client
from drf_spectacular.generators import SchemaGenerator
from hypothesis import HealthCheck, Phase, given, settings

from tests import railway

pytestmark = pytest.mark.django_db


def operations() -> list[Any]:
    """Every operation of the site's schema."""
    whole = SchemaGenerator().get_schema(public=True)
    loaded = schemathesis.openapi.from_dict(json.loads(json.dumps(whole, default=str)))
    return [found.ok() for found in loaded.get_all_operations()]


@pytest.fixture
def sender(settings: Any, tmp_path: Any) -> Client:
    """An engineer's, on a railway with something in it."""
    settings.MEDIA_ROOT = tmp_path
    railway.spalled_frog()
    client = Client(raise_request_exception=False)
    client.force_login(railway.person("engineer"))
    return client


def send(client: Client, case: Any) -> Any:
    """The made-up case through Django's own test client, inside the test's transaction."""
    made = requests.Request(**case.as_transport_kwargs(base_url="http://testserver")).prepare()
    return client.generic(
        made.method or "",
        made.path_url,
        made.body or b"",
        content_type=made.headers.get("Content-Type", "application/json"),
    )


@pytest.mark.parametrize("operation", operations(), ids=lambda one: one.label)
def test_no_request_is_answered_with_a_fault(operation: Any, sender: Client) -> None:
    @settings(
        max_examples=6,
        deadline=None,
        derandomize=True,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy())
    def ask(case: Any) -> None:
        answer = send(sender, case)
        assert answer.status_code < 500
        assert answer.status_code != 401

    ask()
