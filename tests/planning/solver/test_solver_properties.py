"""What must hold of every plan, whatever the week."""

import subprocess
import sys
from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from planning.solver.check import check
from planning.solver.plan import Progress
from planning.solver.problem import Duration, Lock, ProblemError
from planning.solver.solve import solve
from planning.solver.weeks import Size, make_week
from tests.planning.solver.small_weeks import crew, job, plan, random_week, week, window

seeds = st.integers(0, 100_000)


@settings(max_examples=15, deadline=None)
@given(seeds, st.integers(4, 9), st.integers(1, 2))
def test_every_plan_passes_the_checker_and_stays_under_its_bound(
    seed: int, jobs: int, days: int
) -> None:
    problem = random_week(seed, jobs, days)
    found = plan(problem)
    assert check(problem, found, seed=seed) == ()
    assert found.bound is not None
    assert found.value <= found.bound


@settings(max_examples=15, deadline=None)
@given(seeds, st.integers(0, 500), st.integers(100, 400))
def test_one_more_window_never_lowers_the_best_value(seed: int, start: int, minutes: int) -> None:
    problem = random_week(seed)
    more = replace(problem, windows=(*problem.windows, window("more", start, start + minutes)))
    assert plan(more).value >= plan(problem).value - 1e-6


@settings(max_examples=15, deadline=None)
@given(seeds, st.data())
def test_a_lock_is_kept(seed: int, data: st.DataObject) -> None:
    """Any job of a plan, locked where it is or a little later, stays there in the next plan."""
    problem = random_week(seed)
    before = plan(problem)
    assume(before.placements)
    place = data.draw(st.sampled_from(before.placements))
    lock = Lock(place.crew, place.window, place.start_min + data.draw(st.integers(0, 5)))
    jobs = tuple(replace(j, lock=lock) if j.id == place.job else j for j in problem.jobs)
    locked = replace(problem, jobs=jobs)
    try:
        after = plan(locked)
    except ProblemError:
        assert lock.start_min > place.start_min  # where it was, it can always be kept
        return
    kept = next(p for p in after.placements if p.job == place.job)
    assert Lock(kept.crew, kept.window, kept.start_min) == lock
    assert check(locked, after) == ()


@pytest.mark.parametrize("seed", [1, 2, 8, 9, 14])
def test_a_job_locked_after_one_that_only_its_own_crew_can_do_in_time_keeps_its_place(
    seed: int,
) -> None:
    """In these weeks a job stands right after the one it must follow, in the same crew's day."""
    problem = random_week(seed)
    before = plan(problem)
    follower = next(p for p in before.placements if {j.id: j.after for j in problem.jobs}[p.job])
    lock = Lock(follower.crew, follower.window, follower.start_min)
    jobs = tuple(replace(j, lock=lock) if j.id == follower.job else j for j in problem.jobs)
    locked = replace(problem, jobs=jobs)
    after = plan(locked)
    assert check(locked, after) == ()
    kept = next(p for p in after.placements if p.job == follower.job)
    assert Lock(kept.crew, kept.window, kept.start_min) == lock


@settings(max_examples=5, deadline=None)
@given(seeds)
def test_the_same_seed_gives_the_same_plan(seed: int) -> None:
    problem = random_week(seed, jobs=7)
    one, two = plan(problem, seed=3), plan(problem, seed=3)
    assert one.placements == two.placements
    assert one.left_out == two.left_out


def test_a_full_week_is_proved_within_one_per_cent() -> None:
    problem = make_week(Size(jobs=60, crews=6, days=5), seed=1)
    found = plan(problem)
    assert check(problem, found) == ()
    assert found.gap is not None
    assert found.gap <= 0.01


def test_where_routes_cannot_all_be_listed_pricing_them_proves_the_bound() -> None:
    problem = make_week(Size(jobs=20, crews=2, days=2), seed=5)
    best = plan(problem)
    cut = plan(problem, seconds=0.0002)  # a few hundred looks at the test's clock
    assert best.bound == best.value
    assert cut.bound is not None
    assert best.value <= cut.bound + 1e-6
    assert check(problem, cut) == ()


def test_no_bound_is_claimed_when_there_was_no_time_for_one() -> None:
    problem = make_week(Size(jobs=20, crews=2, days=2), seed=5)
    found = plan(problem, seconds=0.000001)  # one look at the test's clock
    assert found.bound is None
    assert found.gap is None
    assert any("not proved" in note for note in found.notes)
    assert check(problem, found) == ()


def test_a_higher_chance_asked_for_leaves_more_room_in_the_window() -> None:
    # Two jobs of 60 min with spread in 150 min: enough at 80 %, not at 99 %.
    jobs = [job("a"), job("b")]
    problem = week(jobs, [window("w", 0, 150)], [crew("x")])
    assert len(plan(replace(problem, chance=0.8)).placements) == 2
    assert len(plan(replace(problem, chance=0.99)).placements) == 1


