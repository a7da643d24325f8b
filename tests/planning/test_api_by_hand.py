"""Changes by hand, comparison, load-outs, calendars and stopping, as JSON."""

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from planning.models import CrewCalendar, PlanningStop, WeekPlan
from planning.services.plans import request_plan
from planning.services.publish import publish_plan
from tests import railway, track_time
from tests.planning.conftest import SmallWeek
from tests.track_time import at

NOW = at(-1, 12)


@pytest.fixture
def api(small_week: SmallWeek) -> APIClient:
    client = APIClient()
    client.force_login(small_week.supervisor)
    return client


def wanted(week: SmallWeek, plan: WeekPlan, hour: float = 13) -> dict[str, Any]:
    last = plan.placed.select_related("job").order_by("starts_at").last()
    assert last is not None
    return {
        "version": plan.version,
        "job": last.job.reference,
        "crew": week.crew.code,
        "window": week.window.reference,
        "start": at(0, hour).isoformat(),
    }


def test_a_job_is_moved_and_the_new_draft_comes_back_whole(
    api: APIClient, small_week: SmallWeek
) -> None:
    plan = small_week.plan()
    asked = wanted(small_week, plan)

    answer = api.post(f"/api/plans/{plan.pk}/place/", asked)

    made = answer.json()
    assert answer.status_code == 200
    assert (made["number"], made["state"], made["origin"]) == (2, "draft", "edited")
    assert made["based_on"] == plan.pk
    [moved] = [one for one in made["placed"] if one["job"] == asked["job"]]
    assert (moved["starts_at"], moved["locked"]) == ("2026-03-02T13:00:00Z", True)


def test_the_same_key_makes_one_draft(api: APIClient, small_week: SmallWeek) -> None:
    plan = small_week.plan()
    asked = wanted(small_week, plan)
    answers = [
        api.post(f"/api/plans/{plan.pk}/place/", asked, headers={"Idempotency-Key": "one"})
        for _ in range(2)
    ]
    assert answers[0].json() == answers[1].json()
    assert WeekPlan.objects.count() == 2


def test_a_move_that_breaks_a_rule_answers_400_with_the_sentence(
    api: APIClient, small_week: SmallWeek
) -> None:
    plan = small_week.plan()
    answer = api.post(f"/api/plans/{plan.pk}/place/", wanted(small_week, plan, 14.5))
    assert answer.status_code == 400
    assert "30 min after window" in answer.json()["detail"]


def test_the_second_of_two_supervisors_gets_409(api: APIClient, small_week: SmallWeek) -> None:
    plan = small_week.plan()
    asked = wanted(small_week, plan)
    first = api.post(f"/api/plans/{plan.pk}/place/", asked)
    out = {"version": asked["version"], "job": asked["job"]}
    second = api.post(f"/api/plans/{plan.pk}/take-out/", out)
    assert (first.status_code, second.status_code) == (200, 409)
    assert "changed by somebody else" in second.json()["detail"]


def test_a_job_is_taken_out_and_locked(api: APIClient, small_week: SmallWeek) -> None:
    plan = small_week.plan()
    job = small_week.jobs[0].reference
    locked = api.post(
        f"/api/plans/{plan.pk}/lock/", {"version": 1, "job": job, "locked": True}
    ).json()
    assert {one["job"] for one in locked["placed"] if one["locked"]} == {job}
    other = small_week.jobs[1].reference
    out = api.post(f"/api/plans/{plan.pk}/take-out/", {"version": 2, "job": other}).json()
    assert [one["job"] for one in out["left_out"]] == [other]


def test_places_are_offered_and_those_closed_say_why(api: APIClient, small_week: SmallWeek) -> None:
    track_time.crew(small_week.crew.depot, holds=("employee_in_charge",))
    plan = small_week.plan()
    job = small_week.jobs[0].reference

    read = api.get(f"/api/plans/{plan.pk}/places/?job={job}").json()

    assert [offer["here"] for offer in read["offers"]] == [True]
    assert "qualified" in read["closed"][0]["why"]
    assert api.get(f"/api/plans/{plan.pk}/places/?job=R-none").status_code == 404


def test_two_plans_are_compared_with_their_price(api: APIClient, small_week: SmallWeek) -> None:
    plan = small_week.plan()
    job = small_week.jobs[0].reference
    new = api.post(f"/api/plans/{plan.pk}/take-out/", {"version": 1, "job": job}).json()

    read = api.get(f"/api/plans/{new['id']}/compare/?with={plan.pk}").json()

    assert [one["job"] for one in read["fell_out"]] == [job]
    assert read["price"] == pytest.approx(plan.value - new["value"])
    assert read["came_in"] == []
    assert api.get(f"/api/plans/{new['id']}/compare/?with=x").status_code == 400
    assert api.get(f"/api/plans/{new['id']}/compare/?with=999999").status_code == 404


