"""Procedures and own editions for programs: the same rights and refusals as on the pages."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from repairs import tasks
from repairs.models import OwnerProcedure
from tests import railway
from tests.repairs import rows

pytestmark = pytest.mark.django_db

JSON = "application/json"
ROLES = ["inspector", "welder", "supervisor", "engineer", "administrator"]
EDITIONS = "/api/procedure-editions/"


def as_(role: str, at: Any = None) -> Client:
    client = Client()
    client.force_login(railway.person(role, at))
    return client


def proposal(**values: Any) -> dict[str, Any]:
    return {
        "procedure": "manganese-wire",
        "starts_on": timezone.localdate().isoformat(),
        "changes": [
            {"key": "deposit_rate_kg_per_h", "value": 5.0, "reason": "Weighed"},
            {"key": "wire_feed_m_per_min", "value": 2.55, "reason": "Read from the feeder"},
        ],
        "interpass_rule": "us-practice",
        "reason": "Our wire lays more",
        "seen": 0,
    } | values


def made(client: Client, **values: Any) -> dict[str, Any]:
    answer = client.post(EDITIONS, proposal(**values), JSON)
    assert answer.status_code == 201, answer.content
    found: dict[str, Any] = answer.json()
    return found


def looked_at(client: Client, edition: int, key: str = "a") -> int:
    run = client.post(f"{EDITIONS}{edition}/preview/", {"request_key": key}, JSON).json()["id"]
    tasks.procedure_preview(run)
    return int(run)


@pytest.mark.parametrize("role", ROLES)
def test_everybody_reads_and_engineers_propose(role: str) -> None:
    client = as_(role)
    assert client.get("/api/procedures/").status_code == 200
    assert client.get("/api/procedures/manganese-wire/").status_code == 200
    assert client.get(EDITIONS).status_code == 200
    answer = client.post(EDITIONS, proposal(), JSON)
    assert answer.status_code == (201 if role == "engineer" else 403)


def test_without_a_login_nothing_is_read() -> None:
    assert Client().get("/api/procedures/").status_code in (401, 403)


def test_an_unknown_procedure_is_404() -> None:
    assert as_("welder").get("/api/procedures/thermite/").status_code == 404


def test_a_procedure_is_read_with_rows_marks_and_rules() -> None:
    found = as_("welder").get("/api/procedures/manganese-wire/").json()
    assert (found["since"], found["own_edition"]) == ("2026-01-01", None)
    (feed,) = [row for row in found["settings"] if row["key"] == "wire_feed_m_per_min"]
    assert (feed["value"], feed["unit"], feed["mark"]) == (2.3, "m/min", "assumed")
    assert found["interpass"]["key"] == "us-practice"
    assert len(found["interpass_rules"]) == 3


def test_from_the_proposal_to_the_edition_in_force() -> None:
    edition = made(as_("engineer"))
    assert (edition["state"], edition["version"]) == ("proposed", 1)
    assert edition["changes"][0]["unit"] == "kg/h"
    second = as_("engineer")
    run = looked_at(second, edition["id"])
    given = {"preview": run, "version": 1}
    answer = second.post(f"{EDITIONS}{edition['id']}/approve/", given, JSON)
    assert answer.status_code == 202
    tasks.renew_estimates(answer.json()["id"])
    assert second.get(f"{EDITIONS}{edition['id']}/").json()["state"] == "approved"
    in_force = second.get("/api/procedures/manganese-wire/").json()
    assert in_force["own_edition"] == edition["id"]


def test_a_future_edition_is_not_in_force_yet() -> None:
    later = (timezone.localdate() + timedelta(days=1)).isoformat()
    edition = made(as_("engineer"), starts_on=later)
    second = as_("engineer")
    given = {"preview": looked_at(second, edition["id"]), "version": 1}
    assert second.post(f"{EDITIONS}{edition['id']}/approve/", given, JSON).status_code == 202
    assert second.get("/api/procedures/manganese-wire/").json()["own_edition"] is None


def test_the_same_key_proposes_once_and_answers_once() -> None:
    client, key = as_("engineer"), {"Idempotency-Key": "one"}
    first, again = (client.post(EDITIONS, proposal(), JSON, headers=key) for _ in range(2))
    assert first.json() == again.json()
    assert OwnerProcedure.objects.count() == 1
    second = as_("engineer")
    address = f"{EDITIONS}{first.json()['id']}/"
    given = {"preview": looked_at(second, first.json()["id"]), "version": 1}
    answers = [second.post(f"{address}approve/", given, JSON, headers=key) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [202, 202]
    assert answers[0].json() == answers[1].json()


@pytest.mark.parametrize(
    ("values", "status", "words"),
    [
        ({"changes": [{"key": "current_a", "value": 3300, "reason": "x"}]}, 400, "outside 30 to"),
        ({"changes": [{"key": "current_a", "value": True, "reason": "x"}]}, 400, "Give a number"),
        (
            {"changes": [{"key": "current_a", "value": 310, "reason": ""}]},
            400,
            "Give a word or more",
        ),
        ({"own_interpass": {"limit_degc": 200, "place_mm": 25, "reason": "x"}}, 400, "one of"),
        ({"interpass_rule": ""}, 400, "one of the two"),
        ({"seen": 99}, 409, "approved while you had it open"),
        ({"starts_on": "2020-01-01"}, 400, "before today"),
    ],
)
def test_a_proposal_that_cannot_stand_is_refused_with_the_sentence(
    values: dict[str, Any], status: int, words: str
) -> None:
    answer = as_("engineer").post(EDITIONS, proposal(**values), JSON)
    assert answer.status_code == status
    assert words in answer.content.decode()
    assert not OwnerProcedure.objects.exists()


def test_a_rule_and_lists_of_the_railways_own_are_taken() -> None:
    own = {"limit_degc": 200.0, "place_mm": 25.0, "reason": "Our trial"}
    steps = {"key": "grinding", "value": ["Rough", "Profile"], "reason": "Two wheels only"}
    edition = made(as_("engineer"), changes=[steps], interpass_rule="", own_interpass=own)
    assert edition["changes"][0]["value"] == ["Rough", "Profile"]
    assert (edition["interpass_limit_degc"], edition["interpass_rule"]) == (200.0, "")


def test_a_stale_version_is_409_and_the_proposer_gets_403() -> None:
    client, second = as_("engineer"), as_("engineer")
    address = f"{EDITIONS}{made(client)['id']}/"
    given = {"version": 2, "note": "No"}
    assert second.post(f"{address}reject/", given, JSON).status_code == 409
    assert client.post(f"{address}reject/", given | {"version": 1}, JSON).status_code == 403
    assert second.post(f"{address}withdraw/", given | {"version": 1}, JSON).status_code == 403
    assert second.post(f"{address}reject/", {"version": 1}, JSON).status_code == 400
    assert client.post(f"{address}withdraw/", {"version": 1}, JSON).json()["state"] == "withdrawn"
    assert second.post(f"{address}reject/", given, JSON).status_code == 409


def test_approval_needs_a_finished_preview() -> None:
    edition = made(as_("engineer"))
    second = as_("engineer")
    address = f"{EDITIONS}{edition['id']}/"
    run = second.post(f"{address}preview/", {"request_key": "a"}, JSON).json()["id"]
    given = {"preview": run, "version": 1}
    assert second.post(f"{address}approve/", given, JSON).status_code == 409


def test_an_estimate_says_which_edition_made_it() -> None:
    job = rows.job()
    found = as_("welder").get(f"/api/jobs/{job.reference}/").json()["estimates"][0]
    assert (found["procedure_since"], found["own_edition"]) == ("2026-01-01", None)


def test_lists_take_the_same_queries_however_many_editions() -> None:
    client = as_("engineer")
    counts = []
    for many in (1, 4):
        for number in range(many):
            made(client, reason=f"Number {number}")
        client.get(EDITIONS)
        with CaptureQueriesContext(connection) as asked:
            assert client.get(EDITIONS).status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]
