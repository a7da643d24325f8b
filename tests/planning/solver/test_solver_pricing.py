"""Routes priced instead of listed: the bound, the routes near it, and the columns made of them."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planning.solver.bound import build, relax
from planning.solver.columns import Columns
from planning.solver.grow import FEW_BRANCHES, MOST_BRANCHES, Priced, Pricer
from planning.solver.improve import Improver
from planning.solver.problem import Former, Keep, Problem
from planning.solver.ready import Ready
from planning.solver.routes import list_routes
from planning.solver.rows import Rows
from planning.solver.solve import Effort, solve
from planning.solver.ways import Week
from planning.solver.weeks import Size, make_week
from tests.planning.solver.brute_force import best_value
from tests.planning.solver.small_weeks import plan, random_week

seeds = st.integers(0, 10_000)


def priced_week(problem: Problem) -> tuple[Ready, Rows, Week, Columns, Pricer]:
    ready = Ready(problem)
    rows = Rows(ready)
    week = Week(ready, rows)
    columns = Columns(ready, rows, week)
    return ready, rows, week, columns, Pricer(ready, week, columns)


def free_of_ties(problem: Problem, chance: float = 0.95) -> Problem:
    """The same jobs, none waiting for another, worth something when late, with enough material."""
    jobs = tuple(replace(job, after=(), material={}) for job in problem.jobs)
    return replace(problem, jobs=jobs, late_share=0.5, chance=chance)


def price(pricer: Pricer, prices: np.ndarray, branches: int = MOST_BRANCHES) -> Priced:
    found = pricer.price(prices, branches, lambda: False)
    assert found is not None
    return found


@settings(max_examples=20, deadline=None)
@given(seeds, seeds, st.sampled_from([1, 5, FEW_BRANCHES, MOST_BRANCHES]))
def test_priced_routes_never_bound_below_the_best_plan(
    seed: int, prices: int, branches: int
) -> None:
    """At any prices at all, not only at those of the relaxation, and however few branches."""
    ready, _, _, columns, pricer = priced_week(random_week(seed, jobs=4))
    drawn = np.random.default_rng(prices).uniform(-20, 80, len(columns.room))
    best = best_value(ready.problem)
    for given_prices in (drawn, np.zeros(len(columns.room))):
        assert price(pricer, given_prices, branches).bound >= best - 1e-6


@settings(max_examples=20, deadline=None)
@given(seeds, st.integers(3, 6), st.sampled_from([0.8, 0.95, 0.99]))
def test_routes_near_are_all_that_listing_finds_when_all_are_near(
    seed: int, jobs: int, chance: float
) -> None:
    """One program grows routes by the rules, the other walks them compiled, the gap endless."""
    ready, _, week, columns, pricer = priced_week(free_of_ties(random_week(seed, jobs), chance))
    none = price(pricer, np.zeros(len(columns.room)))
    near = pricer.near(none, 1e6, 10_000, lambda: False)
    assert near is not None
    routes = [week.route(order) for order in near]
    walked = {(r.day, r.ways): r.value for r in routes if r is not None}
    grown = list_routes(ready, 100_000, lambda: 0.0)
    listed: dict[tuple[int, int], float] = {}
    for route in grown.routes:
        name = (route.day, route.ways)
        listed[name] = max(route.value, listed.get(name, 0.0))
    assert grown.complete
    assert len(walked) == len(near)
    assert walked == pytest.approx(listed)


@settings(max_examples=20, deadline=None)
@given(seeds, seeds, st.floats(1, 80))
def test_routes_near_leave_out_none_within_the_gap(seed: int, prices: int, gap: float) -> None:
    """Also those with a visit that costs more than it is worth."""
    ready, rows, week, columns, pricer = priced_week(free_of_ties(random_week(seed, 5)))
    found = price(pricer, np.random.default_rng(prices).uniform(0, 150, len(columns.room)))
    near = pricer.near(found, gap, 10_000, lambda: False)
    assert near is not None
    listed = {(r.day, r.ways) for order in near if (r := week.route(order)) is not None}
    grown = list_routes(ready, 100_000, lambda: 0.0).routes
    model = build(ready, rows, grown)
    at = {row: i for i, row in enumerate(columns.rows)}
    worth = model.value - model.matrix.T @ found.prices[[at[row] for row in model.rows]]
    for route, value in zip(grown, worth, strict=True):
        if value > found.best[route.day] - gap:
            assert (route.day, route.ways) in listed


@settings(max_examples=10, deadline=None)
@given(seeds)
def test_columns_of_routes_are_those_of_the_rules(seed: int) -> None:
    """What each route takes of each row is the same without and with being timed again."""
    ready, rows, week, columns, _ = priced_week(random_week(seed, jobs=6))
    search = Improver(week.visits, seed)
    search.start(lambda: False)
    search.improve(lambda: False, 300)
    orders = list(search.met)
    routes = [route for order in orders if (route := week.route(order)) is not None]
    assert len(routes) == len(orders)
    ours, theirs = columns.model(orders), build(ready, rows, routes)
    at = {row: i for i, row in enumerate(ours.rows)}
    place = [at[row] for row in theirs.rows]
    assert (ours.matrix[place, :] - theirs.matrix).count_nonzero() == 0
    assert ours.matrix.count_nonzero() == theirs.matrix.count_nonzero()
    assert ours.room[place].tolist() == theirs.room.tolist()
    # The search may hold a visit for late that is in time; never the other way.
    assert (ours.value <= theirs.value + 1e-6).all()


def test_pricing_from_a_few_routes_ends_where_listing_them_all_does() -> None:
    problem = replace(make_week(Size(jobs=16, crews=2, days=2), seed=3), depot_stock={"wire": 1e6})
    ready, rows, week, columns, pricer = priced_week(problem)
    every = list_routes(ready, 200_000, lambda: 0.0)
    assert every.complete
    whole = relax(build(ready, rows, every.routes), range(len(every.routes)), lambda: False)
    pool = [order for r in every.routes if len(r.steps) == 1 and (order := week.order(r))]
    bounds = []
    while True:
        relaxed = relax(columns.model(pool), range(len(pool)), lambda: False)
        found = price(pricer, relaxed.prices)
        bounds.append(found.bound)
        new = [order for order in found.orders if order not in pool]
        if not new:
            break
        pool += new
    assert found.whole
    assert min(bounds) == pytest.approx(whole.bound)


def test_fewer_branches_are_said_to_be_not_all() -> None:
    _, _, _, columns, pricer = priced_week(random_week(2, jobs=6))
    none = np.zeros(len(columns.room))
    assert price(pricer, none).whole
    assert not price(pricer, none, branches=1).whole
    assert price(pricer, none, branches=1).bound >= price(pricer, none).bound


def test_too_many_routes_near_are_said_to_be_too_many() -> None:
    _, _, _, columns, pricer = priced_week(random_week(2, jobs=6))
    none = price(pricer, np.zeros(len(columns.room)))
    near = pricer.near(none, 1e6, 1000, lambda: False)
    assert near is not None
    fullest = max(sum(day == d for day, _ in near) for d in range(2))
    assert pricer.near(none, 1e6, fullest - 1, lambda: False) is None


def test_a_stopped_pricing_claims_no_bound() -> None:
    _, _, _, columns, pricer = priced_week(random_week(1))
    assert pricer.price(np.zeros(len(columns.room)), MOST_BRANCHES, lambda: True) is None


@settings(max_examples=10, deadline=None)
@given(seeds, st.integers(1, 4))
def test_a_week_short_of_room_for_routes_still_bounds_its_best_plan(seed: int, most: int) -> None:
    problem = free_of_ties(random_week(seed, jobs=5))
    before = plan(problem)
    kept = {p.job: Former(p.crew, p.day, p.window, p.start_min + 7) for p in before.placements}
    asked = replace(problem, keep=Keep(kept, 4.0, 3.0, 2.0, 1.0))
    found = solve(asked, now=lambda: 0.0, effort=Effort(60, routes=most))
    best = best_value(asked) - 10.0 * len(kept)
    assert found.bound is not None
    assert found.net - 1e-6 <= best <= found.bound + 1e-6