def test_the_load_out_is_read_by_those_who_load(api: APIClient, small_week: SmallWeek) -> None:
    plan = small_week.plan()
    api.force_login(small_week.crew.members.get().person)
    [truck] = api.get(f"/api/plans/{plan.pk}/load-out/").json()
    assert truck["truck"] == small_week.crew.truck.code


def test_the_crew_reads_its_own_calendar_address_and_no_other(
    api: APIClient, small_week: SmallWeek
) -> None:
    other = track_time.crew(small_week.crew.depot)
    CrewCalendar.objects.create(crew=other, renewed_at=NOW)
    publish_plan(by=small_week.supervisor, plan=small_week.plan(), expected_version=1, at=NOW)
    assert api.get("/api/crew-calendars/").json()["count"] == 2
    api.force_login(small_week.crew.members.get().person)

    [own] = api.get("/api/crew-calendars/").json()["results"]

    key = CrewCalendar.objects.get(crew=small_week.crew).key
    assert own["path"] == f"/calendars/{key}.ics"
    assert api.get(f"/api/crew-calendars/{other.code}/").status_code == 404
    assert api.post(f"/api/crew-calendars/{own['crew']}/renew/").status_code == 403


def test_a_supervisor_renews_the_address(api: APIClient, small_week: SmallWeek) -> None:
    publish_plan(by=small_week.supervisor, plan=small_week.plan(), expected_version=1, at=NOW)
    before = CrewCalendar.objects.get().key
    answer = api.post(f"/api/crew-calendars/{small_week.crew.code}/renew/")
    assert answer.status_code == 200
    assert before not in answer.json()["path"]


def test_a_planning_run_is_stopped(api: APIClient, small_week: SmallWeek) -> None:
    run, _ = request_plan(
        by=small_week.supervisor,
        territory=small_week.territory,
        week=small_week.week,
        request_key="api",
    )
    assert api.post(f"/api/plan-runs/{run.pk}/stop/").status_code == 202
    assert PlanningStop.objects.get().run == run
    api.force_login(railway.person("supervisor", railway.territory()))
    assert api.post(f"/api/plan-runs/{run.pk}/stop/").status_code == 404


@pytest.mark.parametrize("role", ["welder", "engineer"])
def test_who_may_read_may_not_change(api: APIClient, small_week: SmallWeek, role: str) -> None:
    plan = small_week.plan()
    asked = wanted(small_week, plan)
    api.force_login(railway.person(role, small_week.territory))
    for way, data in (
        ("place", asked),
        ("take-out", asked),
        ("lock", asked | {"locked": True}),
    ):
        assert api.post(f"/api/plans/{plan.pk}/{way}/", data).status_code == 403
    assert api.get(f"/api/plans/{plan.pk}/places/?job={asked['job']}").status_code == 403
    assert WeekPlan.objects.count() == 1


def test_a_plan_of_another_territory_does_not_exist(api: APIClient, small_week: SmallWeek) -> None:
    plan = small_week.plan()
    asked = wanted(small_week, plan)
    api.force_login(railway.person("supervisor", railway.territory()))
    assert api.post(f"/api/plans/{plan.pk}/place/", asked).status_code == 404
    for way in (f"places/?job={asked['job']}", f"compare/?with={plan.pk}", "load-out/"):
        assert api.get(f"/api/plans/{plan.pk}/{way}").status_code == 404


def test_places_take_no_more_queries_for_a_larger_plan(
    api: APIClient, small_week: SmallWeek
) -> None:
    job = small_week.jobs[0].reference
    few = _queries(api, small_week.plan("few"), job)
    for mile in ("2", "3"):
        track_time.window(small_week.track, day=int(mile))
        track_time.job(railway.turnout(small_week.track, mile=mile), minutes=60)

    assert _queries(api, small_week.plan("more"), job) == few


def _queries(api: APIClient, plan: WeekPlan, job: str) -> int:
    with CaptureQueriesContext(connection) as caught:
        assert api.get(f"/api/plans/{plan.pk}/places/?job={job}").status_code == 200
    return len(caught)


def test_the_network_is_asked_for_once_a_key(api: APIClient, small_week: SmallWeek) -> None:
    asked = {"week": "2026-03-02", "request_key": "all of it"}
    first, again = (api.post("/api/network-plans/", asked) for _ in range(2))
    assert (first.status_code, again.status_code) == (202, 202)
    assert first.json()["id"] == again.json()["id"]
    wrong = api.post("/api/network-plans/", asked | {"week": "2026-03-03"})
    assert wrong.status_code == 400
    api.force_login(railway.person("welder", small_week.territory))
    assert api.post("/api/network-plans/", asked).status_code == 403
