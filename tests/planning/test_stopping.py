"""Ending a planning run early: the best plan so far is kept, and it says who ended it."""

from typing import Any

import pytest

from planning.models import PlanningStop, WeekPlan
from planning.services.plans import plan_week, request_plan
from planning.services.publish import publish_plan
from planning.services.stopping import LOOK_EVERY_S, StoppableClock, stop_planning
from planning.solver.plan import Plan
from planning.solver.problem import Problem
from planning.solver.solve import solve
from tests import railway
from tests.planning.conftest import SmallWeek
from tests.track_time import at
from turnouts.access import Forbidden
from turnouts.models import LongRun
from turnouts.services.errors import Conflict
from turnouts.services.runs import carry_out, start_run

NOW = at(-1, 12)


class Hand:
    """A clock that is moved by hand."""

    now = 100.0

    def __call__(self) -> float:
        return self.now


def asked_for(week: SmallWeek) -> LongRun:
    run, _ = request_plan(
        by=week.supervisor, territory=week.territory, week=week.week, request_key="stop me"
    )
    return run


def test_the_clock_stands_past_the_end_once_the_run_is_stopped(small_week: SmallWeek) -> None:
    run, hand = asked_for(small_week), Hand()
    clock = StoppableClock(run, 20.0, hand)
    hand.now += LOOK_EVERY_S
    assert clock() == hand.now

    stop_planning(by=small_week.supervisor, run=run, at=NOW)

    assert clock() == hand.now  # it looks only now and then
    hand.now += LOOK_EVERY_S
    assert clock() == hand.now + 20
    assert clock.really() == 2 * LOOK_EVERY_S
    assert clock.stopped_by() == str(small_week.supervisor)


def test_a_clock_of_a_run_already_stopped_runs_out_after_its_first_answer(
    small_week: SmallWeek,
) -> None:
    run, hand = asked_for(small_week), Hand()
    stop_planning(by=small_week.supervisor, run=run, at=NOW)

    clock = StoppableClock(run, 20.0, hand)

    assert clock() == hand.now  # the planner counts from here
    assert clock() == hand.now + 20


def test_keeping_a_plan_is_stopped_in_both_its_halves(
    small_week: SmallWeek, monkeypatch: pytest.MonkeyPatch
) -> None:
    publish_plan(by=small_week.supervisor, plan=small_week.plan(), expected_version=1, at=NOW)
    asked = {"territory": small_week.territory, "week": small_week.week, "keep": True}
    run, _ = request_plan(by=small_week.supervisor, request_key="keep", **asked)
    left: list[float] = []

    def told(problem: Problem, **given: Any) -> Plan:
        began = given["now"]()
        left.append(given["effort"].seconds - (given["now"]() - began))
        return solve(problem, **given)

    monkeypatch.setattr("planning.services.solving.solve", told)
    stop_planning(by=small_week.supervisor, run=run, at=NOW)
    done = plan_week(run=run, progress=lambda *_: None, at=NOW)

    assert len(left) == 2
    assert all(seconds <= 0 for seconds in left)
    kept = WeekPlan.objects.get(pk=done["plan"])
    assert kept.detail["stability"]["kept"] == {"moved": 0, "out": 0, "new": 0}


def test_a_run_stopped_at_once_still_gives_a_plan_that_keeps_the_rules(
    small_week: SmallWeek,
) -> None:
    run = asked_for(small_week)
    stop_planning(by=small_week.supervisor, run=run, at=NOW)

    done = carry_out(
        run_id=run.pk, work=lambda run, progress: plan_week(run=run, progress=progress, at=NOW)
    )

    plan = WeekPlan.objects.get(pk=done.result["plan"])
    assert done.state == "done"
    assert plan.placed.count() + plan.left_out.count() == len(small_week.jobs)
    [note] = [note for note in plan.detail["notes"] if note.startswith("Stopped by")]
    assert str(small_week.supervisor) in note
    assert not any("ran out" in note for note in plan.detail["notes"])
    assert plan.detail["seconds"] < 20


def test_stopping_twice_is_stopping_once(small_week: SmallWeek) -> None:
    run = asked_for(small_week)
    first = stop_planning(by=small_week.supervisor, run=run, at=NOW)
    assert stop_planning(by=small_week.supervisor, run=run, at=at(0, 1)) == first
    assert PlanningStop.objects.get().at == NOW


def test_a_run_that_has_ended_cannot_be_stopped(small_week: SmallWeek) -> None:
    small_week.plan()
    run = LongRun.objects.get()
    run.state = "done"
    run.save()

    with pytest.raises(Conflict, match="ended by itself"):
        stop_planning(by=small_week.supervisor, run=run, at=NOW)


def test_only_a_supervisor_of_the_territory_stops_its_planning(small_week: SmallWeek) -> None:
    run = asked_for(small_week)
    for person in (
        railway.person("engineer", small_week.territory),
        railway.person("supervisor", railway.territory()),
    ):
        with pytest.raises(Forbidden, match="supervisor"):
            stop_planning(by=person, run=run, at=NOW)


def test_no_other_work_is_stopped_here(small_week: SmallWeek) -> None:
    run, _ = start_run(kind="import", request_key="other", by=small_week.supervisor)
    with pytest.raises(Conflict, match="Only the planning"):
        stop_planning(by=small_week.supervisor, run=run, at=NOW)
