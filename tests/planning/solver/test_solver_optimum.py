"""The planner finds the best plan, and proves it, where everything can be tried."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planning.solver.check import check
from tests.planning.solver.brute_force import best_value
from tests.planning.solver.small_weeks import crew, job, plan, random_week, week, window


# In week 1267 a job worth nothing fits only by making others late.
@pytest.mark.parametrize("seed", [*range(25), 1267])
def test_plan_is_worth_as_much_as_the_best_of_all_plans(seed: int) -> None:
    problem = random_week(seed, jobs=4)
    found = plan(problem)
    assert found.value == pytest.approx(best_value(problem))
    assert found.bound == pytest.approx(found.value)
    assert check(problem, found) == ()


@settings(max_examples=10, deadline=None)
@given(st.integers(100, 10_000))
def test_two_days_are_planned_as_well_as_can_be(seed: int) -> None:
    problem = random_week(seed, jobs=3, days=2)
    assert plan(problem).value == pytest.approx(best_value(problem))


def test_the_window_that_holds_two_of_three_jobs_gets_the_two_worth_most() -> None:
    # 60 min each: two need about 155 min at 95 %, three about 225; the window has 200.
    jobs = [
        job("a", 0, 60, value=(10.0,)),
        job("b", 0, 60, value=(30.0,)),
        job("c", 0, 60, value=(20.0,)),
    ]
    found = plan(week(jobs, [window("w", 0, 200)], [crew("x")]))
    assert {p.job for p in found.placements} == {"b", "c"}
    assert found.value == found.bound == 50


def test_waiting_for_another_crew_is_tried_when_it_pays() -> None:
    # Only y can do the second job, only x the first; y must wait until x's window has ended.
    first = job("first", 0, 60, needs=frozenset({"weld"}))
    second = job("second", 0, 60, needs=frozenset({"grind"}), after=("first",))
    crews = [crew("x"), crew("y", holds={0: frozenset({"grind"})})]
    found = plan(week([first, second], [window("w", 0, 120), window("v", 60, 300)], crews))
    starts = {p.job: p.start_min for p in found.placements}
    assert starts == {"first": 0, "second": 120}
