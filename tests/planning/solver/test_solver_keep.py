"""What changes against a former plan is priced: the plan is best with its changes paid for."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planning.solver.check import check
from planning.solver.plan import Plan
from planning.solver.problem import Former, Keep, Lock, Problem
from tests.planning.solver.brute_force import best_value
from tests.planning.solver.small_weeks import crew, job, plan, random_week, week, window

seeds = st.integers(0, 100_000)


def former(found: Plan) -> dict[str, Former]:
    return {p.job: Former(p.crew, p.day, p.window, p.start_min) for p in found.placements}


def less_time(problem: Problem, minutes: int) -> Problem:
    """The same week with its first window shorter at both ends."""
    one = problem.windows[0]
    shorter = replace(one, start_min=one.start_min + minutes, end_min=one.end_min - minutes)
    return replace(problem, windows=(shorter, *problem.windows[1:]))


def kept(problem: Problem, found: Plan, *prices: float) -> Problem:
    return replace(problem, keep=Keep(former(found), *prices))


@pytest.mark.parametrize("seed", range(12))
def test_plan_less_its_changes_is_the_best_of_all_plans(seed: int) -> None:
    first = random_week(seed, jobs=4)
    asked = kept(less_time(first, 20), plan(first), 9.0, 7.0, 5.0, 3.0)
    found = plan(asked)
    all_changed = 24.0 * len(asked.keep.places) if asked.keep else 0.0
    assert found.net == pytest.approx(best_value(asked) - all_changed)
    assert found.bound == pytest.approx(found.net)
    assert check(asked, found) == ()


@settings(max_examples=10, deadline=None)
@given(seeds)
def test_a_former_plan_that_still_can_be_is_kept_whole_when_change_is_dear(seed: int) -> None:
    problem = random_week(seed, jobs=6)
    before = plan(problem)
    after = plan(kept(replace(problem, chance=problem.chance - 0.1), before, 1e4, 1e4, 1e4, 1e4))
    assert former(after).items() >= former(before).items()
    assert after.changed == 0


@settings(max_examples=10, deadline=None)
@given(seeds, st.floats(0, 40), st.floats(0, 40))
def test_a_higher_price_of_change_never_buys_more_value_or_more_change(
    seed: int, low: float, more: float
) -> None:
    """With one price p for each change, the best plan's value and its changes fall as p rises."""
    first = random_week(seed, jobs=5)
    before, changed = plan(first), less_time(first, 25)
    free = plan(changed)
    cheap, dear = (plan(kept(changed, before, p, p, p, p)) for p in (low, low + more))
    assert dear.net <= cheap.net + 1e-6
    assert dear.value <= free.value + 1e-6
    if low > 0 and more > 1:
        assert dear.changed / (low + more) <= cheap.changed / low + 1e-6


def two_crews() -> tuple[Problem, Plan]:
    """One job either crew could do; the former plan gives it to y, 60 minutes after its window."""
    problem = week([job("a")], [window("w", 0, 300)], [crew("x"), crew("y")])
    found = plan(problem)
    place = replace(found.placements[0], crew="y", start_min=60, end_min=120)
    return problem, replace(found, placements=(place,))


def test_a_former_begin_is_kept_though_the_crew_could_start_before() -> None:
    problem, before = two_crews()
    place = plan(kept(problem, before, 1.0, 1.0, 1.0, 1.0)).placements[0]
    assert (place.crew, place.start_min) == ("y", 60)


@pytest.mark.parametrize(
    ("gone", "paid"),
    # Where crew, day or window cannot be as they were, neither can the begin there (8).
    [({"crew": "z"}, 1.0 + 8.0), ({"day": 1}, 2.0 + 8.0), ({"window": "v"}, 4.0 + 8.0)],
)
def test_each_kind_of_change_is_paid_for(gone: dict[str, object], paid: float) -> None:
    problem, before = two_crews()
    place = replace(former(before)["a"], **gone)  # type: ignore[arg-type]
    asked = replace(problem, keep=Keep({"a": place}, 1.0, 2.0, 4.0, 8.0))
    found = plan(asked)
    assert found.changed == paid
    assert found.net == found.bound == 100 - paid
    assert check(asked, found) == ()


def test_a_begin_that_can_no_longer_be_is_paid_for_alone() -> None:
    problem, before = two_crews()
    place = replace(former(before)["a"], start_min=290)  # the window ends at 300
    found = plan(replace(problem, keep=Keep({"a": place}, 1.0, 2.0, 4.0, 8.0)))
    assert (found.placements[0].crew, found.changed) == ("y", 8.0)


def test_a_job_left_out_costs_all_four() -> None:
    problem, before = two_crews()
    asked = replace(
        problem, windows=(window("w", 0, 30),), keep=Keep(former(before), 1.0, 2.0, 4.0, 8.0)
    )
    found = plan(asked)
    assert (found.value, found.changed, found.net) == (0, 15, -15)
    assert check(asked, found) == ()


def test_a_lock_goes_before_the_former_place() -> None:
    problem, before = two_crews()
    locked = replace(problem.jobs[0], lock=Lock("x", "w", 5))
    asked = replace(problem, jobs=(locked,), keep=Keep(former(before), 1.0, 2.0, 4.0, 8.0))
    found = plan(asked)
    assert (found.placements[0].crew, found.changed) == ("x", 9.0)


def test_changes_counted_wrongly_are_found() -> None:
    problem, before = two_crews()
    found = replace(before, value=100.0, bound=None, gap=None)
    asked = kept(problem, before, 1.0, 1.0, 1.0, 1.0)
    assert "changed" not in {breach.rule for breach in check(asked, found)}
    assert "changed" in {breach.rule for breach in check(asked, replace(found, changed=1.0))}
    moved = replace(found, placements=(replace(found.placements[0], start_min=61, end_min=121),))
    assert "changed" in {breach.rule for breach in check(asked, moved)}
