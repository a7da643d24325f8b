"""Material that is ordered now: work from the day it arrives waits for it, earlier work cannot."""

from dataclasses import replace

import pytest

from planning.solver.check import check
from planning.solver.faults import find_faults
from planning.solver.plan import Plan
from planning.solver.problem import Problem, Shift, Truck
from tests.planning.solver.small_weeks import crew, job, plan, week, window

DAYS = (Shift(0, 660, 0), Shift(1440, 2100, 1))


def two_days(arrives: int | None, wire: float = 5.0) -> Problem:
    """One job that uses wire; 1 on the truck and 1.5 at the depot; a window on each day."""
    return week(
        [job("a", material={"wire": wire}, value=(100.0, 90.0))],
        [window("w", 0, 300), window("v", 1440, 1740)],
        [crew("x", truck="T", shifts=DAYS, holds=dict.fromkeys((0, 1), frozenset({"weld"})))],
        trucks=(Truck("T", 100, {"wire": 1.0}),),
        depot_stock={"wire": 1.5},
        arrives={} if arrives is None else {"wire": arrives},
    )


def days(found: Plan) -> list[int]:
    return [place.day for place in found.placements]


@pytest.mark.parametrize(("arrives", "placed"), [(0, [0]), (1, [1]), (2, []), (None, [])])
def test_a_job_that_stock_does_not_cover_waits_for_the_day_its_material_arrives(
    arrives: int | None, placed: list[int]
) -> None:
    problem = two_days(arrives)
    found = plan(problem)
    assert days(found) == placed
    assert check(problem, found) == ()


@pytest.mark.parametrize(("wire", "day"), [(2.5, 0), (2.6, 1)])
def test_what_stock_covers_does_not_wait(wire: float, day: int) -> None:
    """1 on the truck and 1.5 at the depot are 2.5."""
    assert days(plan(two_days(1, wire))) == [day]


def test_the_load_says_what_is_drawn_and_what_of_it_is_to_be_ordered() -> None:
    [late] = plan(two_days(1)).loads
    assert (late.used, late.from_depot, late.ordered) == (5.0, 4.0, 2.5)  # 1 on board, 1.5 in stock
    [early] = plan(two_days(1, 2.5)).loads
    assert (early.used, early.from_depot, early.ordered) == (2.5, 1.5, 0.0)


def test_an_order_does_not_make_the_truck_larger() -> None:
    """It carries 1 already; 5 more are 6."""
    for capacity, placed in ((6.0, [1]), (5.9, [])):
        problem = replace(two_days(1), trucks=(Truck("T", capacity, {"wire": 1.0}),))
        assert days(plan(problem)) == placed


def test_the_checker_finds_work_before_its_material_has_come() -> None:
    problem, late = two_days(1), two_days(2)
    assert {breach.rule for breach in check(late, plan(problem))} == {"material", "load"}
    nowhere = replace(problem, arrives={})
    assert {breach.rule for breach in check(nowhere, plan(problem))} == {"material", "load"}


def test_the_checker_finds_an_order_that_is_counted_wrong() -> None:
    problem = two_days(1)
    found = plan(problem)
    wrong = replace(found, loads=(replace(found.loads[0], ordered=2.6),))
    assert {breach.rule for breach in check(problem, wrong)} == {"load"}


def test_an_order_that_came_before_the_plan_began_is_no_order() -> None:
    assert find_faults(two_days(0)) == ()
    assert find_faults(replace(two_days(0), arrives={"wire": -1})) == (
        "What is ordered of wire arrives on day -1; give 0 or a later day.",
    )
