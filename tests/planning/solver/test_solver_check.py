"""The checker finds each kind of breach when it is planted in a plan that keeps all the rules."""

import subprocess
import sys
from dataclasses import replace

import pytest

from planning.solver.check import check
from planning.solver.plan import Load, Placement, Plan
from planning.solver.problem import Duration, Lock, Problem, Shift, Truck
from tests.planning.solver.small_weeks import crew, job, plan, week, window

PROBLEM = week(
    [
        job("a", 1_000, needs=frozenset({"weld"}), material={"wire": 2.0}, value=(90.0,)),
        job("b", 1_000, turnout="at a", due_min=700),
        job("c", 9_000, earliest_min=300, after=("a",)),
        job("d", 40_000, lock=Lock("y", "v", 330)),
    ],
    [window("w", 0, 280), window("v", 280, 600, gangs=2)],
    [crew("x", truck="T"), crew("y", 40_000)],
    trucks=(Truck("T", 20.0, {"wire": 1.0}),),
    depot_stock={"wire": 5.0},
    setup=Duration(10, 2, 0.3),
)
GOOD = plan(PROBLEM)


def place(name: str) -> Placement:
    return next(p for p in GOOD.placements if p.job == name)


def with_place(name: str, **more: object) -> Plan:
    """The good plan with one placement changed."""
    changed = tuple(
        replace(p, **more) if p.job == name else p  # type: ignore[arg-type]
        for p in GOOD.placements
    )
    return replace(GOOD, placements=changed)


def rules(found: Plan, problem: Problem = PROBLEM) -> set[str]:
    return {breach.rule for breach in check(problem, found)}


def with_jobs(name: str, **more: object) -> Problem:
    jobs = tuple(
        replace(j, **more) if j.id == name else j  # type: ignore[arg-type]
        for j in PROBLEM.jobs
    )
    return replace(PROBLEM, jobs=jobs)


def test_the_plan_as_made_keeps_every_rule() -> None:
    assert {p.job for p in GOOD.placements} == {"a", "b", "c", "d"}
    assert check(PROBLEM, GOOD) == ()


def test_the_checker_loads_no_code_that_makes_plans() -> None:
    makers = ("routes", "search", "bound", "master", "solve", "timing", "ready", "rows")
    look = (
        "import sys, planning.solver.check\n"
        f"made = [m for m in {makers} if 'planning.solver.' + m in sys.modules]\n"
        "sys.exit('highspy' in sys.modules or bool(made))"
    )
    done = subprocess.run([sys.executable, "-c", look], check=False)  # noqa: S603
    assert done.returncode == 0


def test_unknown_crew_is_found() -> None:
    assert rules(with_place("a", crew="nobody")) == {"names"}


def test_another_crews_truck_is_found() -> None:
    assert rules(with_place("a", truck="U")) == {"names"}


def test_job_placed_twice_is_found() -> None:
    assert "once" in rules(replace(GOOD, placements=(*GOOD.placements, place("d"))))


def test_job_forgotten_is_found() -> None:
    fewer = tuple(p for p in GOOD.placements if p.job != "b")
    assert "once" in rules(replace(GOOD, placements=fewer))


def test_work_past_the_windows_end_is_found() -> None:
    assert "window" in rules(with_place("b", end_min=281))


def test_work_before_the_windows_start_is_found() -> None:
    first = place("c")
    early = {"start_min": 279, "end_min": first.end_min - first.start_min + 279}
    assert "window" in rules(with_place("c", **early))


def test_window_that_does_not_cover_the_turnout_is_found() -> None:
    short = replace(PROBLEM, windows=(replace(PROBLEM.windows[0], to_m=999), PROBLEM.windows[1]))
    assert "window" in rules(GOOD, short)


def test_window_that_the_job_may_not_be_done_in_is_found() -> None:
    assert rules(GOOD, with_jobs("a", windows=frozenset({"w"}))) == set()
    assert rules(GOOD, with_jobs("a", windows=frozenset({"v"}))) == {"window"}


