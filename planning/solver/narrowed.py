"""A week of jobs that wait for no other: prices first, then every route near enough to them.

Routes are priced until none is lacking; that gives the bound. A choice among those met lifts the
plan, and the gap between the two says which routes may be in a better plan: all of them are listed
and chosen among, which proves the plan best unless time or room runs out (after the enumeration of
Baldacci, Christofides and Mingozzi 2008).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from planning.solver.bound import Model, Relaxed, relax
from planning.solver.columns import Columns
from planning.solver.dive import dive
from planning.solver.grow import FEW_BRANCHES, MOST_BRANCHES, Priced, Pricer
from planning.solver.improve import Improver, Order
from planning.solver.master import Chosen, choose
from planning.solver.run import Run
from planning.solver.timing import Route
from planning.solver.ways import Week

_ROUGH_SHARE = 0.35  # of the time: then every branch is looked into, for a bound worth having
_PRICING_SHARE = 0.5
_LIFT_SHARE = 0.6
_POOL_SHARE = 0.65
_NEAR_SHARE = 0.75
_EVEN_SHARES = 3  # a crew-day may list this many times its even share of the most
_FEW_NEW = 20  # routes: with fewer in a round, more branches are tried
_WIDE = 0.002  # of the bound: a gap so small is best closed by listing what lies in it
_LIFT_ROUNDS = 3000
_LIFT_HEAT = 0.05  # in mean values of a job
_MORE_BRANCHES = 30
_CLOSE = 2e-5  # of the bound: what is left of the gap is for the choice to close
_LITTLE = 1e-6


@dataclass
class _State:
    """The best plan so far as orders, what it is worth, and what cannot be exceeded."""

    orders: list[Order]
    value: float


def choose_narrowed(
    run: Run, week: Week, start: Sequence[Order], value: float, improver: Improver
) -> list[Route] | None:
    """The best plan found, from a plan known (none: worth minus infinity); None when none is.

    `improver` is the search that found it; what it has met is made use of, and it goes on.
    """
    columns = Columns(run.ready, run.rows, week)
    pricer = Pricer(run.ready, week, columns)
    pool = dict.fromkeys([*start, *improver.met])
    state = _State(list(start), value)
    model, relaxed, priced = _converge(run, columns, pricer, pool, state)
    run.bound = None if priced is None else priced.bound
    run.tell("bound found")
    taken = dive(model, relaxed, lambda: run.past(_POOL_SHARE))
    if taken is not None:
        orders = list(pool)
        _take(week, state, [orders[j] for j in taken])
    if priced is not None and priced.bound - state.value > _WIDE * abs(priced.bound):
        _lift(run, week, columns, improver, pool, state)
    run.value = max(run.value, state.value)
    near, outside = _near(run, pricer, priced, state)
    run.tell("routes listed")
    if near is not None:
        listed = list(dict.fromkeys([*near, *state.orders]))
        model = columns.model(listed)
        relaxed = _relax(run, model, listed, state)
        chosen = _choose(run, week, listed, model, relaxed, state, 1.0)
        run.bound = min(run.bound or math.inf, max(chosen.bound, outside, state.value))
    if state.value == -math.inf:
        return None
    return [route for order in state.orders if (route := week.route(order)) is not None]


def _converge(
    run: Run, columns: Columns, pricer: Pricer, pool: dict[Order, None], state: _State
) -> tuple[Model, Relaxed, Priced | None]:
    """Price routes into the pool until none is lacking; the best bound met, with its prices."""
    best: Priced | None = None
    branches = FEW_BRANCHES
    while True:
        orders = list(pool)
        model = columns.model(orders)
        relaxed = _relax(run, model, orders, state)
        priced = pricer.price(relaxed.prices, branches, lambda: run.left_to_choose() <= 0)
        if priced is None:
            return model, relaxed, best
        if best is None or priced.bound < best.bound:
            best = priced
        new = [order for order in priced.orders if order not in pool]
        close = best.bound - relaxed.bound < _CLOSE * abs(best.bound)
        if close or run.past(_PRICING_SHARE) or (not new and priced.whole):
            return model, relaxed, best
        pool.update(dict.fromkeys(new))
        if run.past(_ROUGH_SHARE):
            branches = MOST_BRANCHES
        elif len(new) < _FEW_NEW:
            branches = min(branches * _MORE_BRANCHES, MOST_BRANCHES)


def _take(week: Week, state: _State, orders: list[Order]) -> None:
    """These routes for the state's, if they are worth more and `timing` allows each."""
    worth = float(sum(week.visits.prize[list(ways)].sum() for _, ways in orders))
    if worth > state.value and all(week.route(order) is not None for order in orders):
        state.orders, state.value = orders, worth


def _lift(
    run: Run,
    week: Week,
    columns: Columns,
    improver: Improver,
    pool: dict[Order, None],
    state: _State,
) -> None:
    """Search on from the plan, a little, and choose among all routes met."""
    if state.value > -math.inf:
        improver.visits = week.around(state.orders)
        improver.load(state.orders)
        improver.improve(lambda: run.past(_LIFT_SHARE), _LIFT_ROUNDS, _LIFT_HEAT)
        _take(week, state, improver.routes)
    pool.update(dict.fromkeys([*improver.met, *state.orders]))
    orders = list(pool)
    model = columns.model(orders)
    _choose(run, week, orders, model, _relax(run, model, orders, state), state, _POOL_SHARE)


def _relax(run: Run, model: Model, orders: Sequence[Order], state: _State) -> Relaxed:
    number = {order: i for i, order in enumerate(orders)}
    first = [number[order] for order in state.orders] if state.value > -math.inf else []
    return relax(model, first or range(len(orders)), lambda: run.left_to_choose() <= 0)


def _choose(
    run: Run,
    week: Week,
    orders: list[Order],
    model: Model,
    relaxed: Relaxed,
    state: _State,
    share: float,
) -> Chosen:
    """The best choice among these routes, within this share of the time, into the state.

    Should `timing` not allow a route after all, it is taken out and the choice made again; another
    order of its jobs may then be missing here, so only the relaxation's bound is claimed.
    """
    number = {order: i for i, order in enumerate(orders)}
    kept = share * run.effort.seconds
    refused = False
    while True:
        start = [number[o] for o in state.orders] if state.value > -math.inf else []
        chosen = choose(
            model, relaxed, start, state.value,
            lambda: min(run.left_to_choose(), kept - run.spent()), run.effort.seed,
        )  # fmt: skip
        if refused:
            chosen = replace(chosen, bound=relaxed.bound)
        if chosen.numbers is None:
            return chosen
        wrong = [j for j in chosen.numbers if week.route(orders[j]) is None]
        if not wrong:
            state.orders, state.value = [orders[j] for j in chosen.numbers], chosen.value
            return chosen
        relaxed.reduced[wrong], refused = -math.inf, True


def _near(
    run: Run, pricer: Pricer, priced: Priced | None, state: _State
) -> tuple[list[Order] | None, float]:
    """All routes that may be in a better plan, and what a plan with any other cannot exceed.

    Where they are too many, those nearest to their prices. None when there is nothing to gain.
    """
    if priced is None:
        return None, math.inf
    gap = priced.bound - max(state.value, 0.0)
    days = max(1, len(run.ready.crew_days))
    most = max(1, _EVEN_SHARES * run.effort.routes // days)
    while gap > _LITTLE * max(1.0, abs(priced.bound)) and not run.past(_NEAR_SHARE):
        near = pricer.near(priced, gap, most, lambda: run.left_to_choose() <= 0)
        if near is not None:
            return near, priced.bound - gap
        gap /= 2
    return None, priced.bound
