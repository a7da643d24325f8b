"""The API: the same rights as the pages, and no more queries for more rows."""

from io import StringIO

import pytest
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests import railway
from turnouts.models import Turnout

pytestmark = pytest.mark.django_db


def test_the_schema_is_made_without_a_warning() -> None:
    call_command("spectacular", "--validate", "--fail-on-warn", stdout=StringIO())


def test_a_stranger_is_refused(client: Client, spot: Turnout) -> None:
    assert client.get("/api/turnouts/").status_code == 403


LISTS = ["lines", "turnouts", "components", "inspections", "defects"]


@pytest.mark.parametrize("name", LISTS)
def test_lists_hold_the_rows_of_the_own_territory_only(client: Client, name: str) -> None:
    mine, other = railway.spalled_frog(), railway.spalled_frog()
    client.force_login(railway.person("welder", mine.turnout.territory))
    answer = client.get(f"/api/{name}/").json()
    assert answer["count"] == 1
    known = {"lines": mine.turnout.track.line.code, "turnouts": mine.turnout.code}
    known |= {"components": mine.component.serial, "inspections": mine.inspection.reference}
    key = known.get(name, mine.reference)
    assert client.get(f"/api/{name}/{key}/").status_code == 200
    away = {"lines": other.turnout.track.line.code, "turnouts": other.turnout.code}
    away |= {"components": other.component.serial, "inspections": other.inspection.reference}
    assert client.get(f"/api/{name}/{away.get(name, other.reference)}/").status_code == 404


@pytest.mark.parametrize("name", LISTS)
def test_somebody_without_a_role_is_refused(client: Client, name: str) -> None:
    client.force_login(railway.person())
    assert client.get(f"/api/{name}/").status_code == 403


@pytest.mark.parametrize("name", LISTS)
def test_a_list_asks_as_often_for_thirty_rows_as_for_three(client: Client, name: str) -> None:
    counts = []
    for rows in (3, 30):
        here = railway.territory()
        client.force_login(railway.person("engineer", here))
        for _ in range(rows):
            railway.spalled_frog(railway.turnout(railway.track(railway.line(here))))
        with CaptureQueriesContext(connection) as asked:
            assert client.get(f"/api/{name}/").status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_a_serial_number_may_hold_a_dot(as_engineer: Client) -> None:
    railway.component(serial="F-12.5")
    assert as_engineer.get("/api/components/F-12.5/").json()["serial"] == "F-12.5"
