"""The cooling of the air lance from signed records: proposed, answered, reckoned with."""

from typing import Any

import pytest
from django.db import DatabaseError, transaction
from django.test import Client
from django.utils import timezone

from repairs.models import Estimate, LanceCooling, RepairJob
from repairs.services import cooling
from repairs.services.lance import approve_lance, propose_lance, reject_lance
from repairs.services.lance_in_force import lance_in_force, row_w_per_m2_k
from repairs.services.queue import carry_out_renewal
from repairs.services.try_out import Day, try_out
from tests import railway
from tests.repairs import rows
from turnouts.access import Forbidden
from turnouts.analysis.terms import Role
from turnouts.models import LongRun, Person
from turnouts.services.errors import Conflict, Refused
from turnouts.services.runs import carry_out

pytestmark = pytest.mark.django_db

FITS = [("S-1", 75.0, 7.5), ("S-2", 85.0, 8.5), ("S-3", 80.0, 8.0)]
JSON = "application/json"


def fitted(by: Person, fits: list[tuple[str, float, float]] = FITS, of: str = "lance") -> LongRun:
    """A fit that has come to its end with these values."""
    found = [
        {"sheet": s, "of": of, "loss_w_per_m2_k": v, "sd_w_per_m2_k": sd, "readings": 9}
        for s, v, sd in fits
    ]
    run = cooling.request_cooling_fit(by=by, request_key=f"fit {by.pk}")
    return carry_out(run_id=run.pk, work=lambda *_: {"fits": found, "refused": []})


def engineers() -> tuple[Person, Person]:
    return railway.person(Role.ENGINEER), railway.person(Role.ENGINEER)


def proposed(by: Person, **given: Any) -> LanceCooling:
    run = given.pop("run", None) or fitted(by)
    return propose_lance(by=by, run=run, reason="Six good nights", at=timezone.now(), **given)


def approved() -> LanceCooling:
    first, second = engineers()
    row = proposed(first)
    approve_lance(by=second, lance=row, on=rows.DAY, at=timezone.now())
    return row


def renewed() -> dict[str, Any]:
    run = LongRun.objects.get(kind="renewal")
    done = carry_out(run_id=run.pk, work=lambda r, p: carry_out_renewal(r, p, timezone.now()))
    return dict(done.result)


def test_without_an_approval_the_row_stands_and_a_proposal_changes_nothing() -> None:
    proposed(engineers()[0])
    assert lance_in_force() is None
    assert LanceCooling.objects.get().stood == row_w_per_m2_k()


def test_the_records_are_taken_together_and_their_sheets_are_kept() -> None:
    row = proposed(engineers()[0])
    # Equal relative deviations and no more scatter than they allow: the geometric mean.
    assert row.w_per_m2_k == pytest.approx((75 * 80 * 85) ** (1 / 3), abs=0.1)
    assert row.spread == pytest.approx(2.71828 ** (0.1 / 3**0.5), rel=1e-3)
    assert [one["sheet"] for one in row.fits] == ["S-1", "S-2", "S-3"]


def test_two_records_are_too_few_and_three_are_enough() -> None:
    first, _ = engineers()
    with pytest.raises(Refused, match="2 fitted records are too few"):
        proposed(first, run=fitted(first, FITS[:2]))


def test_fits_without_a_lance_teach_nothing_about_it() -> None:
    first, _ = engineers()
    with pytest.raises(Refused, match="0 fitted records are too few"):
        proposed(first, run=fitted(first, of="whole"))


def test_only_ones_own_fit_is_taken_over_and_words_are_needed() -> None:
    first, second = engineers()
    with pytest.raises(Refused, match="no fit of yours"):
        propose_lance(by=second, run=fitted(first), reason="x", at=timezone.now())
    with pytest.raises(Refused, match="in words why"):
        propose_lance(by=first, run=fitted(first), reason=" ", at=timezone.now())


def test_a_second_engineer_answers_and_answers_once() -> None:
    first, second = engineers()
    row = proposed(first)
    with pytest.raises(Conflict, match="waits for its answer already"):
        proposed(second)
    with pytest.raises(Forbidden, match="second engineer"):
        approve_lance(by=first, lance=row, on=rows.DAY, at=timezone.now())
    with pytest.raises(Refused, match="why it is rejected"):
        reject_lance(by=second, lance=row, note="", at=timezone.now())
    reject_lance(by=second, lance=row, note="All in one week of wind", at=timezone.now())
    with pytest.raises(Conflict, match="rejected already"):
        approve_lance(by=second, lance=row, on=rows.DAY, at=timezone.now())
    assert lance_in_force() is None


def test_a_supervisor_may_not_propose_or_answer() -> None:
    supervisor = railway.person(Role.SUPERVISOR)
    run = fitted(supervisor)
    with pytest.raises(Forbidden):
        propose_lance(by=supervisor, run=run, reason="x", at=timezone.now())
    with pytest.raises(Forbidden):
        approve_lance(by=supervisor, lance=proposed(engineers()[0]), on=rows.DAY, at=timezone.now())


