"""A page asks the database no more often when there is more to show."""

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests import railway
from turnouts.analysis.terms import Quantity, Role
from turnouts.models import Component, Turnout

pytestmark = pytest.mark.django_db


def queries(client: Client, address: str) -> int:
    with CaptureQueriesContext(connection) as asked:
        assert client.get(address).status_code == 200
    return len(asked)


def many_turnouts(spot: Turnout, count: int) -> str:
    for _ in range(count):
        railway.spalled_frog(railway.turnout(spot.track))
    return "/turnouts/"


def many_components(spot: Turnout, count: int) -> str:
    many_turnouts(spot, count)
    return "/components/"


def much_history(spot: Turnout, count: int) -> Component:
    frog = railway.component()
    first = date(2020, 1, 1)
    for stay in range(count):
        start = first + timedelta(days=60 * stay)
        last = start + timedelta(days=30) if stay < count - 1 else None
        railway.install(frog, spot, installed_on=start, removed_on=last)
    for day in range(count):
        visit = railway.inspection(spot, inspected_at=railway.VISIT + timedelta(days=day))
        railway.measurement(visit, Quantity.TREAD_WEAR, str(day + 1), frog)
        railway.defect(frog, visit)
    return frog


def one_component(spot: Turnout, count: int) -> str:
    return f"/components/{much_history(spot, count).serial}/"


def one_turnout(spot: Turnout, count: int) -> str:
    much_history(spot, count)
    return f"/turnouts/{spot.code}/"


def one_inspection(spot: Turnout, count: int) -> str:
    visit = railway.inspection(spot)
    for number in range(count):
        frog = railway.component()
        railway.measurement(visit, Quantity.TREAD_WEAR, str(number), frog)
        railway.defect(frog, visit)
    return f"/inspections/{visit.reference}/"


def many_people(spot: Turnout, count: int) -> str:
    for _ in range(count):
        railway.person("welder", spot.territory)
    return "/people/"


@pytest.mark.parametrize(
    "make",
    [many_turnouts, many_components, one_component, one_turnout, one_inspection, many_people],
)
def test_a_page_asks_as_often_for_thirty_rows_as_for_three(
    client: Client, make: Callable[[Turnout, int], str]
) -> None:
    counts = []
    for rows in (3, 30):
        spot = railway.turnout()
        person = railway.person("engineer", spot.territory)
        railway.grant(person, Role.ADMINISTRATOR, spot.territory)
        client.force_login(person)
        address = make(spot, rows)
        queries(client, address)  # the session and the like are read once
        counts.append(queries(client, address))
    assert counts[0] == counts[1]
    assert counts[1] < 30
