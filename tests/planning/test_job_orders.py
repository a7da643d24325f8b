"""Which repair comes before which: said once, kept by every plan, taken back."""

from datetime import timedelta

import pytest
from django.test import Client
from rest_framework.test import APIClient

from planning.models import JobOrder, PlannedJob
from planning.services.calendar import Week
from planning.services.hand_edits import take_out_by_hand
from planning.services.job_orders import drop_order, put_in_order
from planning.services.week import week_problem
from repairs.models import RepairJob
from tests import railway, track_time
from tests.planning.conftest import SmallWeek
from tests.track_time import at
from turnouts.access import Forbidden
from turnouts.services.errors import Conflict, Refused

pytestmark = pytest.mark.django_db


def said(week: SmallWeek, first: int = 1, then: int = 0, reason: str = "Same panel") -> JobOrder:
    return put_in_order(
        by=week.supervisor,
        first=week.jobs[first],
        then=week.jobs[then],
        reason=reason,
        at=at(-1, 9),
    )


def order_of(plan_rows: list[PlannedJob]) -> list[str]:
    return [row.job.reference for row in sorted(plan_rows, key=lambda row: row.starts_at)]


@pytest.mark.parametrize("first", [0, 1])
def test_a_plan_keeps_the_order_that_was_said(small_week: SmallWeek, first: int) -> None:
    said(small_week, first=first, then=1 - first)

    placed = list(small_week.plan().placed.select_related("job"))

    jobs = [job.reference for job in small_week.jobs]
    assert order_of(placed) == [jobs[first], jobs[1 - first]]


def test_once_taken_back_either_may_come_first(small_week: SmallWeek) -> None:
    row = said(small_week)
    drop_order(by=small_week.supervisor, order=row)

    problem = week_problem(small_week.territory, small_week.week)

    assert [job.after for job in problem.jobs] == [(), ()]


def test_saying_it_twice_says_it_once(small_week: SmallWeek) -> None:
    assert said(small_week) == said(small_week)


@pytest.mark.parametrize(
    ("state", "waits", "windows"),
    [("done", False, True), ("cancelled", False, True), ("in_work", False, False)],
)
def test_what_is_over_holds_nobody_back_and_what_is_open_elsewhere_does(
    small_week: SmallWeek, state: str, waits: bool, windows: bool
) -> None:
    """In work without a place in this week: nobody knows when it is done."""
    said(small_week)
    RepairJob.objects.filter(pk=small_week.jobs[1].pk).update(state=state)

    [job] = week_problem(small_week.territory, small_week.week).jobs

    assert bool(job.after) is waits
    assert (job.windows != frozenset()) is windows


@pytest.mark.parametrize(("weeks", "may"), [(-1, True), (1, False)])
def test_a_first_job_published_in_an_earlier_week_is_done_by_then_and_in_a_later_one_is_not(
    small_week: SmallWeek, weeks: int, may: bool
) -> None:
    said(small_week)
    placed = small_week.plan().placed.get(job=small_week.jobs[1])
    plan = placed.plan
    plan.week += timedelta(weeks=weeks)
    plan.save()
    PlannedJob.objects.filter(pk=placed.pk).update(live=True)

    [job] = week_problem(small_week.territory, Week(track_time.MONDAY)).jobs

    assert (job.windows != frozenset()) is may


def test_jobs_that_would_wait_for_each_other_are_refused(small_week: SmallWeek) -> None:
    said(small_week)
    with pytest.raises(Refused, match="the two would wait for each other"):
        said(small_week, first=0, then=1)
    with pytest.raises(Refused, match="cannot come after itself"):
        said(small_week, first=0, then=0)


def test_a_reason_is_asked_for(small_week: SmallWeek) -> None:
    with pytest.raises(Refused, match="Say why"):
        said(small_week, reason="  ")


def test_work_that_has_begun_is_not_put_in_order(small_week: SmallWeek) -> None:
    small_week.jobs[0].state = "in_work"
    small_week.jobs[0].save()
    with pytest.raises(Conflict, match="does not wait for track time"):
        said(small_week)


def test_only_a_supervisor_of_the_territory_says_it(small_week: SmallWeek) -> None:
    for person in (
        railway.person("welder", small_week.territory),
        railway.person("supervisor", railway.track().line.territory),
    ):
        with pytest.raises(Forbidden):
            put_in_order(
                by=person,
                first=small_week.jobs[0],
                then=small_week.jobs[1],
                reason="Same panel",
                at=at(-1, 9),
            )


def test_a_move_against_the_order_is_refused_with_a_sentence(small_week: SmallWeek) -> None:
    said(small_week)
    plan = small_week.plan()
    with pytest.raises(Refused, match=r"comes after .* which has no place in the plan"):
        take_out_by_hand(
            by=small_week.supervisor,
            plan=plan,
            expected_version=plan.version,
            job=small_week.jobs[1].reference,
            at=at(-1, 10),
        )


def test_the_page_says_it_and_takes_it_back(client: Client, small_week: SmallWeek) -> None:
    client.force_login(small_week.supervisor)
    plan = small_week.plan()
    then, first = small_week.jobs
    here = f"/plans/{plan.pk}/jobs/{then.reference}/"

    client.post(f"{here}order/", {"first": first.reference, "reason": "Same panel"})

    row = JobOrder.objects.get()
    assert (row.first, row.then, row.by) == (first, then, small_week.supervisor)
    shown = client.get(here).content.decode()
    assert "Same panel" in shown
    assert client.post(f"{here}order/", {"drop": "none such"}).status_code == 404
    assert JobOrder.objects.exists()
    client.post(f"{here}order/", {"drop": row.pk})
    assert not JobOrder.objects.exists()
    refused = client.post(f"{here}order/", {"first": "", "reason": "x"})
    assert refused.status_code == 400
    assert "Choose the job that comes first" in refused.content.decode()


def test_the_api_says_it_once_lists_it_and_takes_it_back(small_week: SmallWeek) -> None:
    api = APIClient()
    api.force_authenticate(small_week.supervisor)
    first, then = (job.reference for job in small_week.jobs)
    asked = {"first": first, "then": then, "reason": "Same panel"}

    made = api.post("/api/job-orders/", asked, format="json", HTTP_IDEMPOTENCY_KEY="one")

    assert made.status_code == 201, made.content
    [row] = api.get("/api/job-orders/").json()["results"]
    assert (row["first"], row["then"], row["reason"]) == (first, then, "Same panel")
    circle = api.post(
        "/api/job-orders/",
        {"first": then, "then": first, "reason": "x"},
        format="json",
        HTTP_IDEMPOTENCY_KEY="two",
    )
    assert circle.status_code == 400
    assert api.delete(f"/api/job-orders/{row['id']}/").status_code == 204
    assert not JobOrder.objects.exists()
