"""What a program may change besides reporting: photographs, facts of a turnout, files."""

from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from tests import railway
from turnouts.access import ALLOWED, Action
from turnouts.analysis.terms import Role
from turnouts.models import Component, LongRun, Person, Photograph, Turnout
from turnouts.services.imports import carry_out_import

pytestmark = pytest.mark.django_db

JSON = "application/json"


def jpeg() -> SimpleUploadedFile:
    held = BytesIO()
    Image.new("RGB", (8, 8), (9, 9, 9)).save(held, "JPEG")
    return SimpleUploadedFile("p.jpg", held.getvalue(), "image/jpeg")


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
