"""Questions about a plan and the network's planning end early when they are told to."""

from threading import Event, Thread
from typing import Any

import pytest
from django.db import connection
from django.test import Client

from planning.models import CrewLoan, PlanningStop, WeekPlan
from planning.services.calendar import Week
from planning.services.network import request_network, step
from planning.services.plans import plan_week, request_plan
from planning.services.stopping import stop_planning
from planning.services.what_if import carry_out_what_if, draft_what_if, request_what_if
from planning.solver.plan import Plan
from planning.solver.problem import Problem
from planning.solver.solve import solve
from tests import railway
from tests.network import NetworkSize, make_network
from tests.planning.conftest import SmallWeek
from tests.planning.test_network import asked as network_asked
from tests.planning.test_network import parts, work
from tests.track_time import MONDAY, at
from turnouts.access import Forbidden
from turnouts.models import LongRun, Person, Territory
from turnouts.services.errors import Conflict
from turnouts.services.runs import carry_out

NOW = at(-1, 12)


def question(plan: WeekPlan, by: Person, **asked: Any) -> LongRun:
    run, _ = request_what_if(by=by, plan=plan, question=asked, request_key="ask", at=NOW)
    return run


def about_the_crew(week: SmallWeek, plan: WeekPlan) -> LongRun:
    return question(plan, week.supervisor, kind="drop_crew", crew=week.crew.code, days=["1"])


def answered(run: LongRun) -> LongRun:
    return carry_out(
        run_id=run.pk, work=lambda one, tell: carry_out_what_if(run=one, progress=tell, at=NOW)
    )


def test_a_question_stopped_before_it_began_says_so(small_week: SmallWeek) -> None:
    run = about_the_crew(small_week, small_week.plan())
    stop_planning(by=small_week.supervisor, run=run, at=NOW)

    done = answered(run)

    assert done.state == "failed"
    assert done.message == (
        f"Stopped by {small_week.supervisor} before anything was worked out; ask once more."
    )


@pytest.mark.parametrize("half", [0, 1])
def test_a_question_stopped_meanwhile_compares_the_best_plans_so_far(
    client: Client, small_week: SmallWeek, monkeypatch: pytest.MonkeyPatch, half: int
) -> None:
    plan = small_week.plan()
    run = about_the_crew(small_week, plan)
    halves: list[Problem] = []

    def stopped(problem: Problem, **given: Any) -> Plan:
        halves.append(problem)
        if len(halves) == half + 1:
            stop_planning(by=small_week.supervisor, run=run, at=NOW)
        return solve(problem, **given)

    monkeypatch.setattr("planning.services.solving.solve", stopped)
    monkeypatch.setattr("planning.services.stopping.LOOK_EVERY_S", 0.0)
    done = answered(run)

    assert (done.state, len(halves)) == ("done", 2)
    result = done.result
    assert result["stopped_by"] == str(small_week.supervisor)
    assert result["then"]["placed"] == result["present"]["placed"] == 2
    assert result["alone"] == pytest.approx(plan.value)
    client.force_login(small_week.supervisor)
    page = client.get(f"/week/what-if/{run.pk}/").content.decode()
    assert f"Stopped by {small_week.supervisor} before its time was over" in page
    assert draft_what_if(by=small_week.supervisor, run=done, at=NOW).placed.count() == 2


def test_a_question_that_nobody_stopped_says_nothing_of_it(
    client: Client, small_week: SmallWeek
) -> None:
    run = answered(about_the_crew(small_week, small_week.plan()))
    client.force_login(small_week.supervisor)
    assert run.result["stopped_by"] == ""
    assert "Stopped by" not in client.get(f"/week/what-if/{run.pk}/").content.decode()
    with pytest.raises(Conflict, match="ended by itself"):
        stop_planning(by=small_week.supervisor, run=run, at=NOW)


def test_a_question_is_stopped_from_its_page_and_by_a_program(
    client: Client, small_week: SmallWeek
) -> None:
    run = about_the_crew(small_week, small_week.plan())
    client.force_login(small_week.supervisor)
    page = client.get(f"/week/what-if/{run.pk}/").content.decode()
    assert "Stop and compare the best so far" in page

    first = client.post(f"/week/what-if/{run.pk}/stop/")
    again = client.post(f"/api/week-questions/{run.pk}/stop/")

    assert (first.status_code, first.headers["Location"]) == (302, f"/week/what-if/{run.pk}/")
    assert again.status_code == 202
    assert PlanningStop.objects.get().run == run


