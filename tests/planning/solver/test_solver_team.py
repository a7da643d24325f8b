"""Public instances and weeks go through one search; here it meets brute force and its own rules."""

import random
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planning.solver.improve import Improver
from planning.solver.instances import Instance
from planning.solver.ready import Ready
from planning.solver.rows import Rows
from planning.solver.team import plan_tours
from planning.solver.ways import Week
from tests.planning.solver.small_weeks import random_week

TICK = 0.02


def an_instance(seed: int, visits: int) -> Instance:
    draw = random.Random(seed)
    place = np.array([[draw.randrange(60), draw.randrange(60)] for _ in range(visits + 1)])
    apart = np.hypot(*(place[:, None] - place[None]).transpose(2, 0, 1))
    opens = np.array([0, *(draw.randrange(0, 1200) for _ in range(visits))], dtype=np.int64)
    wide = np.array([2000, *(draw.randrange(100, 900) for _ in range(visits))], dtype=np.int64)
    service = [0, *(draw.randrange(10, 200) for _ in range(visits))]
    return Instance(
        name="drawn",
        scale=10,
        travel=np.floor(apart * 10).astype(np.int64),
        service=np.array(service, dtype=np.int64),
        score=(0.0, *(float(draw.randrange(1, 40)) for _ in range(visits))),
        opens=opens,
        closes=opens + wide,
    )


def best_score(instance: Instance, routes: int) -> float:
    """By every order of every choice of visits, one route after another."""
    rows = range(1, len(instance.score))
    worth: dict[frozenset[int], float] = {frozenset(): 0.0}
    for length in rows:
        for order in permutations(rows, length):
            if frozenset(order) in worth:
                continue
            try:
                worth[frozenset(order)] = instance.scored([order], 1)
            except ValueError:
                continue
    if routes == 1:
        return max(worth.values())
    return max(worth[a] + worth[b] for a in worth for b in worth if not a & b)


def tours(instance: Instance, routes: int, seed: int = 1) -> tuple[tuple[int, ...], ...]:
    ticks = iter(range(100_000))
    visits = instance.visits(routes)
    found = plan_tours(visits, seconds=1.0, seed=seed, now=lambda: TICK * next(ticks))
    return tuple(tuple(visit + 1 for visit in tour) for tour in found.routes)


@pytest.mark.parametrize("routes", [1, 2])
@pytest.mark.parametrize("seed", range(6))
def test_a_tiny_instance_is_solved_as_well_as_by_trying_everything(seed: int, routes: int) -> None:
    instance = an_instance(seed, 6)
    found = tours(instance, routes)
    assert instance.scored(found, routes) == best_score(instance, routes)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000), st.integers(1, 25), st.integers(1, 4))
def test_tours_keep_every_rule_and_repeat_for_a_seed(seed: int, visits: int, routes: int) -> None:
    instance = an_instance(seed, visits)
    found = tours(instance, routes)
    assert instance.scored(found, routes) >= max(
        (instance.scored([tour], 1) for tour in found), default=0.0
    )
    assert found == tours(instance, routes)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000), st.integers(4, 9))
def test_every_route_the_search_meets_is_one_the_week_allows(seed: int, jobs: int) -> None:
    ready = Ready(random_week(seed, jobs))
    rows = Rows(ready)
    week = Week(ready, rows)
    search = Improver(week.visits, seed)
    search.start(lambda: False)
    search.improve(lambda: False, 500)
    found = [week.route(order) for order in search.routes]
    assert None not in [week.route(order) for order in search.met]
    routes = [route for route in found if route is not None]
    assert len(routes) == len(found)
    assert rows.keep(routes)
    assert sum(route.value for route in routes) >= search.value - 1e-6
