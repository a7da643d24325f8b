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
    # On another day, or with another qualification, that person lets nothing in.
    for holds in (
        {0: frozenset({"weld"}), 1: frozenset({"weld", "cast"})},
        {0: frozenset({"weld"})},
    ):
        assert placed(replace(problem, crews=(crew("x", holds=holds),))) == set()


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
    assert placed(replace(problem, depot_stock={"wire": 3.99})) == set()


def test_of_two_windows_the_one_that_must_be_longer_by_less_is_named() -> None:
    # Both are too short for the job alone; v by 20 min less than w, on a later hour.
    problem = week(
        [job("a", minutes=100)], [window("w", 0, 100), window("v", 300, 420)], [crew("x")]
    )
    change = left(plan(problem), "a").change
    assert (change.kind, change.window) == ("window", "v")
    end = 420 + int(change.amount)
    first = window("w", 0, 100)
    assert placed(replace(problem, windows=(first, window("v", 300, end)))) == {"a"}
    assert placed(replace(problem, windows=(first, window("v", 300, end - 1)))) == set()
    # The other one so much longer lets nothing in.
    by = int(change.amount)
    other = (window("w", 0, 100 + by), window("v", 300, 420))
    assert placed(replace(problem, windows=other)) == set()


def test_more_time_of_an_hour_at_most_is_smaller_than_stock_and_stock_than_a_person() -> None:
    # One crew lacks the qualification, the other the material and a few minutes of its shift.
    needs = frozenset({"weld", "cast"})
    both = {0: needs}
    short = crew("y", 10_000, truck="T", shifts=(Shift(0, 100, 0),), holds=both)
    one = job("a", 0, 85, needs=needs, material={"wire": 2.0})
    trucks = (Truck("T", 100, {"wire": 2.0}), Truck("U", 100, {}))
    able = crew("z", 10_000, truck="U", holds=both)
    unable = crew("x", truck="T")
    problem = week([one], [window("w", 0, 400)], [short], trucks=trucks)
    assert left(plan(problem), "a").change.kind == "overtime"
    problem = replace(problem, crews=(able, replace(unable, truck=None)))
    assert left(plan(problem), "a").change.kind == "stock"
    problem = replace(problem, crews=(unable,))
    assert left(plan(problem), "a").change.kind == "qualified"


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
