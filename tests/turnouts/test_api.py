"""The API: the same rights as the pages, refusals in sentences, a repeated request done once."""

from datetime import timedelta
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.test import Client
from django.utils import timezone
from PIL import Image

from tests import railway
from turnouts.access import ALLOWED, Action
from turnouts.analysis.terms import Role
from turnouts.models import (
    Component,
    Defect,
    Inspection,
    KeptAnswer,
    LongRun,
    Person,
    Photograph,
    Turnout,
)
from turnouts.services.imports import carry_out_import

pytestmark = pytest.mark.django_db

JSON = "application/json"


@pytest.fixture
def frog(spot: Turnout) -> Component:
    row = railway.component()
    railway.install(row, spot)
    return row


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


def jpeg() -> SimpleUploadedFile:
    held = BytesIO()
    Image.new("RGB", (8, 8), (9, 9, 9)).save(held, "JPEG")
    return SimpleUploadedFile("p.jpg", held.getvalue(), "image/jpeg")


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
def test_a_list_asks_as_often_for_thirty_rows_as_for_three(
    client: Client, name: str, django_assert_max_num_queries: Any
) -> None:
    spot = railway.turnout()
    client.force_login(railway.person("engineer", spot.territory))
    for _ in range(30):
        railway.spalled_frog(railway.turnout(spot.track))
    with django_assert_max_num_queries(10):
        assert client.get(f"/api/{name}/").status_code == 200


def test_a_serial_number_may_hold_a_dot(as_engineer: Client) -> None:
    railway.component(serial="F-12.5")
    assert as_engineer.get("/api/components/F-12.5/").json()["serial"] == "F-12.5"


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
        ({"kind": "guess"}, "not a valid choice"),
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


def test_a_photograph_is_added_once_for_one_key(
    as_inspector: Client, spot: Turnout, settings: Any, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    defect = railway.spalled_frog(spot)
    address = f"/api/defects/{defect.reference}/photographs/"
    answers = [
        as_inspector.post(
            address, {"picture": jpeg(), "caption": "Spall"}, headers={"Idempotency-Key": "p"}
        )
        for _ in range(2)
    ]
    assert [answer.status_code for answer in answers] == [201, 201]
    assert answers[0].json() == answers[1].json()
    assert Photograph.objects.get().caption == "Spall"
    other = as_inspector.post(
        address, {"picture": jpeg(), "caption": "Crack"}, headers={"Idempotency-Key": "p"}
    )
    assert other.status_code == 409


def test_a_file_that_is_no_picture_is_refused(as_inspector: Client, spot: Turnout) -> None:
    defect = railway.spalled_frog(spot)
    upload = SimpleUploadedFile("p.jpg", b"nothing of the kind")
    answer = as_inspector.post(
        f"/api/defects/{defect.reference}/photographs/", {"picture": upload, "caption": "x"}
    )
    assert answer.status_code == 400
    assert "cannot be opened as a picture" in answer.json()["detail"]


def change(client: Client, spot: Turnout, **values: Any) -> Any:
    return client.patch(f"/api/turnouts/{spot.code}/", values, content_type=JSON)


def test_a_turnout_is_changed_with_the_version_that_was_read(
    as_engineer: Client, spot: Turnout
) -> None:
    answer = change(as_engineer, spot, version=1, access="Past the mill")
    assert answer.status_code == 200
    assert (answer.json()["access"], answer.json()["version"]) == ("Past the mill", 2)
    assert answer.json()["hand"] == "right"
    late = change(as_engineer, spot, version=1, access="By the quarry")
    assert late.status_code == 409
    assert "changed by somebody else" in late.json()["detail"]


@pytest.mark.parametrize("role", list(Role))
def test_only_roles_that_edit_may_change_a_turnout(
    client: Client, spot: Turnout, role: Role
) -> None:
    client.force_login(railway.person(role, spot.territory))
    status = change(client, spot, version=1, access="x").status_code
    assert status == (200 if role in ALLOWED[Action.EDIT_INVENTORY] else 403)


def test_a_file_is_handed_over_looked_at_and_accepted(
    as_engineer: Client, engineer: Person, settings: Any, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    upload = SimpleUploadedFile("components.csv", b"serial,kind\nP-1,plate\n", "text/csv")
    answer = as_engineer.post("/api/imports/", {"file": upload, "request_key": "one"})
    assert answer.status_code == 202, answer.content
    run = LongRun.objects.get(pk=answer.json()["id"])
    assert as_engineer.post(f"/api/imports/{run.pk}/accept/").status_code == 409
    carry_out_import(run_id=run.pk)
    looked = as_engineer.get(f"/api/runs/{run.pk}/").json()
    assert looked["result"]["sheets"][0]["create"] == 1
    accepted = as_engineer.post(f"/api/imports/{run.pk}/accept/")
    assert accepted.status_code == 202
    carry_out_import(run_id=accepted.json()["id"])
    assert Component.objects.get().serial == "P-1"


def test_the_runs_of_others_are_not_there(client: Client, engineer: Person) -> None:
    run = LongRun.objects.create(
        kind="import", request_key="k", requested_by=engineer, requested_at=railway.VISIT
    )
    client.force_login(railway.person("engineer"))
    assert client.get(f"/api/runs/{run.pk}/").status_code == 404
    assert client.get(f"/api/imports/{run.pk}/").status_code == 404


def test_a_welder_hands_no_file_over(client: Client, spot: Turnout) -> None:
    client.force_login(railway.person("welder", spot.territory))
    assert client.get("/api/imports/").status_code == 403
