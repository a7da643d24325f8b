"""A week whose jobs wait for one another's: every route listed, as far as there is time.

A route is then more than its jobs and windows (how long it waits, for whose window), so routes are
grown one by one (`routes`). Where there are too many, the best are priced instead, waiting aside.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from planning.solver.bound import Model, Relaxed, build, relax
from planning.solver.columns import Columns
from planning.solver.grow import MOST_BRANCHES, Pricer
from planning.solver.improve import Order
from planning.solver.master import Chosen, choose
from planning.solver.routes import list_routes
from planning.solver.run import Run
from planning.solver.timing import Route
from planning.solver.ways import Week

Name = tuple[int, int, tuple[tuple[int, int, int], ...]]
Pool = dict[Name, Route]

_LISTING_SHARE = 0.4  # of the time: the rest is for the bound, the choice and the explanations
_PRICING_SHARE = 0.6


def choose_listed(
    run: Run, week: Week, start: Sequence[Route], value: float, met: Sequence[Order]
) -> tuple[Chosen, list[Route]]:
    """The choice among the listed routes, from a plan known (none: worth minus infinity)."""
    stop_at = _LISTING_SHARE * run.effort.seconds
    begun = run.spent()
    listing = list_routes(
        run.ready,
        run.effort.routes,
        lambda: (run.spent() - begun) / (stop_at - begun) if begun < stop_at else math.inf,
    )
    run.tell("routes listed")
    pool = {_name(r): r for r in [*start, *listing.routes]}
    if not listing.complete:
        remembered = (week.route(order) for order in met)
        pool |= {_name(r): r for r in remembered if r is not None}
    first = start if value > -math.inf else []
    model, relaxed = _relaxed(run, pool, first, listing.complete, week)
    if listing.complete:
        run.bound = relaxed.bound
    run.tell("bound found")
    numbers = {name: i for i, name in enumerate(pool)}
    columns = [numbers[_name(r)] for r in first]
    chosen = choose(model, relaxed, columns, value, run.left_to_choose, run.effort.seed)
    if listing.complete:
        run.bound = min(relaxed.bound, chosen.bound)
    return chosen, [] if chosen.numbers is None else _picked(pool, chosen.numbers)


def _picked(pool: Pool, numbers: Sequence[int]) -> list[Route]:
    columns = list(pool.values())
    return [columns[j] for j in numbers]


def _relaxed(
    run: Run, pool: Pool, start: Sequence[Route], complete: bool, week: Week
) -> tuple[Model, Relaxed]:
    """The relaxation over the pool; where not every route is listed, the best are priced into it.

    The pool grows by the routes priced, as long as there are any it lacks and there is time.
    """
    columns = Columns(run.ready, run.rows, week)
    pricer = Pricer(run.ready, week, columns)
    while True:
        model = build(run.ready, run.rows, list(pool.values()))
        numbers = {name: i for i, name in enumerate(pool)}
        first = [numbers[_name(r)] for r in start] or range(len(pool))
        relaxed = relax(model, first, lambda: run.left_to_choose() <= 0)
        if complete:
            return model, relaxed
        prices = columns.in_order_of(model.rows, relaxed.prices)
        priced = pricer.price(prices, MOST_BRANCHES, lambda: run.left_to_choose() <= 0)
        if priced is None:
            return model, relaxed
        run.bound = min(priced.bound, priced.bound if run.bound is None else run.bound)
        routes = (week.route(order) for order in priced.orders)
        new = {_name(r): r for r in routes if r is not None and _name(r) not in pool}
        if not new or run.past(_PRICING_SHARE):
            return model, relaxed
        pool |= new


def _name(route: Route) -> Name:
    return route.day, route.ways, route.levels