def test_the_database_keeps_an_answer_as_it_was_given() -> None:
    row = approved()
    with pytest.raises(DatabaseError), transaction.atomic():
        LanceCooling.objects.filter(pk=row.pk).update(w_per_m2_k=10)
    with pytest.raises(DatabaseError), transaction.atomic():
        LanceCooling.objects.filter(pk=row.pk).update(state="rejected", answer_note="x")


def test_waiting_jobs_are_estimated_anew_with_it_and_say_so() -> None:
    job = rows.job()
    before = rows.estimate_of(job)
    assert before.lance_w_per_m2_k is None
    row = approved()
    assert renewed()["renewed"] == 1
    after = Estimate.objects.get(job=job, current=True)
    assert after.lance_w_per_m2_k == row.w_per_m2_k
    assert any("Air lance: 80 W/(m2 K)" in one for one in after.detail["learnt"])
    # More air under the lance: less waiting for the same beads.
    assert after.detail["wait_min"] <= before.detail["wait_min"]
    hottest = [max(x["hottest_degc"] for z in e.detail["zones"] for x in z["layers"])
               for e in (before, after)]  # fmt: skip
    assert hottest[1] < hottest[0]


def test_what_stands_already_is_not_estimated_again() -> None:
    rows.job()
    approved()
    assert renewed()["renewed"] == 1
    second = LongRun.objects.get(kind="renewal")
    again = carry_out_renewal(second, lambda *_: None, timezone.now())
    assert again["renewed"] == 0


def test_trying_another_day_out_reckons_with_it_too() -> None:
    job = RepairJob.objects.with_place().get(pk=rows.job().pk)
    day = Day(15.0, 0.0, 360.0)
    before = try_out(job, day, rows.DAY).answer
    approved()
    after = try_out(job, day, rows.DAY).answer
    assert after.heat is not None
    assert before.heat is not None
    assert after.heat.hottest_degc < before.heat.hottest_degc


def test_the_page_takes_it_from_a_fit_to_an_approval(client: Client) -> None:
    first, second = engineers()
    fitted(first)
    client.force_login(first)
    page = client.get("/forecasts/").content.decode()
    assert "The 3 records with a lance together" in page
    client.post("/forecasts/cooling/propose/", {"reason": "Six good nights"})
    row = LanceCooling.objects.get()
    assert "Approve, and estimate" not in client.get("/forecasts/").content.decode()
    address = f"/forecasts/cooling/{row.pk}/answer/"
    assert client.post(address, {"answer": "approve"}).status_code == 403
    client.force_login(second)
    assert "Approve, and estimate" in client.get("/forecasts/").content.decode()
    assert client.post(address, {"answer": "approve"}).status_code == 302
    page = client.get("/forecasts/").content.decode()
    assert "Estimates reckon with <strong>80 W/(m² K)</strong>" in page
    assert client.post(address, {"answer": "approve"}).status_code == 409


@pytest.mark.parametrize("role", [Role.SUPERVISOR, Role.WELDER, Role.INSPECTOR])
def test_nobody_but_an_engineer_may_post_it(client: Client, role: Role) -> None:
    row = proposed(engineers()[0])
    client.force_login(railway.person(role))
    assert client.post("/forecasts/cooling/propose/", {"reason": "x"}).status_code == 403
    given = {"answer": "approve"}
    assert client.post(f"/forecasts/cooling/{row.pk}/answer/", given).status_code == 403


def test_the_page_asks_the_database_no_more_however_many_answers_there_are(
    client: Client, django_assert_max_num_queries: Any
) -> None:
    first, second = engineers()
    for _ in range(6):
        row = proposed(first, run=LongRun.objects.filter(kind="cooling").first())
        reject_lance(by=second, lance=row, note="no", at=timezone.now())
    client.force_login(first)
    with django_assert_max_num_queries(16):
        assert client.get("/forecasts/").status_code == 200


def test_programs_do_the_same(client: Client) -> None:
    first, second = engineers()
    fitted(first)
    client.force_login(first)
    key = {"HTTP_IDEMPOTENCY_KEY": "one"}
    made = client.post("/api/lance-cooling/", {"reason": "Good"}, content_type=JSON, **key)
    assert made.status_code == 201
    again = client.post("/api/lance-cooling/", {"reason": "Good"}, content_type=JSON, **key)
    assert again.json()["id"] == made.json()["id"]
    address = f"/api/lance-cooling/{made.json()['id']}/"
    assert client.post(f"{address}approve/", {}, content_type=JSON).status_code == 403
    client.force_login(second)
    assert client.post(f"{address}reject/", {}, content_type=JSON).status_code == 400
    assert client.post(f"{address}approve/", {}, content_type=JSON).status_code == 202
    assert client.get(address).json()["state"] == "approved"
    client.force_login(railway.person(Role.WELDER))
    assert client.get("/api/lance-cooling/").status_code == 403
