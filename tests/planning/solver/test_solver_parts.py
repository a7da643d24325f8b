"""Jobs done whole or in parts: the best of both, and never some of the parts."""

from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from planning.solver.check import check
from planning.solver.faults import find_faults
from planning.solver.plan import LeftOut, Plan
from planning.solver.problem import Duration, Former, Keep, Lock, Problem, ProblemError, Shift
from planning.solver.weeks import Size, make_week
from tests.planning.solver.brute_force import best_value
from tests.planning.solver.small_weeks import (
    crew,
    in_parts,
    job,
    plan,
    random_week_in_parts,
    week,
    window,
)


def without_parts(problem: Problem) -> Problem:
    return replace(problem, jobs=tuple(job for job in problem.jobs if job.part_of is None))


@pytest.mark.parametrize("seed", range(8))
def test_plan_with_parts_is_worth_as_much_as_the_best_of_all_plans(seed: int) -> None:
    problem = random_week_in_parts(seed)
    found = plan(problem)
    assert found.value == pytest.approx(best_value(problem))
    assert found.bound == pytest.approx(found.value)
    assert check(problem, found) == ()


@pytest.mark.parametrize("seed", range(100, 103))
def test_three_parts_are_planned_as_well_as_can_be(seed: int) -> None:
    problem = random_week_in_parts(seed, parts=3)
    found = plan(problem)
    assert found.value == pytest.approx(best_value(problem))
    assert check(problem, found) == ()


def test_the_random_weeks_are_of_use_some_have_their_job_in_parts() -> None:
    placed = [{p.job for p in plan(random_week_in_parts(seed)).placements} for seed in range(12)]
    assert sum("J3-P1" in jobs for jobs in placed) >= 3
    assert sum("J3" in jobs for jobs in placed) >= 1


def test_a_search_that_had_a_job_in_parts_does_not_leave_them_beside_the_whole() -> None:
    problem = random_week_in_parts(100_000)
    found = plan(problem)
    assert check(problem, found) == ()
    assert found.value == pytest.approx(best_value(problem))


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 100_000), st.integers(4, 6), st.integers(1, 2))
def test_offering_parts_never_lowers_the_value(seed: int, jobs: int, days: int) -> None:
    problem = random_week_in_parts(seed, jobs, days)
    found = plan(problem)
    assert found.value >= plan(without_parts(problem)).value - 1e-6
    assert check(problem, found, seed=seed) == ()
    assert found.bound is not None
    assert found.value <= found.bound + 1e-6


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 100_000), st.data())
def test_a_part_that_is_locked_stays_and_its_fellows_come_with_it(
    seed: int, data: st.DataObject
) -> None:
    problem = random_week_in_parts(seed)
    before = plan(problem)
    parts = [p for p in before.placements if p.job.startswith("J3-")]
    assume(parts)
    place = data.draw(st.sampled_from(parts))
    lock = Lock(place.crew, place.window, place.start_min)
    jobs = tuple(replace(j, lock=lock) if j.id == place.job else j for j in problem.jobs)
    locked = replace(problem, jobs=jobs)
    after = plan(locked)
    assert check(locked, after) == ()
    now = {p.job: Lock(p.crew, p.window, p.start_min) for p in after.placements}
    assert now[place.job] == lock
    assert {"J3-P1", "J3-P2"} <= now.keys()


# 200 min of work need about 273 min at 95 %, 100 min about 137: two windows of 150 hold the parts
# and neither holds the whole.
LONG = job("long", 0, 200)
TWO = in_parts(LONG, 100, 100)


def test_a_job_that_fits_no_window_is_done_in_two() -> None:
    problem = week(TWO, [window("w", 0, 150), window("v", 300, 450)], [crew("x")])
    found = plan(problem)
    assert [(p.job, p.window) for p in found.placements] == [("long-P1", "w"), ("long-P2", "v")]
    assert found.value == 100
    assert found.left_out == ()
    assert check(problem, found) == ()


def test_a_job_that_fits_whole_is_done_whole_where_the_parts_have_no_place() -> None:
    windows = [window("w", 0, 300), window("v", 400, 500)]
    found = plan(week(TWO, windows, [crew("x")]))
    assert [p.job for p in found.placements] == ["long"]


def test_the_second_part_waits_until_the_window_of_the_first_is_handed_back() -> None:
    """Windows that overlap hold no two parts, also where another crew could do the second."""
    windows = [window("w", 0, 150), window("v", 149, 300)]
    found = plan(week(TWO, windows, [crew("x"), crew("y")]))
    assert found.placements == ()
    one_later = [windows[0], window("v", 150, 301)]
    assert len(plan(week(TWO, one_later, [crew("x"), crew("y")])).placements) == 2


def test_the_parts_may_be_done_by_two_crews_on_two_days() -> None:
    whole, one, two = in_parts(replace(LONG, value=(100.0, 90.0)), 100, 100)
    jobs = [whole, replace(one, needs=frozenset({"grind"})), replace(two, needs=frozenset("w"))]
    crews = [
        crew("x", holds={0: frozenset({"grind"})}),
        crew("y", shifts=(Shift(1440, 2160, 1),), holds={1: frozenset("w")}),
    ]
    found = plan(week(jobs, [window("w", 0, 150), window("v", 1440, 1600)], crews))
    assert [(p.job, p.crew, p.day) for p in found.placements] == [
        ("long-P1", "x", 0),
        ("long-P2", "y", 1),
    ]
    assert found.value == 90, "the money is saved from the day the last part is done"


