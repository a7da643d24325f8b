"""Inspections reported by a program: whole or not at all, and once for one key."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from tests import railway
from turnouts.access import ALLOWED, Action
from turnouts.analysis.terms import Role
from turnouts.models import Component, Defect, Inspection, KeptAnswer, Turnout

pytestmark = pytest.mark.django_db

JSON = "application/json"


def report(spot: Turnout, frog: Component, **values: Any) -> dict[str, Any]:
    return {
        "reference": "API-1",
        "turnout": spot.code,
        "inspected_at": "2026-03-02T09:30:00Z",
        "kind": "detailed",
        "measurements": [
            {
                "quantity": "flangeway_depth",
                "typed": "1 3/8",
                "unit": "in",
                "component": frog.serial,
                "route": "through",
            }
        ],
        "defects": [
            {
                "reference": "API-1-1",
                "component": frog.serial,
                "kind": "spall",
                "zone": "tread",
                "depth_mm": "15.875",
                "breaks_surface": True,
            }
        ],
    } | values


def post(client: Client, address: str, data: Any, **headers: str) -> Any:
    return client.post(address, data, content_type=JSON, headers=headers)


def test_an_inspection_is_reported_whole(
    as_inspector: Client, spot: Turnout, frog: Component
) -> None:
    answer = post(as_inspector, "/api/inspections/", report(spot, frog))
    assert answer.status_code == 201, answer.content
    (reading,) = answer.json()["measurements"]
    # 1 3/8 in is 34.925 mm: 1 in = 25.4 mm exactly
    assert (reading["value"], reading["typed"]) == ("34.9250000", "1 3/8")
    defect = Defect.objects.get()
    assert (defect.breaks_surface, defect.reaches_edge) == (True, None)


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"turnout": "NOWHERE"}, "There is no turnout NOWHERE."),
        ({"inspected_at": "2019-03-02T09:30:00Z"}, "did not stand in"),
        ({"kind": "guess"}, "is none of the choices"),
    ],
)
def test_a_report_that_cannot_be_is_refused_whole(
    as_inspector: Client, spot: Turnout, frog: Component, values: dict[str, Any], sentence: str
) -> None:
    answer = post(as_inspector, "/api/inspections/", report(spot, frog, **values))
    assert answer.status_code == 400
    assert sentence in answer.content.decode()
    assert not Inspection.objects.exists()


def test_a_reading_that_cannot_be_read_is_refused_with_its_sentence(
    as_inspector: Client, spot: Turnout, frog: Component
) -> None:
    data = report(spot, frog)
    data["measurements"][0]["typed"] = "13/8"
    answer = post(as_inspector, "/api/inspections/", data)
    assert answer.status_code == 400
    assert "the upper number of the fraction is not the smaller one" in answer.content.decode()
    assert not Inspection.objects.exists()


def test_a_component_of_another_territory_cannot_be_named(
    as_inspector: Client, spot: Turnout, frog: Component
) -> None:
    away = railway.spalled_frog().component
    answer = post(as_inspector, "/api/inspections/", report(spot, away))
    assert answer.status_code == 400
    assert f"There is no component {away.serial}." in answer.content.decode()


def test_a_visit_to_come_is_refused(as_inspector: Client, spot: Turnout, frog: Component) -> None:
    later = (timezone.now() + timedelta(minutes=2)).isoformat()
    answer = post(as_inspector, "/api/inspections/", report(spot, frog, inspected_at=later))
    assert "still to come" in answer.content.decode()


@pytest.mark.parametrize("role", list(Role))
def test_only_roles_that_report_may_report(
    client: Client, spot: Turnout, frog: Component, role: Role
) -> None:
    client.force_login(railway.person(role, spot.territory))
    status = post(client, "/api/inspections/", report(spot, frog)).status_code
    assert status == (201 if role in ALLOWED[Action.REPORT] else 403)


def test_the_same_key_does_it_once_and_answers_the_same(
    as_inspector: Client, spot: Turnout, frog: Component
) -> None:
    key = {"Idempotency-Key": "phone-1"}
    first, second = (
        post(as_inspector, "/api/inspections/", report(spot, frog), **key) for _ in range(2)
    )
    assert (first.status_code, second.status_code) == (201, 201)
    assert first.json() == second.json()
    assert Inspection.objects.count() == 1


def test_without_a_key_the_second_request_is_a_conflict(
    as_inspector: Client, spot: Turnout, frog: Component
) -> None:
    post(as_inspector, "/api/inspections/", report(spot, frog))
    assert post(as_inspector, "/api/inspections/", report(spot, frog)).status_code == 409


def test_the_same_key_for_another_request_is_refused(
    as_inspector: Client, spot: Turnout, frog: Component
) -> None:
    key = {"Idempotency-Key": "phone-1"}
    post(as_inspector, "/api/inspections/", report(spot, frog), **key)
    other = report(spot, frog, reference="API-2", defects=[])
    answer = post(as_inspector, "/api/inspections/", other, **key)
    assert answer.status_code == 409
    assert "another request" in answer.json()["detail"]


def test_a_refused_request_keeps_no_answer_and_may_be_put_right(
    as_inspector: Client, spot: Turnout, frog: Component
) -> None:
    key = {"Idempotency-Key": "phone-1"}
    wrong = report(spot, frog, turnout="NOWHERE")
    assert post(as_inspector, "/api/inspections/", wrong, **key).status_code == 400
    assert not KeptAnswer.objects.exists()
    assert post(as_inspector, "/api/inspections/", report(spot, frog), **key).status_code == 201


def test_two_people_may_choose_the_same_key(client: Client, spot: Turnout, frog: Component) -> None:
    for number in (1, 2):
        client.force_login(railway.person("inspector", spot.territory))
        data = report(spot, frog, reference=f"API-{number}", defects=[])
        answer = post(client, "/api/inspections/", data, **{"Idempotency-Key": "k"})
        assert answer.json()["reference"] == f"API-{number}"


@pytest.mark.parametrize(("length", "status"), [(80, 201), (81, 400)])
def test_a_key_has_at_most_eighty_characters(
    as_inspector: Client, spot: Turnout, frog: Component, length: int, status: int
) -> None:
    key = {"Idempotency-Key": "k" * length}
    answer = post(as_inspector, "/api/inspections/", report(spot, frog), **key)
    assert answer.status_code == status