@pytest.mark.parametrize(
    ("role", "status"), [("engineer", 403), ("welder", 403), ("elsewhere", 404)]
)
def test_others_do_not_stop_a_question(
    client: Client, small_week: SmallWeek, role: str, status: int
) -> None:
    run = about_the_crew(small_week, small_week.plan())
    elsewhere = role == "elsewhere"
    client.force_login(
        railway.person("supervisor", railway.territory())
        if elsewhere
        else railway.person(role, small_week.territory)
    )
    assert client.post(f"/week/what-if/{run.pk}/stop/").status_code == status
    assert client.post(f"/api/week-questions/{run.pk}/stop/").status_code in (403, 404)
    assert not PlanningStop.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_a_question_at_work_ends_when_it_is_stopped_from_elsewhere(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # The thread below is the worker; one that another test left listening must not take the run.
    monkeypatch.setattr("turnouts.services.runs._send", lambda run: None)
    # A hundred jobs of one kind and six like crews: far more than the time proves best.
    supervisor = make_network(NetworkSize(territories=1, first=100, crews=6, windows_a_day=5))
    quick, _ = request_plan(
        by=supervisor, territory=Territory.objects.get(), week=Week(MONDAY), request_key="q",
        seconds=1,
    )  # fmt: skip
    made = plan_week(run=quick, progress=lambda *_: None, at=NOW)
    plan = WeekPlan.objects.get(pk=made["plan"])
    crew = plan.placed.earliest("starts_at").crew
    run = question(plan, supervisor, kind="drop_crew", crew=crew.code, days=["0"])
    at_work, told = Event(), []

    def tell(done: int, total: int, words: str) -> None:
        told.append(words)
        at_work.set()

    def worker() -> None:
        carry_out(
            run_id=run.pk, work=lambda one, _: carry_out_what_if(run=one, progress=tell, at=NOW)
        )
        connection.close()

    thread = Thread(target=worker)
    thread.start()
    assert at_work.wait(150)
    stop_planning(by=supervisor, run=run, at=NOW)
    thread.join(150)
    done = LongRun.objects.get(pk=run.pk)

    assert (done.state, done.message) == ("done", "")
    assert told[0].startswith("with what you ask: ")
    assert done.result["stopped_by"] == str(supervisor)
    assert done.result["then"]["placed"] > 0
    assert any(note.startswith("Stopped by") for note in done.result["notes"])


def test_the_network_stopped_keeps_a_plan_in_every_territory_and_lends_nothing(
    client: Client, db: None
) -> None:
    supervisor = make_network(NetworkSize(territories=3, jobs=26, crews=1))
    run = network_asked(supervisor, seconds=60)
    client.force_login(supervisor)
    assert "Stop and keep the best so far" in client.get(f"/weeks/{MONDAY}/").content.decode()

    assert client.post(f"/weeks/runs/{run.pk}/stop/").status_code == 302
    done = work(run)

    assert set(done.result["plans"]) == set(Territory.objects.values_list("code", flat=True))
    assert (done.result["lent"], done.result["failed"]) == ({}, [])
    assert done.result["stopped_by"] == str(supervisor)
    assert not CrewLoan.objects.exists()
    for plan in WeekPlan.objects.all():
        assert any(note.startswith("Stopped by") for note in plan.detail["notes"])
    assert f"Stopped by {supervisor}" in client.get(f"/weeks/{MONDAY}/").content.decode()


def test_the_network_is_stopped_by_a_program_of_whoever_plans_all_of_it(
    client: Client, db: None
) -> None:
    supervisor = make_network(NetworkSize(territories=2, jobs=2, crews=1))
    run = network_asked(supervisor)
    one = Territory.objects.earliest("code")
    client.force_login(railway.person("supervisor", one))
    assert client.post(f"/api/network-plans/{run.pk}/stop/").status_code == 403
    client.force_login(supervisor)
    assert client.post(f"/api/network-plans/{run.pk}/stop/").status_code == 202
    assert PlanningStop.objects.get().run == run


@pytest.mark.parametrize("role", ["engineer", "welder"])
def test_only_a_supervisor_stops_the_network(small_week: SmallWeek, role: str) -> None:
    run, _ = request_network(by=small_week.supervisor, week=small_week.week, request_key="n")
    with pytest.raises(Forbidden, match="supervisor"):
        stop_planning(by=railway.person(role, small_week.territory), run=run, at=NOW)


def test_a_part_of_a_network_is_stopped_alone(db: None) -> None:
    supervisor = make_network(NetworkSize(territories=2, jobs=4, crews=1))
    run = network_asked(supervisor, seconds=1)
    step(run_id=run.pk, at=NOW)
    one, other = parts(run)
    stop_planning(by=supervisor, run=one, at=NOW)
    for part in (one, other):
        plan_week(run=part, progress=lambda *_: None, at=NOW)
    stopped = {
        plan.run_id
        for plan in WeekPlan.objects.all()
        if any(note.startswith("Stopped by") for note in plan.detail["notes"])
    }
    assert stopped == {one.pk}