def test_start_before_the_earliest_minute_is_found() -> None:
    assert rules(GOOD, with_jobs("c", earliest_min=place("c").start_min + 1)) >= {"earliest"}


def test_missing_qualification_is_found() -> None:
    assert rules(GOOD, with_jobs("a", needs=frozenset({"guard"}))) == {"qualified"}


def test_qualification_of_another_day_does_not_count() -> None:
    another = replace(PROBLEM.crews[0], holds={1: frozenset({"weld"})})
    assert rules(GOOD, replace(PROBLEM, crews=(another, PROBLEM.crews[1]))) == {"qualified"}


def test_a_crew_without_the_lookout_its_track_time_needs_is_found() -> None:
    guarded = replace(PROBLEM.windows[1], needs=frozenset({"lookout"}))
    problem = replace(PROBLEM, windows=(PROBLEM.windows[0], guarded))
    assert rules(GOOD, problem) == {"qualified"}
    holds = {0: frozenset({"weld", "lookout"})}
    crews = tuple(replace(one, holds=holds) for one in PROBLEM.crews)
    assert rules(GOOD, replace(problem, crews=crews)) == set()


def test_a_rest_a_minute_too_short_is_found() -> None:
    jobs = [job("a", value=(1.0, 9.0), lock=Lock("x", "w", 0)), job("b", value=(1.0, 9.0))]
    two = crew("x", shifts=(Shift(0, 300, 0), Shift(780, 1000, 1)))
    problem = week(jobs, [window("w", 0, 200), window("v", 780, 1000)], [two])
    found = plan(problem)
    assert {p.window for p in found.placements} == {"w", "v"}
    assert rules(found, replace(problem, rest_min=480)) == set()
    assert rules(found, replace(problem, rest_min=481)) == {"rest"}


def test_a_second_set_up_at_the_same_site_is_found() -> None:
    near = replace(
        PROBLEM, jobs=tuple(replace(j, site="yard") if j.id in "ab" else j for j in PROBLEM.jobs)
    )
    assert rules(GOOD, near) == set()  # a and b are at one turnout as it is
    apart = replace(near, jobs=tuple(replace(j, site=j.id) for j in near.jobs))
    assert rules(GOOD, apart) == {"working time"}


def test_too_little_travel_is_found() -> None:
    assert "travel" in rules(with_place("c", start_min=place("b").end_min + 1))


def test_wrong_travel_shown_is_found() -> None:
    assert rules(with_place("c", travel_from="d")) == {"travel"}


def test_work_outside_the_shift_is_found() -> None:
    shorter = replace(PROBLEM.crews[1].shifts[0], end_min=place("d").end_min - 1)
    crews = (PROBLEM.crews[0], replace(PROBLEM.crews[1], shifts=(shorter,)))
    assert rules(GOOD, replace(PROBLEM, crews=crews)) >= {"shift"}


def test_way_back_past_the_end_of_the_shift_is_found() -> None:
    # d is at y's base, so the crew is back when it is done; 10 km away it is back 10 min later.
    d = place("d")
    shift = replace(PROBLEM.crews[1].shifts[0], end_min=d.end_min + 9)
    base = replace(PROBLEM.crews[1].base, chainage_m=30_000)
    crews = (PROBLEM.crews[0], replace(PROBLEM.crews[1], shifts=(shift,), base=base))
    found = replace(PROBLEM, crews=crews)
    assert "shift" in rules(GOOD, found)
    longer = replace(shift, end_min=d.end_min + 10)
    crews = (PROBLEM.crews[0], replace(crews[1], shifts=(longer,)))
    assert "shift" not in rules(GOOD, replace(found, crews=crews))


def test_too_little_working_time_is_found() -> None:
    assert "working time" in rules(with_place("a", end_min=place("a").end_min - 1))


def test_missing_set_up_is_found() -> None:
    assert rules(with_place("a", setup=not place("a").setup)) == {"working time"}


def test_too_many_gangs_in_a_window_are_found() -> None:
    one = replace(PROBLEM.windows[1], gangs=1)
    assert rules(GOOD, replace(PROBLEM, windows=(PROBLEM.windows[0], one))) == {"gangs"}


