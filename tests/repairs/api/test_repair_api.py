"""The same rights and answers for programs as for people."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from repairs.models import Confirmation, Decision, JobSheet, RepairJob
from tests import railway
from tests.repairs import rows
from turnouts.models import Defect, LongRun

pytestmark = pytest.mark.django_db

JSON = "application/json"


def as_(role: str, at: object = None) -> Client:
    client = Client()
    client.force_login(railway.person(role, at))  # type: ignore[arg-type]
    return client


@pytest.fixture
def sheet() -> JobSheet:
    return rows.sheet()


def addresses(sheet: JobSheet) -> dict[str, str]:
    job = sheet.job
    return {
        "/api/decisions/": "SEE",
        f"/api/decisions/{job.treats.get().decision_id}/": "SEE",
        "/api/jobs/": "SEE",
        f"/api/jobs/{job.reference}/": "SEE",
        "/api/estimates/": "SEE",
        f"/api/estimates/{sheet.estimate_id}/": "SEE",
        "/api/job-sheets/": "SEE_SHEETS",
        f"/api/job-sheets/{sheet.number}/": "SEE_SHEETS",
        f"/api/job-sheets/{sheet.number}/paper/": "SEE_SHEETS",
    }


@pytest.mark.parametrize("role", ["inspector", "welder", "supervisor", "engineer", "administrator"])
def test_the_roles_that_may_read_do_and_the_others_get_403(role: str, sheet: JobSheet) -> None:
    client = as_(role, sheet.job.turnout.territory)
    for address, right in addresses(sheet).items():
        allowed = right == "SEE" or role in ("welder", "supervisor", "engineer")
        assert client.get(address).status_code == (200 if allowed else 403), address


def test_what_lies_in_another_territory_does_not_exist(sheet: JobSheet) -> None:
    client = as_("engineer", railway.territory())
    for address in addresses(sheet):
        answer = client.get(address)
        single = address.count("/") > 3
        assert answer.status_code == (404 if single else 200), address
        assert single or answer.json()["results"] == []


def test_nobody_reads_without_logging_in(sheet: JobSheet) -> None:
    for address in addresses(sheet):
        assert Client().get(address).status_code == 403


def test_a_decision_comes_with_its_findings_and_a_list_without(sheet: JobSheet) -> None:
    client = as_("engineer")
    one = client.get(f"/api/decisions/{Decision.objects.get().pk}/").json()
    assert one["detail"]["findings"]
    assert (one["confirmation"], one["speed_kmh"]) == (None, "64.000000")
    assert "detail" not in client.get("/api/decisions/").json()["results"][0]


def test_judging_one_defect_gives_its_decision() -> None:
    defect = rows.spalled_point()
    answer = as_("inspector").post(f"/api/decisions/judge/{defect.reference}/")
    assert (answer.status_code, answer.json()["defect"]) == (200, defect.reference)
    assert Decision.objects.current().count() == 1


def test_judging_asks_for_the_right_and_the_territory() -> None:
    defect = rows.spalled_point()
    address = f"/api/decisions/judge/{defect.reference}/"
    answer = as_("welder", defect.turnout.territory).post(address)
    assert answer.status_code == 403
    assert "You may not run the triage" in answer.json()["detail"]
    assert as_("inspector", railway.territory()).post(address).status_code == 404
    assert not Decision.objects.exists()


@pytest.mark.parametrize(
    ("address", "kind"), [("/api/decisions/judge-all/", "triage"), ("/api/jobs/make/", "jobs")]
)
def test_a_long_run_is_started_once_for_a_key(address: str, kind: str) -> None:
    client = as_("engineer")
    first = client.post(address, {"request_key": "k1"}, JSON)
    again = client.post(address, {"request_key": "k1"}, JSON)
    assert (first.status_code, first.json()["state"]) == (202, "queued")
    assert first.json()["id"] == again.json()["id"] == LongRun.objects.get(kind=kind).pk
    assert client.post(address, {}, JSON).status_code == 400
    assert as_("welder").post(address, {"request_key": "k1"}, JSON).status_code == 403
    other = as_("engineer").post(address, {"request_key": "k1"}, JSON)
    assert other.json()["id"] != first.json()["id"]  # one person's key is not another's


def test_confirming_twice_is_409_with_a_sentence() -> None:
    rows.job()
    address = f"/api/decisions/{Decision.objects.get().pk}/confirm/"
    assert as_("inspector").post(address, {}, JSON).status_code == 403
    client = as_("supervisor")
    assert client.post(address, {"note": "Seen"}, JSON).status_code == 201
    again = client.post(address, {}, JSON)
    assert (again.status_code, again.json()["detail"]) == (
        409,
        "This decision is confirmed already.",
    )
    assert Confirmation.objects.count() == 1


def test_a_confirmation_repeated_with_its_key_is_answered_the_same() -> None:
    rows.job()
    address = f"/api/decisions/{Decision.objects.get().pk}/confirm/"
    client = as_("supervisor")
    answers = [
        client.post(address, {}, JSON, headers={"Idempotency-Key": "same"}) for _ in range(2)
    ]
    assert [answer.status_code for answer in answers] == [201, 201]
    assert answers[0].json() == answers[1].json()


def test_estimating_again_answers_with_the_estimate_or_a_sentence() -> None:
    job = rows.job()
    address = f"/api/jobs/{job.reference}/estimate/"
    client = as_("engineer")
    made = client.post(address)
    assert (made.status_code, made.json()["current"]) == (201, True)
    Defect.objects.update(depth_mm=Decimal(60))
    refused = client.post(address)
    assert refused.status_code == 400
    assert "more than the 50 mm" in refused.json()["detail"]
    RepairJob.objects.update(state="issued")
    assert client.post(address).status_code == 409


def test_the_paper_comes_as_pdf(sheet: JobSheet) -> None:
    answer = as_("welder").get(f"/api/job-sheets/{sheet.number}/paper/")
    assert answer["Content-Type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF-")


def test_a_sheet_comes_whole(sheet: JobSheet) -> None:
    answer = as_("welder").get(f"/api/job-sheets/{sheet.number}/").json()
    assert answer["content"] == sheet.content
    assert answer["withdrawn_at"] is None


@pytest.mark.parametrize(
    "address", ["/api/decisions/", "/api/jobs/", "/api/estimates/", "/api/job-sheets/"]
)
def test_queries_of_a_list_do_not_grow_with_its_rows(address: str) -> None:
    track = railway.turnout().track
    engineer = railway.person("engineer")

    def fill(count: int) -> None:
        for number in range(count):
            job = rows.job(rows.spalled_point(railway.turnout(track)), engineer)
            later = rows.NIGHT + timedelta(days=number)
            rows.sheet(job, track_time=rows.track_time(job, starts_at=later))

    client = as_("supervisor")
    fill(2)
    client.get(address)
    with CaptureQueriesContext(connection) as few:
        assert len(client.get(address).json()["results"]) == 2
    fill(6)
    with CaptureQueriesContext(connection) as many:
        assert len(client.get(address).json()["results"]) == 8
    assert len(many) == len(few)
