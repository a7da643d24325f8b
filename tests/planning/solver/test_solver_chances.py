"""The chances a plan shows against crews' days run with drawn working times.

With 100,000 draws a chance of 0.95 has a standard error of 0.0007; four of them are 0.0028.
"""

import math
from dataclasses import replace

import pytest

from planning.solver.check_chance import Chances
from planning.solver.plan import Plan
from planning.solver.problem import Duration, Problem
from planning.solver.weeks import Size, make_week
from tests.planning.solver.small_weeks import crew, job, plan, week, window

DRAWS = 100_000


def drawn(problem: Problem, found: Plan) -> dict[str, float]:
    runs = Chances(problem, found, DRAWS, seed=11)
    return {
        p.job: chance
        for _, _, day in runs.days()
        for p, chance in zip(day, runs.chances(day), strict=True)
    }


def error(chance: float) -> float:
    return 4 * math.sqrt(max(chance * (1 - chance), 1 / DRAWS) / DRAWS)


@pytest.mark.parametrize("shared", [0.0, 0.4, 0.8])
def test_three_jobs_in_one_window_show_the_chances_drawn(shared: float) -> None:
    jobs = [
        job(name, 1_000.0 * i, work=Duration(50 + 20 * i, 20.0, shared))
        for i, name in enumerate("abc")
    ]
    problem = week(
        jobs, [window("w", 0, 380)], [crew("x")], setup=Duration(15, 5, shared), chance=0.9
    )
    found = plan(problem)
    assert len(found.placements) == 3
    by_draws = drawn(problem, found)
    for p in found.placements:
        # 0.001 for the fit of the sum itself.
        assert p.chance == pytest.approx(by_draws[p.job], abs=error(by_draws[p.job]) + 0.001)


def test_running_late_in_one_window_lowers_the_chance_in_the_next() -> None:
    # The second job alone has 100 min; after the first it can start late only.
    first, second = job("a", minutes=80), job("b", minutes=60, earliest_min=120)
    second = replace(second, place=replace(second.place, chainage_m=9_000))
    windows = [window("w", 0, 200, to_m=1_000), window("v", 100, 210)]
    problem = week([first, second], windows, [crew("x")], chance=0.8)
    together = {p.job: p.chance for p in plan(problem).placements}
    alone = {p.job: p.chance for p in plan(replace(problem, jobs=(second,))).placements}
    assert set(together) == {"a", "b"}
    assert together["b"] < alone["b"]


def test_no_chance_in_a_full_week_is_shown_higher_than_drawn_or_lower_than_asked() -> None:
    problem = make_week(Size(jobs=30, crews=3, days=3), seed=8)
    found = plan(problem)
    by_draws = drawn(problem, found)
    assert by_draws
    for p in found.placements:
        assert problem.chance <= p.chance <= by_draws[p.job] + error(by_draws[p.job]) + 0.001
