"""Plan a week: search, list the routes, relax for a bound, choose, explain."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from planning.solver.bound import Model, Relaxed, build, relax
from planning.solver.explain import explain
from planning.solver.faults import demand_sound
from planning.solver.former import take_up_former
from planning.solver.grow import Pricer
from planning.solver.improve import Improver, warm_up
from planning.solver.master import choose
from planning.solver.plan import LeftOut, Load, Placement, Plan, Progress
from planning.solver.problem import Problem, ProblemError
from planning.solver.ready import Ready
from planning.solver.report import kept_by, loads_of, placements, window_chance
from planning.solver.routes import list_routes
from planning.solver.rows import Rows
from planning.solver.search import Search
from planning.solver.timing import Route
from planning.solver.ways import Week

Name = tuple[int, int, tuple[tuple[int, int, int], ...]]
Pool = dict[Name, Route]

_SEARCH_SHARE = 0.15
_SEARCH_ROUNDS = 3000
_SEARCH_HEAT = 0.3  # in mean values of a job: the start is a good one already
_LISTING_SHARE = 0.4  # of the time: the rest is for the bound, the choice and the explanations
_PRICING_SHARE = 0.6
_EXPLAIN_SHARE = 0.1
_LOCKS_FAIL = (
    "No plan was found that keeps all locked jobs: look for two locks in one window or at one "
    "turnout at once, a locked job whose earlier job has no place, or too little material."
)


@dataclass(frozen=True, slots=True)
class Effort:
    """How long and how hard to try: seconds by the caller's clock, most routes listed, seed."""

    seconds: float = 10.0
    routes: int = 200_000
    seed: int = 0


@dataclass
class _Run:
    ready: Ready
    rows: Rows
    effort: Effort
    now: Callable[[], float]
    progress: Callable[[Progress], None] | None
    began: float
    notes: list[str] = field(default_factory=list)
    value: float = 0.0
    bound: float | None = None

    def spent(self) -> float:
        return self.now() - self.began

    def left(self) -> float:
        return self.effort.seconds - self.spent()

    def left_to_choose(self) -> float:
        """What is left of the time when some is kept for the explanations."""
        return self.left() - _EXPLAIN_SHARE * self.effort.seconds

    def tell(self, stage: str) -> None:
        if self.progress is not None:
            none = self.ready.all_changed
            bound = None if self.bound is None else self.bound - none
            self.progress(Progress(stage, self.value - none, bound, self.spent()))


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
    ready = Ready(problem)
    run = _Run(ready, Rows(ready), effort or Effort(), now, progress, now())
    search = Search(ready, run.rows, run.effort.seed)
    met, week = _search(run, search)
    run.value = search.value if search.sound else 0.0
    run.tell("searched")
    routes = _choose(run, search, met, week)
    search.load(routes)
    search.fill(noise=0.0)
    run.value = max(run.value, search.value)
    return _plan(run, [route for route in search.routes if route.steps])


def _search(run: _Run, search: Search) -> tuple[Improver, Week]:
    """A good plan, put into `search`, and every good route met on the way to it."""
    week = Week(run.ready, run.rows)
    improver = Improver(week.visits, run.effort.seed)
    take_up_former(run.ready, search)
    locked = [week.order(route) for route in search.routes if route.steps]
    improver.load(order for order in locked if order is not None)
    stop_at = _SEARCH_SHARE * run.effort.seconds
    improver.start(lambda: run.spent() > stop_at)
    improver.improve(lambda: run.spent() > stop_at, _SEARCH_ROUNDS, _SEARCH_HEAT)
    routes = [week.route(order) for order in improver.routes]
    search.load(route for route in routes if route is not None)
    search.fill(noise=0.0)
    return improver, week


def _choose(run: _Run, search: Search, met: Improver, week: Week) -> Sequence[Route]:
    """The best routes found: those of the search, or better ones from the listed routes."""
    start = [route for route in search.routes if route.steps]
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
        remembered = (week.route(order) for order in met.met)
        pool |= {_name(r): r for r in remembered if r is not None}
    first = start if search.sound else []
    model, relaxed = _relaxed(run, pool, first, listing.complete, week)
    if listing.complete:
        run.bound = relaxed.bound
    run.tell("bound found")
    value = search.value if search.sound else -math.inf
    columns_of = list(pool.values())
    numbers = {name: i for i, name in enumerate(pool)}
    columns = [numbers[_name(r)] for r in first]
    chosen = choose(model, relaxed, columns, value, run.left_to_choose, run.effort.seed)
    if listing.complete:
        run.bound = min(relaxed.bound, chosen.bound)
    if chosen.numbers is None and not search.sound:
        raise ProblemError((_LOCKS_FAIL,))
    run.value = chosen.value
    run.tell("routes chosen")
    if run.bound is None:
        run.notes.append("How far the plan is from the best is not proved: it needs more time.")
    return start if chosen.numbers is None else [columns_of[j] for j in chosen.numbers]


def _relaxed(
    run: _Run, pool: Pool, start: Sequence[Route], complete: bool, week: Week
) -> tuple[Model, Relaxed]:
    """The relaxation over the pool; where not every route is listed, the best are priced into it.

    The pool grows by the routes priced, as long as there are any it lacks and there is time.
    """
    pricer = Pricer(run.ready, run.rows, week)
    while True:
        model = build(run.ready, run.rows, list(pool.values()))
        numbers = {name: i for i, name in enumerate(pool)}
        first = [numbers[_name(r)] for r in start] or range(len(pool))
        relaxed = relax(model, first, lambda: run.left_to_choose() <= 0)
        if complete:
            return model, relaxed
        late = run.spent() > _PRICING_SHARE * run.effort.seconds
        new = {} if late else {_name(r): r for r in _priced(run, pricer, model, relaxed)}
        new = {name: route for name, route in new.items() if name not in pool}
        if not new:
            run.bound = pricer.bound(model, relaxed.prices, lambda: run.left_to_choose() <= 0)
            return model, relaxed
        pool |= new


def _priced(run: _Run, pricer: Pricer, model: Model, relaxed: Relaxed) -> Iterator[Route]:
    last = _PRICING_SHARE * run.effort.seconds
    return pricer.routes(model, relaxed.prices, lambda: run.spent() > last)


def _name(route: Route) -> Name:
    return route.day, route.ways, route.levels


def _plan(run: _Run, routes: Sequence[Route]) -> Plan:
    placed = 0
    for route in routes:
        placed |= route.jobs
    out = [j for j in range(len(run.ready.jobs)) if not placed >> j & 1]
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


def _proved(run: _Run, net: float) -> tuple[float | None, float | None]:
    """The bound, and how far the plan is from it."""
    if run.bound is None:
        return None, None
    bound = run.bound - run.ready.all_changed
    if bound - net < 1e-9 * max(1.0, abs(net)):
        return net, 0.0  # they differ by rounding only
    return bound, (bound - net) / max(abs(bound), abs(net))
