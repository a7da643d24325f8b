"""Plan a week: search, list the routes, relax for a bound, choose, explain."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from planning.solver.bound import build, relax
from planning.solver.explain import explain
from planning.solver.faults import demand_sound
from planning.solver.master import choose
from planning.solver.improve import Improver
from planning.solver.plan import LeftOut, Load, Placement, Plan, Progress
from planning.solver.problem import Problem, ProblemError
from planning.solver.ready import Ready
from planning.solver.report import loads_of, placements, window_chance
from planning.solver.routes import list_routes
from planning.solver.rows import Rows
from planning.solver.search import Search
from planning.solver.timing import Route
from planning.solver.ways import Week

_SEARCH_SHARE = 0.15
_SEARCH_ROUNDS = 3000
_SEARCH_HEAT = 0.3  # in mean values of a job: the start is a good one already
_LISTING_SHARE = 0.7  # of the time: the rest is for the bound, the choice and the explanations
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

    def tell(self, stage: str) -> None:
        if self.progress is not None:
            self.progress(Progress(stage, self.value, self.bound, self.spent()))


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
    ready = Ready(problem)
    run = _Run(ready, Rows(ready), effort or Effort(), now, progress, now())
    search = Search(ready, run.rows, run.effort.seed)
    met = _search(run, search)
    run.value = search.value if search.sound else 0.0
    run.tell("searched")
    routes = _choose(run, search, met)
    search.load(routes)
    if run.bound is None:
        search.improve(stop=lambda: run.left() <= 0)
    search.fill(noise=0.0)
    run.value = max(run.value, search.value)
    return _plan(run, [route for route in search.routes if route.steps])


def _search(run: _Run, search: Search) -> Improver:
    """A good plan, put into `search`, and every good route met on the way to it."""
    week = Week(run.ready, run.rows)
    improver = Improver(week.visits, run.effort.seed)
    locked = [week.order(route) for route in search.routes if route.steps]
    improver.load(order for order in locked if order is not None)
    stop_at = _SEARCH_SHARE * run.effort.seconds
    improver.start(lambda: run.spent() > stop_at)
    improver.improve(lambda: run.spent() > stop_at, _SEARCH_ROUNDS, _SEARCH_HEAT)
    routes = [week.route(order) for order in improver.routes]
    search.load(route for route in routes if route is not None)
    search.fill(noise=0.0)
    return improver


def _choose(run: _Run, search: Search, met: Improver) -> Sequence[Route]:
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
    if not listing.complete:
        run.notes.append(
            "Not every crew's day could be listed within the effort given, so how far the plan is "
            "from the best is not proved."
        )
    pool = {(r.day, r.ways, r.levels): r for r in [*start, *listing.routes]}
    numbers = {key: i for i, key in enumerate(pool)}
    columns_of = list(pool.values())
    model = build(run.ready, run.rows, columns_of)
    columns = [numbers[r.day, r.ways, r.levels] for r in start] if search.sound else []
    first = columns or range(len(pool))
    relaxed = relax(model, first, lambda: run.left() <= 0)
    if listing.complete:
        run.bound = relaxed.bound
    run.tell("bound found")
    value = search.value if search.sound else -math.inf
    chosen = choose(model, relaxed, columns, value, run.left, run.effort.seed)
    if listing.complete:
        run.bound = min(relaxed.bound, chosen.bound)
    if chosen.numbers is None and not search.sound:
        raise ProblemError((_LOCKS_FAIL,))
    run.value = chosen.value
    run.tell("routes chosen")
    return start if chosen.numbers is None else [columns_of[j] for j in chosen.numbers]


def _plan(run: _Run, routes: Sequence[Route]) -> Plan:
    placed = 0
    for route in routes:
        placed |= route.jobs
    out = [j for j in range(len(run.ready.jobs)) if not placed >> j & 1]
    left_out: tuple[LeftOut, ...] = explain(run.ready, routes, out)
    loads: tuple[Load, ...] = loads_of(run.ready, routes)
    places: tuple[Placement, ...] = placements(run.ready, routes)
    value = sum(place.value for place in places)
    bound = run.bound
    if bound is not None and bound - value < 1e-9 * value:
        bound = value  # they differ by rounding only
    if run.left() <= 0:
        run.notes.append(f"The time given ({run.effort.seconds:g} s) ran out.")
    run.tell("explained")
    return Plan(
        places,
        left_out,
        loads,
        value,
        bound,
        None if bound is None else (bound - value) / bound if bound else 0.0,
        run.spent(),
        window_chance(run.ready, routes),
        tuple(run.notes),
    )
