"""Routes turned into the plan people read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planning.solver.plan import Load, Placement
from planning.solver.ready import Ready
from planning.solver.stock import loads, used
from planning.solver.timing import Route, chances


def placements(ready: Ready, routes: Sequence[Route]) -> tuple[Placement, ...]:
    """Every placed job, in the order of start, then crew."""
    found = [place for route in routes for place in _of(ready, route)]
    return tuple(sorted(found, key=lambda p: (p.start_min, p.crew, p.job)))


def loads_of(ready: Ready, routes: Sequence[Route]) -> tuple[Load, ...]:
    """What each truck uses and draws over the week."""
    return loads(ready.problem, used(ready, routes))


def window_chance(ready: Ready, routes: Sequence[Route]) -> dict[str, float]:
    """For each window worked in, the chance that all its crews are finished at its end."""
    found: dict[str, float] = {}
    for route in routes:
        last = {
            step.window: chance
            for step, chance in zip(route.steps, chances(ready, route), strict=True)
        }
        for window, chance in last.items():
            name = ready.windows[window].id
            found[name] = found.get(name, 1.0) * chance
    return dict(sorted(found.items()))


def kept_by(ready: Ready, route: Route) -> float:
    """The price of changes against the former plan that the route does not pay."""
    day = ready.crew_days[route.day]
    return sum(ready.kept(day, s.job, s.window, s.start) for s in route.steps)


def _of(ready: Ready, route: Route) -> Iterator[Placement]:
    day = ready.crew_days[route.day]
    before: str | None = None
    for step, chance in zip(route.steps, chances(ready, route), strict=True):
        job = ready.jobs[step.job]
        yield Placement(
            job=job.id,
            crew=day.crew.id,
            truck=day.crew.truck,
            window=ready.windows[step.window].id,
            day=day.shift.day,
            start_min=step.start,
            end_min=step.end,
            setup=step.setup,
            travel_from=before,
            travel_min=step.travel,
            chance=chance,
            value=ready.value(day, step.job, step.end),
            late=job.due_min is not None and step.end > job.due_min,
        )
        before = job.id
