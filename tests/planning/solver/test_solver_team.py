"""Public instances and weeks go through one search; here it meets brute force and its own rules."""

import random
from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planning.solver.bound import build, relax
from planning.solver.grow import Pricer
from planning.solver.improve import Improver
from planning.solver.instances import Instance
from planning.solver.ready import Ready
from planning.solver.routes import list_routes
from planning.solver.rows import Rows
from planning.solver.team import plan_tours
from planning.solver.ways import Week
from planning.solver.weeks import Size, make_week
from tests.planning.solver.brute_force import best_value
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


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 10_000))
def test_priced_routes_never_bound_below_the_best_plan(seed: int, prices: int) -> None:
    """At any prices at all, not only at those of the relaxation."""
    ready = Ready(random_week(seed, jobs=4))
    rows = Rows(ready)
    model = build(ready, rows, list_routes(ready, 10_000, lambda: 0.0).routes)
    drawn = np.random.default_rng(prices).uniform(-20, 80, len(model.room))
    pricer = Pricer(ready, rows, Week(ready, rows))
    best = best_value(ready.problem)
    for price in (drawn, np.zeros(len(model.room))):
        bound = pricer.bound(model, price, lambda: False)
        assert bound is not None
        assert bound >= best - 1e-6


def test_pricing_from_a_few_routes_comes_close_to_listing_them_all() -> None:
    problem = replace(make_week(Size(jobs=16, crews=2, days=2), seed=3), depot_stock={"wire": 1e6})
    ready = Ready(problem)
    rows = Rows(ready)
    every = list_routes(ready, 200_000, lambda: 0.0)
    assert every.complete
    whole = relax(build(ready, rows, every.routes), range(len(every.routes)), lambda: False)
    pricer = Pricer(ready, rows, Week(ready, rows))
    pool = {(r.day, r.ways): r for r in every.routes if len(r.steps) == 1}
    while True:
        model = build(ready, rows, list(pool.values()))
        relaxed = relax(model, range(len(pool)), lambda: False)
        new = {(r.day, r.ways): r for r in pricer.routes(model, relaxed.prices, lambda: False)}
        if not new.keys() - pool.keys():
            break
        pool |= new
    bound = pricer.bound(model, relaxed.prices, lambda: False)
    assert bound is not None
    assert whole.bound - 1e-6 <= bound <= 1.05 * whole.bound


def test_a_stopped_pricing_claims_no_bound() -> None:
    ready = Ready(random_week(1))
    rows = Rows(ready)
    model = build(ready, rows, list_routes(ready, 1000, lambda: 0.0).routes)
    pricer = Pricer(ready, rows, Week(ready, rows))
    assert pricer.bound(model, np.zeros(len(model.room)), lambda: True) is None
