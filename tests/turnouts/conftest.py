"""People and places most tests of this app begin with."""

import pytest
from django.test import Client

from tests import railway
from turnouts.models import Person, Turnout


@pytest.fixture
def spot(db: None) -> Turnout:
    """A turnout with nothing installed in it."""
    return railway.turnout()


@pytest.fixture
def engineer(spot: Turnout) -> Person:
    return railway.person("engineer", spot.territory)


@pytest.fixture
def inspector(spot: Turnout) -> Person:
    return railway.person("inspector", spot.territory)


@pytest.fixture
def as_engineer(client: Client, engineer: Person) -> Client:
    client.force_login(engineer)
    return client


@pytest.fixture
def as_inspector(client: Client, inspector: Person) -> Client:
    client.force_login(inspector)
    return client