def test_two_crews_at_one_turnout_are_found() -> None:
    assert "turnout" in rules(GOOD, with_jobs("d", turnout="at c"))


def test_job_before_the_one_it_must_follow_is_found() -> None:
    assert rules(GOOD, with_jobs("a", after=("c",))) == {"after"}


def test_job_whose_first_job_is_left_out_is_found() -> None:
    out = replace(GOOD, placements=tuple(p for p in GOOD.placements if p.job != "a"))
    assert "after" in rules(out)


def test_moved_lock_is_found() -> None:
    d = place("d")
    moved = {"start_min": d.start_min + 1, "end_min": d.end_min + 1}
    assert rules(with_place("d", **moved)) == {"lock"}


def test_material_for_a_crew_without_a_truck_is_found() -> None:
    assert "material" in rules(GOOD, with_jobs("d", material={"wire": 1.0}))


def test_more_than_the_depot_has_is_found() -> None:
    assert rules(GOOD, replace(PROBLEM, depot_stock={"wire": 0.9})) == {"material"}


def test_wrong_load_is_found() -> None:
    assert GOOD.loads == (Load("T", "wire", 2.0, 1.0),)
    assert rules(replace(GOOD, loads=(Load("T", "wire", 2.0, 2.0),))) == {"load"}
    assert rules(replace(GOOD, loads=())) == {"load"}


def test_truck_over_its_capacity_is_found() -> None:
    heavy = replace(PROBLEM, item_kg={"wire": 11.0})
    assert rules(GOOD, heavy) == {"capacity"}


def test_wrong_money_for_a_job_is_found() -> None:
    assert rules(with_place("a", value=91.0)) == {"value"}


def test_value_counted_for_a_late_job_is_found() -> None:
    assert rules(GOOD, with_jobs("b", due_min=place("b").end_min)) == set()
    assert rules(GOOD, with_jobs("b", due_min=place("b").end_min - 1)) == {"value"}


def test_wrong_total_is_found() -> None:
    assert GOOD.bound is not None
    assert "value" in rules(replace(GOOD, value=GOOD.value - 1))


def test_bound_below_the_plan_is_found() -> None:
    assert rules(replace(GOOD, bound=GOOD.value - 1, gap=-1 / (GOOD.value - 1))) == {"bound"}


def test_wrong_gap_is_found() -> None:
    assert rules(replace(GOOD, gap=0.01)) == {"bound"}
    assert rules(replace(GOOD, bound=None)) == {"bound"}


def test_chance_below_the_one_asked_for_is_found() -> None:
    # b is done second in its window, so it has the lower chance there.
    asked = replace(PROBLEM, chance=min(1 - 1e-9, place("b").chance + 1e-6))
    assert rules(GOOD, asked) >= {"chance"}


def test_work_that_really_takes_too_long_is_found_by_drawing_times() -> None:
    # A standard deviation of 60 min instead of 12: the plan's own chances no longer count.
    wild = with_jobs("b", work=Duration(60, 60, 0.3))
    chances = [b for b in check(wild, GOOD) if b.rule == "chance"]
    assert any("it is" in b.sentence or "is in time" in b.sentence for b in chances)


@pytest.mark.parametrize("name", ["a", "b", "c", "d"])
def test_chance_shown_is_the_chance_drawn_when_nobody_waits(name: str) -> None:
    # Too high by more than four standard errors of 20,000 draws (0.006 at 0.95) is a breach.
    tight = replace(
        GOOD,
        placements=tuple(
            replace(p, chance=1.0 if p.job == name else p.chance) for p in GOOD.placements
        ),
    )
    wild = replace(
        PROBLEM, jobs=tuple(replace(j, work=replace(j.work, sd_min=50.0)) for j in PROBLEM.jobs)
    )
    assert any(b.about == name for b in check(wild, tight) if b.rule == "chance")


def test_wrong_chance_of_a_window_is_found() -> None:
    assert rules(replace(GOOD, window_chance={"w": 0.5})) == {"chance"}
