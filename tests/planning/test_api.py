"""The plan's API: the same rights, the same refusals, as JSON."""

import pytest
from rest_framework.test import APIClient

from planning.models import WeekPlan
from repairs.models import JobSheet
from tests import railway
from tests.planning.conftest import SmallWeek
from tests.track_time import MONDAY
from turnouts.models import LongRun


@pytest.fixture
def api(small_week: SmallWeek) -> APIClient:
    client = APIClient()
    client.force_login(small_week.supervisor)
    return client


def wanted(week: SmallWeek) -> dict[str, str]:
    return {"territory": week.territory.code, "week": str(MONDAY), "request_key": "api"}


def test_asking_for_a_plan_answers_202_with_the_run_and_repeating_it_starts_nothing(
    api: APIClient, small_week: SmallWeek
) -> None:
    first = api.post("/api/plans/", wanted(small_week))
    again = api.post("/api/plans/", wanted(small_week))

    assert (first.status_code, again.status_code) == (202, 202)
    assert first.json()["id"] == again.json()["id"]
    assert LongRun.objects.count() == 1


@pytest.mark.parametrize(
    ("wrong", "status"),
    [
        ({"week": "2026-03-03"}, 400),
        ({"week": "tomorrow"}, 400),
        ({"territory": "nowhere"}, 404),
        ({"request_key": ""}, 400),
    ],
)
def test_a_wrong_request_is_refused_and_starts_nothing(
    api: APIClient, small_week: SmallWeek, wrong: dict[str, str], status: int
) -> None:
    assert api.post("/api/plans/", wanted(small_week) | wrong).status_code == status
    assert not LongRun.objects.exists()


def test_a_plan_is_read_whole(api: APIClient, small_week: SmallWeek) -> None:
    plan = small_week.plan()

    read = api.get(f"/api/plans/{plan.pk}/").json()

    assert read["state"] == "draft"
    assert {one["job"] for one in read["placed"]} == {job.reference for job in small_week.jobs}
    assert all(one["chance"] >= 0.95 for one in read["placed"])
    placed = plan.placed.get(job__reference=read["placed"][0]["job"])
    spare = placed.window.ends_at - placed.ends_at
    assert read["placed"][0]["spare_min"] == spare.total_seconds() / 60
    assert read["bound"] >= read["value"]


def test_publishing_needs_the_version_that_was_read(api: APIClient, small_week: SmallWeek) -> None:
    plan = small_week.plan()

    stale = api.post(f"/api/plans/{plan.pk}/publish/", {"version": 7})
    good = api.post(f"/api/plans/{plan.pk}/publish/", {"version": plan.version})

    assert stale.status_code == 409
    assert "changed by somebody else" in stale.json()["detail"]
    assert good.status_code == 200
    assert good.json()["state"] == "published"
    assert JobSheet.objects.count() == 2


@pytest.mark.parametrize("role", ["welder", "engineer"])
def test_who_may_read_may_not_plan(api: APIClient, small_week: SmallWeek, role: str) -> None:
    plan = small_week.plan()
    api.force_login(railway.person(role, small_week.territory))

    assert api.get("/api/plans/").status_code == 200
    asked = api.post("/api/plans/", wanted(small_week))
    published = api.post(f"/api/plans/{plan.pk}/publish/", {"version": 1})
    assert (asked.status_code, published.status_code) == (403, 403)
    assert "supervisor" in asked.json()["detail"]
    assert WeekPlan.objects.get().state == "draft"


@pytest.mark.parametrize("role", ["inspector", "administrator"])
def test_plans_and_track_time_are_closed_to_the_others(
    api: APIClient, small_week: SmallWeek, role: str
) -> None:
    api.force_login(railway.person(role, small_week.territory))

    assert api.get("/api/plans/").status_code == 403
    assert api.get("/api/work-windows/").status_code == 403


def test_another_territorys_track_time_does_not_exist(
    api: APIClient, small_week: SmallWeek
) -> None:
    plan = small_week.plan()
    api.force_login(railway.person("supervisor", railway.territory()))

    assert api.get("/api/work-windows/").json()["results"] == []
    assert api.get(f"/api/plans/{plan.pk}/").status_code == 404
