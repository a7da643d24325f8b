"""People and places most tests of this app begin with."""

from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from tests import railway
from tests.turnouts.sheets import importer, settled
from turnouts.models import Component, Person, Turnout


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


@pytest.fixture
def frog(spot: Turnout) -> Component:
    """A frog that stands there."""
    row = railway.component()
    railway.install(row, spot)
    return row


@pytest.fixture
def kept_files(settings: Any, tmp_path: Path) -> Path:
    """The folder in which this test's files are kept."""
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


@pytest.fixture
def by(db: None) -> Person:
    """Somebody who may import everything."""
    return importer()


@pytest.fixture
def railway_is_in(by: Person) -> None:
    """The small railway of the sheets is brought in."""
    settled(by)
