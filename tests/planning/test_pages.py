"""The week page: whose it is, what it says, and that its cost does not grow with the plan."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from planning.models import WeekPlan
from planning.services.publish import publish_plan
from repairs.models import JobSheet
from tests import railway, track_time
from tests.planning.conftest import SmallWeek
from tests.track_time import MONDAY, at
from turnouts.models import LongRun


def address(week: SmallWeek, more: str = "") -> str:
    return f"/week/{week.territory.code}/{MONDAY}/{more}"


def as_role(client: Client, role: str, week: SmallWeek) -> Client:
    client.force_login(railway.person(role, week.territory))
    return client


@pytest.mark.parametrize(
    ("role", "status"),
    [
        ("supervisor", 200),
        ("welder", 200),
        ("engineer", 200),
        ("inspector", 403),
        ("administrator", 403),
    ],
)
def test_the_week_is_for_those_who_work_by_it(
    client: Client, small_week: SmallWeek, role: str, status: int
) -> None:
    assert as_role(client, role, small_week).get(address(small_week)).status_code == status


@pytest.mark.parametrize("role", ["inspector", "welder", "engineer", "administrator"])
def test_only_a_supervisor_asks_for_a_plan_or_publishes_one(
    client: Client, small_week: SmallWeek, role: str
) -> None:
    plan = small_week.plan()
    as_role(client, role, small_week)

    asked = client.post(address(small_week, "plan/"), {"request_key": "k"})
    published = client.post(f"/plans/{plan.pk}/publish/", {"version": 1})

    assert (asked.status_code, published.status_code) == (403, 403)
    assert WeekPlan.objects.get().state == "draft"


def test_the_week_of_another_territory_does_not_exist(
    client: Client, small_week: SmallWeek
) -> None:
    client.force_login(railway.person("supervisor", railway.territory()))
    plan = small_week.plan()

    assert client.get(address(small_week)).status_code == 404
    assert client.post(f"/plans/{plan.pk}/publish/", {"version": 1}).status_code == 404


def test_somebody_not_logged_in_is_sent_to_the_login(client: Client, db: None) -> None:
    assert client.get("/week/").headers["Location"].startswith("/login/")


@pytest.mark.parametrize(
    ("monday", "status"), [("2026-03-03", 400), ("2026-02-30", 404), ("2026-3-2", 404)]
)
def test_a_week_that_is_none_is_refused(
    client: Client, small_week: SmallWeek, monday: str, status: int
) -> None:
    as_role(client, "supervisor", small_week)
    answer = client.get(f"/week/{small_week.territory.code}/{monday}/")

    assert answer.status_code == status
    if status == 400:
        assert "not a Monday" in answer.content.decode()


def test_the_page_shows_jobs_in_track_time_with_their_chance_and_what_is_left_out(
    client: Client, small_week: SmallWeek
) -> None:
    track_time.job(railway.turnout(small_week.track, mile="5"), minutes=600)
    small_week.plan()

    page = as_role(client, "supervisor", small_week).get(address(small_week)).content.decode()

    for job in small_week.jobs:
        assert job.turnout.code in page
    assert small_week.crew.name in page
    assert "over 99.9 %" in page
    last = max(WeekPlan.objects.get().placed.all(), key=lambda one: one.ends_at)
    spare = (last.window.ends_at - last.ends_at).total_seconds() / 60
    assert spare > 0
    assert f"{spare:.0f} min spare" in page
    assert "the longest window at its turnout has 480 min" in page


def test_a_second_click_on_plan_starts_one_run(client: Client, small_week: SmallWeek) -> None:
    as_role(client, "supervisor", small_week)
    for _ in range(2):
        answer = client.post(address(small_week, "plan/"), {"request_key": "one"})
        assert answer.status_code == 302

    assert LongRun.objects.filter(kind="plan").count() == 1


def test_a_form_without_its_key_or_version_is_refused_with_a_sentence(
    client: Client, small_week: SmallWeek
) -> None:
    plan = small_week.plan()
    as_role(client, "supervisor", small_week)

    asked = client.post(address(small_week, "plan/"))
    published = client.post(f"/plans/{plan.pk}/publish/", {"version": "x"})

    assert (asked.status_code, published.status_code) == (400, 400)
    assert "open the week page again" in asked.content.decode()


def test_publishing_a_plan_seen_before_somebody_changed_it_answers_409(
    client: Client, small_week: SmallWeek
) -> None:
    plan = small_week.plan()
    WeekPlan.objects.filter(pk=plan.pk).update(version=2)
    as_role(client, "supervisor", small_week)

    answer = client.post(f"/plans/{plan.pk}/publish/", {"version": 1})

    assert answer.status_code == 409
    assert "changed by somebody else" in answer.content.decode()


def test_the_page_publishes_and_then_links_to_the_job_sheets(
    client: Client, small_week: SmallWeek
) -> None:
    plan = small_week.plan()
    as_role(client, "supervisor", small_week)

    client.post(f"/plans/{plan.pk}/publish/", {"version": plan.version})

    page = client.get(address(small_week)).content.decode()
    for sheet in JobSheet.objects.all():
        assert f"/sheets/{sheet.number}/" in page


def test_an_earlier_plan_can_be_looked_at_by_its_number(
    client: Client, small_week: SmallWeek
) -> None:
    small_week.plan("first")
    small_week.plan("second")
    as_role(client, "supervisor", small_week)

    assert "Plan 2: draft" in client.get(address(small_week)).content.decode()
    assert "Plan 1: draft" in client.get(address(small_week) + "?plan=1").content.decode()
    assert client.get(address(small_week) + "?plan=9").status_code == 404


def test_a_job_planned_after_its_due_day_is_said_to_be_late(
    client: Client, small_week: SmallWeek
) -> None:
    late, due_that_day = small_week.jobs
    late.due_on, due_that_day.due_on = MONDAY - timedelta(days=1), MONDAY
    late.save()
    due_that_day.save()
    small_week.plan()

    page = as_role(client, "supervisor", small_week).get(address(small_week)).content.decode()

    assert page.count("planned late") == 1
    assert f"{late.turnout.code} (due" in page


def test_queries_do_not_grow_with_the_plan(client: Client, small_week: SmallWeek) -> None:
    plan = small_week.plan("few")
    publish_plan(by=small_week.supervisor, plan=plan, expected_version=1, at=at(-1, 12))
    as_role(client, "supervisor", small_week)
    few = _queries(client, small_week)
    for day in range(1, 5):
        track_time.window(small_week.track, day=day)
        for mile in ("2", "3", "8"):
            track_time.job(railway.turnout(small_week.track, mile=mile), minutes=90)
    many = small_week.plan("many")
    publish_plan(by=small_week.supervisor, plan=many, expected_version=1, at=at(-1, 13))

    assert WeekPlan.objects.get(number=2).placed.count() > 8
    assert _queries(client, small_week) == few


def _queries(client: Client, week: SmallWeek) -> int:
    with CaptureQueriesContext(
        connection,
    ) as caught:
        assert client.get(address(week)).status_code == 200
    return len(caught)
