"""What a proposed cooling would change is seen before it is approved, by the code of estimates."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from repairs.models import Estimate, LanceCooling, RepairJob
from repairs.services.lance import approve_lance
from repairs.services.lance_preview import (
    KIND,
    REPRESENTATIVE,
    carry_out_lance_preview,
    lance_preview,
    request_lance_preview,
)
from tests import railway
from tests.repairs import rows
from tests.repairs.services.test_lance import engineers, proposed, renewed
from turnouts.access import Forbidden
from turnouts.analysis.terms import Role
from turnouts.models import LongRun
from turnouts.services.errors import Conflict
from turnouts.services.runs import carry_out

pytestmark = pytest.mark.django_db


def silent(done: int, total: int, words: str) -> None:
    """Progress nobody reads."""


def looked(lance: LanceCooling) -> dict[str, Any]:
    return lance_preview(lance, rows.DAY, silent)


def test_it_says_what_the_estimates_say_after_the_approval() -> None:
    large: dict[str, Any] = {
        "length_mm": Decimal(250),
        "width_mm": Decimal(70),
    }  # its beads have to wait
    job = rows.job(rows.spalled_point(**large))
    stood = Estimate.objects.get(job=job, current=True)
    first, second = engineers()
    lance = proposed(first)
    (seen,) = looked(lance)["listed"]
    assert seen["job"] == job.reference
    assert seen["before"]["p50_min"] == pytest.approx(stood.p50_min)
    # A larger coefficient takes more heat away, so the casting is waited for less.
    assert lance.w_per_m2_k > lance.stood
    assert seen["after"]["wait_min"] < seen["before"]["wait_min"]
    assert seen["after"]["p50_min"] < seen["before"]["p50_min"]
    approve_lance(by=second, lance=lance, on=rows.DAY, at=timezone.now())
    renewed()
    then = Estimate.objects.get(job=job, current=True)
    assert seen["after"]["p50_min"] == pytest.approx(then.p50_min)
    assert seen["after"]["p95_min"] == pytest.approx(then.p95_min)


def test_looking_changes_nothing() -> None:
    rows.job()
    before = list(Estimate.objects.values_list("pk", "current"))
    looked(proposed(engineers()[0]))
    assert list(Estimate.objects.values_list("pk", "current")) == before
    assert LanceCooling.objects.get().state == "proposed"


def test_jobs_with_a_sheet_and_jobs_without_the_lance_are_not_looked_at() -> None:
    job = rows.job()
    lance = proposed(engineers()[0])
    assert looked(lance)["open"] == 1
    RepairJob.objects.filter(pk=job.pk).update(state="issued")
    assert looked(lance) == {"on": rows.DAY.isoformat(), "open": 0, "listed": []}
    RepairJob.objects.filter(pk=job.pk).update(state="estimated", procedure="grinding")
    assert looked(lance)["open"] == 0


def test_of_many_jobs_some_from_the_shortest_to_the_longest_are_looked_at(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("repairs.services.lance_preview.figures", lambda *given: {})
    for _ in range(REPRESENTATIVE + 2):
        rows.job()
    seen = looked(proposed(engineers()[0]))
    current = Estimate.objects.filter(current=True).order_by("p50_min", "job")
    assert seen["open"] == REPRESENTATIVE + 2
    names = [one["job"] for one in seen["listed"]]
    assert len(set(names)) == REPRESENTATIVE
    assert names[0] == current.values_list("job__reference", flat=True)[0]
    assert names[-1] == list(current.values_list("job__reference", flat=True))[-1]


def test_only_an_engineer_of_the_whole_railway_may_ask_and_only_while_it_waits() -> None:
    first, second = engineers()
    lance = proposed(first)
    given: dict[str, Any] = {"lance": lance, "on": rows.DAY, "request_key": "k"}
    somewhere = railway.person(Role.ENGINEER, railway.territory())
    for nobody in (somewhere, railway.person(Role.SUPERVISOR)):
        with pytest.raises(Forbidden):
            request_lance_preview(by=nobody, **given)
    approve_lance(by=second, lance=lance, on=rows.DAY, at=timezone.now())
    lance.refresh_from_db()
    with pytest.raises(Conflict, match="approved already"):
        request_lance_preview(by=first, **given)


def test_the_page_shows_it_beside_the_button_that_approves(client: Client) -> None:
    first, second = engineers()
    job, lance = rows.job(), proposed(first)
    client.force_login(second)
    assert "Look at what it would change" in client.get("/forecasts/").content.decode()
    for _ in range(2):  # a second click finds the run of the first
        answer = client.post(f"/forecasts/cooling/{lance.pk}/preview/", {"key": "k"})
        assert answer.status_code == 302
    run = LongRun.objects.get(kind=KIND)
    carry_out(run_id=run.pk, work=carry_out_lance_preview)
    page = client.get("/forecasts/").content.decode()
    seen, approve = page.index("What it changes: 1 of 1 waiting job"), page.index("Approve, and")
    assert seen < approve
    assert job.reference in page[seen:approve]
    assert "Median then" in page
    client.force_login(railway.person(Role.ENGINEER, job.turnout.territory))
    assert "What it changes" not in client.get("/forecasts/").content.decode()


def test_the_page_asks_as_often_for_many_jobs_looked_at_as_for_none(client: Client) -> None:
    first, second = engineers()
    lance = proposed(first)
    client.force_login(second)
    asked = []
    for many in (0, 6):
        side = {"procedure": "x", "p50_min": 60.0, "p95_min": 90.0, "wait_min": 30.0}
        one = {"before": side, "after": side}
        run = request_lance_preview(by=second, lance=lance, on=rows.DAY, request_key=f"k{many}")
        listed = [{"job": f"J{n}", **one} for n in range(many)]
        result = {"on": "2026-03-01", "open": many, "listed": listed}
        carry_out(run_id=run.pk, work=lambda *_, result=result: result)
        with CaptureQueriesContext(connection) as told:
            page = client.get("/forecasts/").content.decode()
        assert page.count("Median then") == many
        asked.append(len(told))
    assert asked[0] == asked[1]


def test_a_program_asks_for_the_same(client: Client) -> None:
    first, second = engineers()
    lance = proposed(first)
    client.force_login(second)
    answer = client.post(f"/api/lance-cooling/{lance.pk}/preview/")
    assert answer.status_code == 202
    assert answer.json()["state"] == "queued"
    client.force_login(railway.person(Role.SUPERVISOR))
    assert client.post(f"/api/lance-cooling/{lance.pk}/preview/").status_code == 403