def test_the_last_part_decides_whether_the_due_date_is_met() -> None:
    jobs = in_parts(replace(LONG, due_min=200), 100, 100)
    windows = [window("w", 0, 150), window("v", 300, 450)]
    found = plan(week(jobs, windows, [crew("x")], late_share=0.5))
    assert [p.late for p in found.placements] == [False, True]
    assert found.value == 50


def test_a_job_with_no_place_in_parts_is_left_out_once_and_says_what_would_do() -> None:
    # The second window is some 20 min too short for the second part.
    problem = week(TWO, [window("w", 0, 150), window("v", 300, 417)], [crew("x")])
    found = plan(problem)
    [left] = found.left_out
    assert left.job == "long"
    assert "in 2 parts" in left.reason
    assert left.change.window == "v"
    assert _placed_with(problem, "v", int(left.change.amount)) == 2
    assert _placed_with(problem, "v", int(left.change.amount) - 1) == 0


def _placed_with(problem: Problem, name: str, minutes: int) -> int:
    longer = tuple(
        replace(w, end_min=w.end_min + minutes) if w.id == name else w for w in problem.windows
    )
    return len(plan(replace(problem, windows=longer)).placements)


def test_parts_that_remain_of_a_job_begun_are_done_together_or_not_at_all() -> None:
    """The whole job is not offered any more; what is left out goes by its name."""
    both = week(TWO[1:], [window("w", 0, 150), window("v", 300, 450)], [crew("x")])
    assert len(plan(both).placements) == 2
    one = replace(both, windows=both.windows[:1])
    found = plan(one)
    assert found.placements == ()
    assert [left.job for left in found.left_out] == ["long"]
    assert check(one, found) == ()


def test_a_former_plan_in_parts_is_kept_when_keeping_pays() -> None:
    windows = [window("w", 0, 150), window("v", 300, 450), window("u", 500, 690)]
    problem = week(TWO, windows, [crew("x")])
    places = {"long-P1": Former("x", 0, "v", 305), "long-P2": Former("x", 0, "u", 505)}
    kept = replace(problem, keep=Keep(places, crew=5, day=5, window=5, begin=5))
    found = plan(kept)
    assert {p.job: (p.window, p.start_min) for p in found.placements} == {
        "long-P1": ("v", 305),
        "long-P2": ("u", 505),
    }
    assert found.changed == 0
    assert check(kept, found) == ()


def test_a_larger_week_with_some_jobs_in_parts_keeps_every_rule_and_its_bound() -> None:
    problem = make_week(Size(jobs=30, crews=3, days=5), seed=1)
    long = [
        replace(j, work=Duration(520, 100, 0.3), value=tuple(4 * v for v in j.value))
        for j in problem.jobs[:3]
    ]
    offered = [one for j in long for one in in_parts(j, 150, 150, 150)]
    problem = replace(problem, jobs=(*offered, *problem.jobs[3:]))
    found = plan(problem)
    assert check(problem, found) == ()
    assert any("-P" in p.job for p in found.placements)
    assert found.gap is not None
    assert found.gap <= 0.01
    assert found.value >= plan(without_parts(problem)).value


@pytest.fixture
def sound() -> tuple[Problem, Plan]:
    problem = week(TWO, [window("w", 0, 150), window("v", 300, 450)], [crew("x")])
    return problem, plan(problem)


def rules(problem: Problem, found: Plan) -> set[str]:
    return {breach.rule for breach in check(problem, found)}


def test_the_checker_refuses_one_part_without_the_other(sound: tuple[Problem, Plan]) -> None:
    problem, found = sound
    assert {"parts", "zones"} <= rules(problem, replace(found, placements=found.placements[:1]))


def test_the_checker_refuses_a_part_beside_the_whole_job(sound: tuple[Problem, Plan]) -> None:
    problem, found = sound
    again = replace(found.placements[0], job="long")
    wrong = rules(problem, replace(found, placements=(again, *found.placements)))
    assert {"once", "zones"} <= wrong


def test_the_checker_refuses_parts_in_the_wrong_order(sound: tuple[Problem, Plan]) -> None:
    problem, found = sound
    one, two = found.placements
    swapped = (replace(one, job=two.job), replace(two, job=one.job))
    assert "parts" in rules(problem, replace(found, placements=swapped))


def test_the_checker_refuses_a_part_too_long_for_its_window(sound: tuple[Problem, Plan]) -> None:
    problem, found = sound
    assert rules(problem, found) == set()
    short = tuple(replace(w, end_min=w.end_min - 40) for w in problem.windows)
    assert "chance" in rules(replace(problem, windows=short), found)


def test_the_checker_refuses_a_job_that_is_neither_in_the_plan_nor_left_out(
    sound: tuple[Problem, Plan],
) -> None:
    problem, found = sound
    assert "once" in rules(problem, replace(found, placements=()))
    change = plan(replace(problem, windows=())).left_out[0].change
    beside = replace(found, left_out=(LeftOut("long-P1", "no place", change),))
    assert "parts" in rules(problem, beside)


def test_faults_of_parts_are_said() -> None:
    whole, one, two = TWO
    problem = week([whole, one], [window("w", 0, 150)], [crew("x")])
    assert any("in one part" in fault for fault in find_faults(problem))
    worth = replace(problem, jobs=(whole, replace(one, value=(5.0,)), two))
    assert any("only the last part" in fault for fault in find_faults(worth))
    twice = replace(problem, jobs=(whole, one, replace(two, zones=one.zones)))
    assert any("in two of its parts" in fault for fault in find_faults(twice))
    assert any("differ in the zones" in fault for fault in find_faults(twice))
    tied = job("tied", after=("long",))
    with pytest.raises(ProblemError, match="done in parts"):
        plan(replace(problem, jobs=(*TWO, tied)))