def test_a_missed_due_date_counts_its_share_and_is_flagged() -> None:
    late = job("late", value=(80.0,), due_min=50)
    problem = week([late], [window("w", 0, 300)], [crew("x")], late_share=0.25)
    place = plan(problem).placements[0]
    assert place.late
    assert place.value == pytest.approx(20)
    assert not plan(replace(problem, jobs=(replace(late, due_min=60),))).placements[0].late


def test_a_late_job_worth_nothing_is_still_done_where_there_is_room() -> None:
    late = job("late", due_min=10)
    found = plan(week([late], [window("w", 0, 300)], [crew("x")]))
    assert [p.job for p in found.placements] == ["late"]
    assert found.value == 0


def test_jobs_at_one_turnout_share_one_set_up() -> None:
    jobs = [job("a", turnout="t"), job("b", turnout="t"), job("c", 2_000, turnout="u")]
    problem = week(jobs, [window("w", 0, 500)], [crew("x")], setup=Duration(30, 5, 0.3), chance=0.9)
    places = {p.job: p for p in plan(problem).placements}
    set_up = [p for p in places.values() if p.job != "c" and p.setup]
    assert len(set_up) == 1
    assert set_up[0].end_min - set_up[0].start_min == 90
    assert places["c"].setup


def test_turnouts_of_one_site_share_one_set_up_and_those_of_two_do_not() -> None:
    for site, set_ups in (("yard", 1), ("", 2)):
        jobs = [job("a", site=site), job("b", 300, site=site)]
        problem = week(jobs, [window("w", 0, 500)], [crew("x")], setup=Duration(30, 5, 0.3))
        found = plan(problem)
        assert sum(p.setup for p in found.placements) == set_ups
        # Two hours of work, and the crew goes 300 m at 60 km/h in a minute, rounded up.
        assert max(p.end_min for p in found.placements) == 120 + 30 * set_ups + 1
        assert check(problem, found) == ()


def test_a_job_is_done_only_in_a_window_it_may_be_done_in() -> None:
    windows = [window("w", 0, 200), window("v", 300, 500)]
    problem = week([job("a", windows=frozenset({"v"}))], windows, [crew("x")])
    assert [p.window for p in plan(problem).placements] == ["v"]
    none = replace(problem, jobs=(replace(problem.jobs[0], windows=frozenset()),))
    assert plan(none).placements == ()


def test_a_window_that_needs_a_lookout_takes_only_crews_with_one() -> None:
    guarded = replace(window("w", 0, 200), needs=frozenset({"lookout"}))
    for holds, placed in ((frozenset({"weld"}), 0), (frozenset({"weld", "lookout"}), 1)):
        problem = week([job("a")], [guarded], [crew("x", holds={0: holds})])
        assert len(plan(problem).placements) == placed


def test_two_crews_never_hold_one_turnout_in_overlapping_windows() -> None:
    jobs = [job("a", turnout="t", minutes=100), job("b", turnout="t", minutes=100)]
    windows = [window("w", 0, 150), window("v", 100, 300)]
    problem = week(jobs, windows, [crew("x"), crew("y")])
    places = plan(problem).placements
    assert len(places) == 2
    assert len({p.crew for p in places}) == 1


@pytest.mark.parametrize("waits", [False, True])
def test_progress_tells_each_stage_with_value_and_bound(waits: bool) -> None:
    """Routes of jobs that wait for others are listed first; others are priced, then listed."""
    week = random_week(3)
    after = ((), ("J0",)) if waits else ((), ())
    jobs = (replace(week.jobs[0], after=()), replace(week.jobs[1], after=after[1]))
    told: list[Progress] = []
    found = solve(replace(week, jobs=jobs), now=lambda: 0.0, progress=told.append)
    between = ["routes listed", "bound found"] if waits else ["bound found", "routes listed"]
    stages = ["first plan", "searched", *between, "routes chosen", "explained"]
    assert [step.stage for step in told] == stages
    assert [step.value for step in told] == sorted(step.value for step in told)
    assert told[-1].bound == found.bound


def test_a_week_without_crews_or_without_windows_is_planned_and_leaves_all_out() -> None:
    for windows, crews in (([window("w", 0, 300)], []), ([], [crew("x")]), ([], [])):
        found = plan(week([job("a"), job("b")], windows, crews))
        assert {left.job for left in found.left_out} == {"a", "b"}
        assert (found.value, found.bound, found.gap) == (0, 0, 0)


def test_planning_prints_nothing() -> None:
    """In a process of its own: the solver of linear programmes greets once a process."""
    look = (
        "from planning.solver.solve import solve\n"
        "from planning.solver.weeks import Size, make_week\n"
        "solve(make_week(Size(8, 2, 1), 1), now=lambda: 0.0)"
    )
    done = subprocess.run([sys.executable, "-c", look], check=True, capture_output=True)  # noqa: S603
    assert (done.stdout, done.stderr) == (b"", b"")
