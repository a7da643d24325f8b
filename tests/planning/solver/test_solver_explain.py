"""Every job left out says why, and the change it names does let it in when it is made."""

from dataclasses import replace

import pytest

from planning.solver.plan import LeftOut, Plan
from planning.solver.problem import Problem, Shift, Truck
from tests.planning.solver.small_weeks import at, crew, job, plan, week, window


def left(found: Plan, name: str) -> LeftOut:
    return next(out for out in found.left_out if out.job == name)


def placed(problem: Problem) -> set[str]:
    return {p.job for p in plan(problem).placements}


def test_longer_window_lets_the_job_in_and_one_minute_less_does_not() -> None:
    jobs = [job("a", value=(100.0,)), job("b", value=(50.0,))]
    problem = week(jobs, [window("w", 0, 130)], [crew("x")])
    change = left(plan(problem), "b").change
    assert (change.kind, change.crew) == ("window", "x")
    end = 130 + int(change.amount)
    assert placed(replace(problem, windows=(window("w", 0, end),))) == {"a", "b"}
    assert placed(replace(problem, windows=(window("w", 0, end - 1),))) == {"a"}


def test_window_too_short_for_the_job_alone_is_the_reason() -> None:
    problem = week([job("a", minutes=100)], [window("w", 0, 120)], [crew("x")])
    out = left(plan(problem), "a")
    assert "the longest window at its turnout has 120 min" in out.reason
    longer = window("w", 0, 120 + int(out.change.amount))
    assert placed(replace(problem, windows=(longer,))) == {"a"}


def test_overtime_lets_the_job_in_and_one_minute_less_does_not() -> None:
    short = crew("x", 10_000, shifts=(Shift(0, 100, 0),))
    problem = week([job("a", 0, 85)], [window("w", 0, 400)], [short])
    change = left(plan(problem), "a").change
    # 10 min there, 85 min work, 10 min back: 105 min in a shift of 100.
    assert (change.kind, change.amount, change.crew, change.day) == ("overtime", 5, "x", 0)
    fits = replace(short, shifts=(Shift(0, 105, 0),))
    misses = replace(short, shifts=(Shift(0, 104, 0),))
    assert placed(replace(problem, crews=(fits,))) == {"a"}
    assert placed(replace(problem, crews=(misses,))) == set()


def test_one_more_qualified_person_lets_the_job_in() -> None:
    problem = week(
        [job("a", needs=frozenset({"weld", "cast"}))], [window("w", 0, 300)], [crew("x")]
    )
    out = left(plan(problem), "a")
    assert "No crew holds all it needs" in out.reason
    assert (out.change.kind, out.change.crew, out.change.day) == ("qualified", "x", 0)
    assert "cast" in out.change.what
    trained = crew("x", holds={0: frozenset({"weld", "cast"})})
    assert placed(replace(problem, crews=(trained,))) == {"a"}


def test_more_stock_lets_the_job_in_and_a_little_less_does_not() -> None:
    problem = week(
        [job("a", material={"wire": 5.0})],
        [window("w", 0, 300)],
        [crew("x", truck="T")],
        trucks=(Truck("T", 100, {"wire": 1.0}),),
        depot_stock={"wire": 1.5},
    )
    change = left(plan(problem), "a").change
    assert (change.kind, change.item) == ("stock", "wire")
    assert change.amount == pytest.approx(2.5)
    assert placed(replace(problem, depot_stock={"wire": 4.0})) == {"a"}
    assert placed(replace(problem, depot_stock={"wire": 3.9})) == set()


def test_no_track_time_at_the_turnout_is_the_reason() -> None:
    problem = week([job("a", 60_000)], [window("w", 0, 300)], [crew("x", 60_000)])
    out = left(plan(problem), "a")
    assert "No work window covers its turnout" in out.reason
    # The window asked for is just long enough for the job alone.
    there = window("v", 0, int(out.change.amount), to_m=70_000)
    assert placed(replace(problem, windows=(there,))) == {"a"}
    less = window("v", 0, int(out.change.amount) - 1, to_m=70_000)
    assert placed(replace(problem, windows=(less,))) == set()


def test_crew_without_a_truck_is_the_reason() -> None:
    problem = week([job("a", material={"wire": 1.0})], [window("w", 0, 300)], [crew("x")])
    out = left(plan(problem), "a")
    assert "has a truck" in out.reason
    assert out.change.kind == "none"


def test_no_single_change_is_said_where_two_are_needed() -> None:
    needs = frozenset({"cast", "guard"})
    problem = week([job("a", needs=needs)], [window("w", 0, 300)], [crew("x")])
    assert left(plan(problem), "a").change.kind == "none"


def test_a_place_taken_by_better_work_is_said() -> None:
    jobs = [job("a", value=(100.0,)), job("b", value=(50.0,), minutes=61)]
    crews = [crew("x"), crew("y", base=at(0))]
    problem = week(jobs, [window("w", 0, 100, gangs=1)], crews)
    assert "work that together saves more" in left(plan(problem), "b").reason
