"""Moving a job on the page, comparing plans, loading trucks, stopping: by anybody's hands."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from planning.models import CrewCalendar, PlanningStop, WeekPlan
from planning.services.plans import request_plan
from planning.services.publish import publish_plan
from repairs.models import RepairJob
from tests import railway, track_time
from tests.planning.conftest import SmallWeek
from tests.planning.test_hand_edits import lock, take_out
from tests.track_time import MONDAY, at

NOW = at(-1, 12)


@pytest.fixture
def page(client: Client, small_week: SmallWeek) -> Client:
    client.force_login(small_week.supervisor)
    return client


def last_job(plan: WeekPlan) -> RepairJob:
    found = plan.placed.select_related("job__turnout").order_by("starts_at").last()
    assert found is not None
    return found.job


def address(plan: WeekPlan, job: RepairJob, more: str = "") -> str:
    return f"/plans/{plan.pk}/jobs/{job.reference}/{more}"


def place(week: SmallWeek, hour: int = 9) -> str:
    return f"{week.crew.code} {week.window.reference} {at(0, hour).isoformat()}"


def test_the_places_come_as_a_piece_for_the_week_page_and_else_as_a_page(
    page: Client, small_week: SmallWeek
) -> None:
    plan = small_week.plan()
    job = last_job(plan)

    piece = page.get(address(plan, job), headers={"HX-Request": "true"}).content.decode()
    whole = page.get(address(plan, job)).content.decode()

    assert "<html" not in piece
    assert "<html" in whole
    for text in (piece, whole):
        assert "Where it could go" in text
        assert f'value="{small_week.crew.code} {small_week.window.reference}' in text
        assert 'class="opening"' in text


def test_a_place_chosen_in_the_picture_is_chosen_in_the_list(
    page: Client, small_week: SmallWeek
) -> None:
    plan = small_week.plan()
    text = page.get(address(plan, last_job(plan)) + "?to=0").content.decode()
    assert "required checked" in text
    assert 'class="opening chosen"' in text


def test_confirming_makes_a_draft_and_shows_it(page: Client, small_week: SmallWeek) -> None:
    plan = small_week.plan()
    job = last_job(plan)

    answer = page.post(
        address(plan, job, "place/"),
        {"version": plan.version, "place": place(small_week), "start": "13:00"},
        follow=True,
    )

    assert answer.redirect_chain[0][0].endswith("?plan=2")
    text = answer.content.decode()
    assert "Plan 2: draft" in text
    assert "Changed by hand from plan 1" in text
    assert WeekPlan.objects.get(number=2).placed.get(job=job).starts_at == at(0, 13)


@pytest.mark.parametrize(
    ("form", "status", "words"),
    [
        ({"start": "14:30"}, 400, "30 min after window"),
        ({"version": "7"}, 409, "changed by somebody else"),
        ({"start": "at nine"}, 400, "no time of day"),
        ({"place": "nothing"}, 400, "Choose one of the places"),
        ({"version": ""}, 400, "open the week page again"),
    ],
)
def test_a_refusal_is_said_in_a_sentence(
    page: Client, small_week: SmallWeek, form: dict[str, str], status: int, words: str
) -> None:
    plan = small_week.plan()
    sent = {"version": "1", "place": place(small_week)} | form

    answer = page.post(address(plan, last_job(plan), "place/"), sent)

    assert answer.status_code == status
    assert words in answer.content.decode()
    assert WeekPlan.objects.count() == 1


def test_a_job_is_taken_out_and_put_in_again(page: Client, small_week: SmallWeek) -> None:
    plan = small_week.plan()
    job = last_job(plan)

    out = page.post(address(plan, job, "take-out/"), {"version": 1}, follow=True)
    without = WeekPlan.objects.get(number=2)
    assert "Taken out by hand" in out.content.decode()

    page.post(address(without, job, "place/"), {"version": 1, "place": place(small_week, 13)})
    assert WeekPlan.objects.get(number=3).placed.filter(job=job).exists()


def test_a_locked_job_shows_its_lock_and_no_places(page: Client, small_week: SmallWeek) -> None:
    plan = small_week.plan()
    job = last_job(plan)

    page.post(address(plan, job, "lock/"), {"version": 1, "locked": "1"})

    text = page.get(address(plan, job)).content.decode()
    assert "Take the lock off" in text
    assert "Where it could go" not in text
    week = page.get(f"/week/{small_week.territory.code}/{MONDAY}/").content.decode()
    assert "1 locked job stays in place" in week


def test_planning_again_from_the_page_keeps_the_locks_of_the_plan_shown(
    page: Client, small_week: SmallWeek
) -> None:
    plan = small_week.plan()
    lock(small_week, plan, last_job(plan).reference)

    page.post(
        f"/week/{small_week.territory.code}/{MONDAY}/plan/",
        {"request_key": "again", "base": plan.pk},
    )

    run = small_week.supervisor.runs.get(request_key="again")
    assert run.asked["base"] == plan.pk


@pytest.mark.parametrize("role", ["welder", "engineer", "inspector", "administrator"])
def test_only_a_supervisor_moves_jobs(client: Client, small_week: SmallWeek, role: str) -> None:
    plan = small_week.plan()
    client.force_login(railway.person(role, small_week.territory))
    job = last_job(plan)

    assert client.get(address(plan, job)).status_code == 403
    for way in ("place/", "take-out/", "lock/"):
        sent = {"version": 1, "place": place(small_week), "locked": 1}
        assert client.post(address(plan, job, way), sent).status_code == 403
    assert WeekPlan.objects.count() == 1
    week = client.get(f"/week/{small_week.territory.code}/{MONDAY}/").content.decode()
    assert ">Move</a>" not in week


def test_a_plan_or_job_of_another_territory_does_not_exist(
    client: Client, small_week: SmallWeek
) -> None:
    plan = small_week.plan()
    stranger = railway.person("supervisor", railway.territory())
    client.force_login(stranger)
    assert client.get(address(plan, last_job(plan))).status_code == 404
    assert client.get(f"/plans/{plan.pk}/load-out/").status_code == 404
    compare = f"/week/{small_week.territory.code}/{MONDAY}/compare/"
    assert client.get(compare).status_code == 404


def test_two_plans_beside_each_other_say_what_fell_out_and_the_price(
    page: Client, small_week: SmallWeek
) -> None:
    plan = small_week.plan()
    job = last_job(plan)
    made = take_out(small_week, plan, job.reference)

    address = f"/week/{small_week.territory.code}/{MONDAY}/compare/"
    text = page.get(address).content.decode()

    assert "Plan 2 beside plan 1" in text
    assert "1 fell out, 1 stayed" in " ".join(text.split())
    price = f"{plan.value - made.value:,.0f}"
    assert f"{price} less than plan 1: the price of the change" in text.replace("\xa0", " ")
    assert page.get(address + "?old=9").status_code == 404


def test_the_list_to_load_by_says_which_plan_it_is_of(page: Client, small_week: SmallWeek) -> None:
    plan = small_week.plan()
    draft = page.get(f"/plans/{plan.pk}/load-out/").content.decode()
    assert "This is a draft: load by the published plan." in draft
    publish_plan(by=small_week.supervisor, plan=plan, expected_version=1, at=NOW)

    text = page.get(f"/plans/{plan.pk}/load-out/").content.decode()

    assert "published" in text
    assert small_week.crew.truck.name in text
    assert "This is a draft" not in text


def test_a_planning_run_is_stopped_from_the_page(page: Client, small_week: SmallWeek) -> None:
    run, _ = request_plan(
        by=small_week.supervisor,
        territory=small_week.territory,
        week=small_week.week,
        request_key="stop",
    )
    week = page.get(f"/week/{small_week.territory.code}/{MONDAY}/").content.decode()
    assert "Stop and keep the best so far" in week

    assert page.post(f"/week/runs/{run.pk}/stop/").status_code == 302

    assert PlanningStop.objects.get().by == small_week.supervisor


def test_a_welder_sees_the_calendar_of_the_own_crew_and_may_not_renew_it(
    client: Client, small_week: SmallWeek
) -> None:
    other = track_time.crew(small_week.crew.depot)
    for crew in (small_week.crew, other):
        CrewCalendar.objects.create(crew=crew, renewed_at=NOW)
    client.force_login(small_week.crew.members.get().person)

    text = client.get("/calendars/").content.decode()

    assert f"/calendars/{small_week.crew.calendar.key}.ics" in text
    assert other.calendar.key not in text
    assert client.post(f"/calendars/{small_week.crew.code}/renew/").status_code == 403


def test_the_page_of_places_takes_no_more_queries_for_a_larger_plan(
    page: Client, small_week: SmallWeek
) -> None:
    few = _queries(page, small_week.plan("few"), small_week.jobs[0])
    for mile in ("2", "3"):
        track_time.window(small_week.track, day=int(mile))
        track_time.job(railway.turnout(small_week.track, mile=mile), minutes=60)

    assert _queries(page, small_week.plan("more"), small_week.jobs[0]) == few


def _queries(page: Client, plan: WeekPlan, job: RepairJob) -> int:
    with CaptureQueriesContext(connection) as caught:
        assert page.get(address(plan, job)).status_code == 200
    return len(caught)
