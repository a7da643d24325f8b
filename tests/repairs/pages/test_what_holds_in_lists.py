"""Lists of defects are filtered and sorted by what holds, not by what the machine said."""

import csv
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from repairs.models import Decision
from repairs.services.held import with_held
from repairs.services.overrules import Word, overrule_decision
from repairs.services.standing import standing_for
from repairs.services.triage import triage_defect
from tests import railway
from tests.repairs import rows
from turnouts.analysis.terms import Disposition
from turnouts.models import Defect, Person

pytestmark = pytest.mark.django_db


@pytest.fixture
def engineer() -> Person:
    return railway.person("engineer")


@pytest.fixture
def client(engineer: Person) -> Client:
    client = Client()
    client.force_login(engineer)
    return client


def judged(by: Person, **sizes: Any) -> Decision:
    return triage_defect(by=by, defect=rows.spalled_point(**sizes), on=rows.DAY, at=rows.NOW)


def stopped(by: Person, decision: Decision, **values: Any) -> Decision:
    """Overruled to a stop and to be replaced tomorrow."""
    given: dict[str, Any] = {
        "traffic": "stop",
        "speed_kmh": None,
        "disposition": Disposition.REPLACE,
        "due_on": rows.DAY + timedelta(days=1),
        "reason": "Cracked through, seen by me",
    }
    overrule_decision(
        by=by, decision=decision, word=Word(**given | values), on=rows.DAY, at=rows.NOW
    )
    return decision


def listed(client: Client, asked: str) -> list[str]:
    answer = client.get(f"{reverse('defects-csv')}?{asked}")
    return [line["defect"] for line in csv.DictReader(answer.content.decode().splitlines())]


@pytest.mark.parametrize(
    ("asked", "shown"),
    [
        ("traffic=stop", True),
        ("traffic=class_speed", False),
        ("disposition=replace", True),
        ("disposition=weld_in_track", False),
    ],
)
def test_page_table_and_api_find_an_overruled_defect_by_the_engineers_word(
    client: Client, engineer: Person, asked: str, shown: bool
) -> None:
    name = stopped(engineer, judged(engineer)).defect.reference
    assert (f"/defects/{name}/" in client.get(f"/defects/?{asked}").content.decode()) is shown
    assert (name in listed(client, asked)) is shown
    found = client.get(f"/api/decisions/?holds_{asked}").json()["results"]
    assert ([one["defect"] for one in found] == [name]) is shown


def test_the_machines_own_answer_can_still_be_asked_for(client: Client, engineer: Person) -> None:
    name = stopped(engineer, judged(engineer)).defect.reference
    found = client.get("/api/decisions/?traffic=class_speed").json()["results"]
    assert [one["defect"] for one in found] == [name]


def test_lists_are_sorted_by_the_date_that_holds(client: Client, engineer: Person) -> None:
    first, second = judged(engineer), judged(engineer)
    assert first.due_on == second.due_on
    stopped(engineer, second)
    names = [second.defect.reference, first.defect.reference]
    assert listed(client, "") == names
    page = client.get("/defects/").content.decode()
    assert page.index(f"/defects/{names[0]}/") < page.index(f"/defects/{names[1]}/")
    found = client.get("/api/decisions/?order=holds_due_on").json()["results"]
    assert [one["defect"] for one in found] == names
    until = (rows.DAY + timedelta(days=1)).isoformat()
    found = client.get(f"/api/decisions/?holds_due_until={until}").json()["results"]
    assert [one["defect"] for one in found] == names[:1]


def test_the_table_shows_what_the_rules_said_beside_what_holds(
    client: Client, engineer: Person
) -> None:
    stopped(engineer, judged(engineer))
    (line,) = csv.DictReader(client.get("/defects.csv").content.decode().splitlines())
    assert (line["traffic"], line["rules_traffic"]) == ("stop", "class_speed")
    assert (line["disposition"], line["rules_disposition"]) == ("replace", "weld_in_track")
    assert (line["overruled"], line["asks_again"]) == ("yes", "no")


def test_the_columns_of_a_list_are_what_holds_of_each_defect(engineer: Person) -> None:
    """Not overruled, overruled, taken back, and overruled before the facts changed."""
    judged(engineer)
    stopped(engineer, judged(engineer))
    back = stopped(engineer, judged(engineer))
    stopped(
        engineer,
        back,
        traffic=back.traffic,
        disposition=Disposition(back.disposition),
        due_on=back.due_on,
        authority="213.7",
        lifts=True,
    )
    other = stopped(engineer, judged(engineer)).defect
    Defect.objects.filter(pk=other.pk).update(depth_mm=Decimal(17), length_mm=Decimal(160))
    other.refresh_from_db()
    triage_defect(by=engineer, defect=other, on=rows.DAY, at=rows.NOW)

    current = list(Decision.objects.current())
    standing = standing_for(current)
    held = with_held(Decision.objects.current(), decision="", key="pk")
    assert {row.pk: (row.held_traffic, row.held_disposition, row.held_due_on) for row in held} == {
        pk: (holds.traffic, holds.disposition, holds.due_on) for pk, holds in standing.items()
    }
    assert sorted(one.asks_again for one in standing.values()) == [False, False, False, True]
    assert sum(one.overrule is None for one in standing.values()) == 2


@pytest.mark.parametrize(
    "address", ["/defects/?traffic=stop", "/defects.csv", "/api/decisions/?holds_traffic=stop"]
)
def test_queries_do_not_grow_with_the_overruled_defects(
    client: Client, engineer: Person, address: str
) -> None:
    stopped(engineer, judged(engineer))
    client.get(address)
    with CaptureQueriesContext(connection) as few:
        client.get(address)
    for _ in range(3):
        stopped(engineer, judged(engineer))
    with CaptureQueriesContext(connection) as many:
        assert client.get(address).status_code == 200
    assert len(many) == len(few)


def test_a_table_begins_no_cell_as_a_formula(client: Client, engineer: Person) -> None:
    rows.spalled_point(reference="=1+1")
    assert listed(client, "") == ["'=1+1"]
