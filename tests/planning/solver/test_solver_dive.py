"""A dive from the relaxation ends in a plan that keeps every row, or says that it found none."""

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from planning.solver.bound import build, relax
from planning.solver.dive import dive
from planning.solver.ready import Ready
from planning.solver.routes import list_routes
from planning.solver.rows import Rows
from planning.solver.stock import enough, used
from tests.planning.solver.brute_force import best_value
from tests.planning.solver.small_weeks import random_week


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000), st.integers(3, 5))
def test_a_dive_ends_in_a_plan_within_its_bound(seed: int, jobs: int) -> None:
    week = random_week(seed, jobs)
    free = tuple(replace(job, after=()) for job in week.jobs)
    ready = Ready(replace(week, jobs=free))
    rows = Rows(ready)
    routes = list_routes(ready, 100_000, lambda: 0.0).routes
    model = build(ready, rows, routes)
    relaxed = relax(model, range(len(routes)), lambda: False)
    found = dive(model, relaxed, lambda: False)
    assert found is not None or not routes
    chosen = [routes[j] for j in found or ()]
    assert rows.keep(chosen)
    assert enough(ready.problem, used(ready, chosen))
    assert sum(route.value for route in chosen) <= best_value(ready.problem) + 1e-6


def test_a_dive_that_is_stopped_says_so() -> None:
    ready = Ready(random_week(1))
    routes = list_routes(ready, 1000, lambda: 0.0).routes
    model = build(ready, Rows(ready), routes)
    relaxed = relax(model, range(len(routes)), lambda: False)
    assert dive(model, relaxed, lambda: True) is None


def test_a_dive_into_no_room_finds_no_plan() -> None:
    ready = Ready(random_week(1))
    routes = list_routes(ready, 1000, lambda: 0.0).routes
    model = build(ready, Rows(ready), routes)
    relaxed = relax(model, range(len(routes)), lambda: False)
    model.must[:] = True
    model.room[:] = np.where(np.arange(len(model.room)) < len(model.crew_rows), 1.0, 0.0)
    assert dive(model, relaxed, lambda: False) is None
