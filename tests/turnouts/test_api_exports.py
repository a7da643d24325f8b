"""Exports by the API: asked for with 202, fetched when done, refused in a sentence before."""

import zipfile
from io import BytesIO
from typing import Any

import pytest
from django.test import Client

from tests import railway
from turnouts.models import LongRun, Turnout
from turnouts.services.export_runs import carry_out_export

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def own_folder(settings: Any, tmp_path: Any) -> None:
    settings.MEDIA_ROOT = tmp_path


def ask(client: Client, **asked: Any) -> Any:
    body = {"request_key": "one", "form": "zip", "sheets": ["turnouts"]} | asked
    return client.post("/api/exports/", body, content_type="application/json")


def test_a_file_is_asked_for_followed_and_fetched(as_engineer: Client, spot: Turnout) -> None:
    answer = ask(as_engineer)
    assert answer.status_code == 202
    number = answer.json()["id"]
    early = as_engineer.get(f"/api/exports/{number}/file/")
    assert early.status_code == 409
    assert "still being written" in early.json()["detail"]

    carry_out_export(run_id=number)

    assert as_engineer.get(f"/api/runs/{number}/").json()["state"] == "done"
    fetched = as_engineer.get(f"/api/exports/{number}/file/", headers={"accept": "application/zip"})
    assert fetched.status_code == 200
    assert fetched["Content-Disposition"].startswith("attachment; ")
    assert fetched["Cache-Control"] == "private, no-store"
    packed = zipfile.ZipFile(BytesIO(fetched.getvalue()))
    assert spot.code in packed.read("turnouts.csv").decode("utf-8-sig")


@pytest.mark.parametrize(
    ("units", "heading"), [("stored", "[km/h]"), ("own", "[mph]")], ids=["stored", "own"]
)
def test_values_are_as_stored_unless_the_own_units_are_asked_for(
    client: Client, spot: Turnout, units: str, heading: str
) -> None:
    client.force_login(railway.person("engineer", spot.territory, speed_unit="mph"))
    number = ask(client, units=units).json()["id"]
    carry_out_export(run_id=number)

    content = client.get(f"/api/exports/{number}/file/").getvalue()

    header = zipfile.ZipFile(BytesIO(content)).read("turnouts.csv").decode("utf-8-sig")
    assert f"speed_through {heading}" in header.splitlines()[0]


def test_asking_again_gives_the_same_run(as_engineer: Client) -> None:
    assert ask(as_engineer).json()["id"] == ask(as_engineer).json()["id"]
    assert LongRun.objects.count() == 1


@pytest.mark.parametrize(
    ("asked", "status"),
    [
        ({"sheets": ["people"]}, 403),
        ({"sheets": ["wagons"]}, 400),
        ({"form": "pdf"}, 400),
        ({"request_key": ""}, 400),
    ],
)
def test_what_cannot_be_taken_out_is_refused_at_once(
    as_engineer: Client, asked: dict[str, Any], status: int
) -> None:
    assert ask(as_engineer, **asked).status_code == status
    assert not LongRun.objects.exists()


def test_exports_of_others_are_not_there(as_engineer: Client, client: Client) -> None:
    number = ask(as_engineer).json()["id"]
    carry_out_export(run_id=number)
    client.force_login(railway.person("engineer"))

    assert client.get("/api/exports/").json()["count"] == 0
    assert client.get(f"/api/exports/{number}/").status_code == 404
    assert client.get(f"/api/exports/{number}/file/").status_code == 404


def test_somebody_without_a_role_takes_nothing_out(client: Client) -> None:
    client.force_login(railway.person())

    assert ask(client).status_code == 403
    assert client.get("/api/exports/").status_code == 403
