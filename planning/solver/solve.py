"""Plan a week: search, price or list the routes for a bound, choose, explain."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from planning.solver.explain import explain
from planning.solver.faults import demand_sound
from planning.solver.former import take_up_former
from planning.solver.improve import Improver, warm_up
from planning.solver.listed import choose_listed
from planning.solver.narrowed import choose_narrowed
from planning.solver.plan import LeftOut, Load, Placement, Plan, Progress
from planning.solver.pricing import compile_pricing
from planning.solver.problem import Problem, ProblemError
from planning.solver.ready import Ready
from planning.solver.report import kept_by, loads_of, placements, window_chance
from planning.solver.rows import Rows
from planning.solver.run import Effort, Run
from planning.solver.search import Search
from planning.solver.timing import Route
from planning.solver.ways import Week

__all__ = ["Effort", "solve"]

_SEARCH_SHARE = 0.15
_SEARCH_ROUNDS = 3000
_SEARCH_HEAT = 0.3  # in mean values of a job: the start is a good one already
_LOCKS_FAIL = (
    "No plan was found that keeps all locked jobs: look for two locks in one window or at one "
    "turnout at once, a locked job whose earlier job has no place, or too little material."
)


def solve(
    problem: Problem,
    *,
    now: Callable[[], float],
    effort: Effort | None = None,
    progress: Callable[[Progress], None] | None = None,
) -> Plan:
    """The best plan found within the effort, with a proved bound where one was reached.

    `now` is any clock in seconds that only goes forward. The answer is the same for the same
    problem, effort and seed as long as the time does not run out; the notes say when it did.
    Raises ProblemError, with all faults as sentences, when the problem is unsound or its locked
    jobs cannot all be kept.
    """
    demand_sound(problem)
    warm_up()
    compile_pricing()
    ready = Ready(problem)
    run = Run(ready, Rows(ready), effort or Effort(), now, progress, now())
    search = Search(ready, run.rows, run.effort.seed)
    met, week = _search(run, search)
    run.value = max(run.value, search.value) if search.sound else 0.0
    run.tell("searched")
    routes = _choose(run, search, met, week)
    search.load(routes)
    search.fill(noise=0.0)
    run.value = max(run.value, search.value)
    return _plan(run, [route for route in search.routes if route.steps])


def _search(run: Run, search: Search) -> tuple[Improver, Week]:
    """A good plan, put into `search`, and every good route met on the way to it."""
    week = Week(run.ready, run.rows)
    improver = Improver(week.visits, run.effort.seed)
    take_up_former(run.ready, search)
    begun = list(search.routes)
    shares = 2 if run.ready.groups else 1
    _climb(run, search, week, improver, _SEARCH_SHARE / shares)
    run.tell("first plan")
    if run.ready.groups:
        whole, worth = list(search.routes), (search.sound, search.value)
        search.load(begun)
        jobs = run.ready.jobs
        for group in sorted(run.ready.groups, key=lambda g: -max(jobs[g.parts[-1]].value)):
            search.take_in(group)
        _climb(run, search, week, improver, _SEARCH_SHARE)
        if (search.sound, search.value) <= worth:
            search.load(whole)
    return improver, week


def _climb(run: Run, search: Search, week: Week, improver: Improver, share: float) -> None:
    """Search on from the routes in `search`, until this share of the time given is spent."""
    orders = [week.order(route) for route in search.routes if route.steps]
    begun = [order for order in orders if order is not None]
    improver.visits = week.around(begun)
    improver.load(begun)
    stop_at = share * run.effort.seconds
    improver.start(lambda: run.spent() > stop_at)
    run.value = max(run.value, improver.value if search.sound else 0.0)
    improver.improve(lambda: run.spent() > stop_at, _SEARCH_ROUNDS, _SEARCH_HEAT)
    routes = [week.route(order) for order in improver.routes]
    search.load(route for route in routes if route is not None)
    search.fill(noise=0.0)


def _choose(run: Run, search: Search, met: Improver, week: Week) -> Sequence[Route]:
    """The best routes found: those of the search, or better ones."""
    start = [route for route in search.routes if route.steps]
    value = search.value if search.sound else -math.inf
    orders = [week.order(route) for route in start]
    if run.ready.has_followers:
        chosen, better = choose_listed(run, week, start, value, list(met.met))
        routes = better if chosen.numbers is not None else start if search.sound else None
    else:
        known = [order for order in orders if order is not None]
        routes = choose_narrowed(run, week, known, value, met)
    if routes is None:
        raise ProblemError((_LOCKS_FAIL,))
    run.value = max(run.value, sum(route.value for route in routes))
    run.tell("routes chosen")
    if run.bound is None:
        run.notes.append("How far the plan is from the best is not proved: it needs more time.")
    return routes


def _plan(run: Run, routes: Sequence[Route]) -> Plan:
    placed = 0
    for route in routes:
        placed |= route.jobs
    out = _left_out(run.ready, placed)
    left_out: tuple[LeftOut, ...] = explain(run.ready, routes, out, lambda: run.left() <= 0)
    loads: tuple[Load, ...] = loads_of(run.ready, routes)
    places: tuple[Placement, ...] = placements(run.ready, routes)
    value = sum(place.value for place in places)
    changed = run.ready.all_changed - sum(kept_by(run.ready, route) for route in routes)
    bound, gap = _proved(run, value - changed)
    if run.left() <= 0:
        run.notes.append(f"The time given ({run.effort.seconds:g} s) ran out.")
    run.tell("explained")
    return Plan(
        places,
        left_out,
        loads,
        value,
        bound,
        gap,
        run.spent(),
        window_chance(run.ready, routes),
        tuple(run.notes),
        changed,
    )


def _left_out(ready: Ready, placed: int) -> list[int]:
    """The jobs not in the plan, a job done in parts being one: whole, or where that is not offered
    by its last part."""
    done = [j for j in range(len(ready.jobs)) if placed >> j & 1]
    groups = {ready.group_of[j] for j in done if j in ready.group_of}
    last = {g.parts[-1] for g in ready.groups if g.whole is None}
    return [
        j
        for j in range(len(ready.jobs))
        if not placed >> j & 1
        and ready.group_of.get(j) not in groups
        and (j not in ready.parts or j in last)
    ]


def _proved(run: Run, net: float) -> tuple[float | None, float | None]:
    """The bound, and how far the plan is from it."""
    if run.bound is None:
        return None, None
    bound = run.bound - run.ready.all_changed
    if bound - net < 1e-9 * max(1.0, abs(net)):
        return net, 0.0  # they differ by rounding only
    return bound, (bound - net) / max(abs(bound), abs(net))
