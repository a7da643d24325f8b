"""Every route worth having of a crew-day, grown job by job.

Of two routes with the same jobs in the same windows ending at the same job, one that can never
end later and saves no less makes the other needless (`timing.no_later`). What remains is complete:
any plan can be rebuilt from these routes without loss.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from planning.solver.ready import CrewDay, Option, Ready, locked_here
from planning.solver.stock import enough, used
from planning.solver.timing import Route, Step, empty, extend, no_later, waits

Grown = dict[tuple[int, tuple[tuple[int, int, int], ...], int], list[Route]]

_MORE = 3  # a crew-day may grow this many times its even share, since most need less
_BEAM = 300


@dataclass(frozen=True, slots=True)
class Listing:
    """Routes, and whether they are all there are (False: a limit cut the listing short)."""

    routes: tuple[Route, ...]
    complete: bool


def list_routes(ready: Ready, limit: int, spent: Callable[[], float]) -> Listing:
    """The routes of all crew-days, in the order of the crew-days.

    `limit` is about how many to grow in all; `spent` tells the share of the time used (1: all).
    Crew-days with little choice are listed first, so that what they leave over goes to the others.
    """
    listed: dict[int, Listing] = {}
    days = sorted(ready.crew_days, key=lambda day: len(ready.options[day.index]))
    for i, day in enumerate(days):
        fair = max(1, _MORE * limit // (len(days) - i))
        listed[day.index] = list_day(ready, day, fair, _when(spent, (i + 1) / len(days)))
        limit -= len(listed[day.index].routes)
    in_order = [listed[day.index] for day in ready.crew_days]
    routes = tuple(route for one in in_order for route in one.routes)
    return Listing(routes, all(one.complete for one in in_order))


def _when(spent: Callable[[], float], share: float) -> Callable[[], bool]:
    return lambda: spent() > share


def list_day(ready: Ready, day: CrewDay, limit: int, stop: Callable[[], bool]) -> Listing:
    """The routes of one crew-day that hold all jobs locked to it; the empty one is left out.

    Past the limit only the routes that save most a minute are grown on, and the listing is not
    complete; nor is it when `stop` ends it.
    """
    options = worth_while(ready, day)
    scarce = not enough(ready.problem, used(ready, [_all_at_once(day, options)]))
    best: dict[tuple[int, tuple[tuple[int, int, int], ...]], Route] = {}
    layer = [empty(day)]
    grown, complete = 0, True
    while layer and not stop():
        layer, whole = _grow(ready, layer, options, scarce, stop)
        grown += len(layer)
        for route in layer:
            key = (route.ways, route.levels)
            other = best.get(key)
            if other is None or (-route.value, route.end) < (-other.value, other.end):
                best[key] = route
        complete = complete and whole
        if grown > limit and len(layer) > _BEAM:
            complete, layer = False, sorted(layer, key=_dearness)[:_BEAM]
    return Listing(_holding_locks(ready, day, best.values()), complete and not layer)


def _dearness(route: Route) -> tuple[float, int]:
    """Minutes from the first start for what is saved; the marks make the order a fixed one."""
    return (route.end - route.steps[0].start) / max(route.value, 1e-9), route.ways


def worth_while(ready: Ready, day: CrewDay) -> tuple[Option, ...]:
    """The options that save money, are locked or kept, or that other work hangs on."""
    return tuple(
        option
        for option in ready.options[day.index]
        if ready.jobs[option.job].value[day.shift.day] > 0
        or option.locked
        or option.job in ready.former
        or option.job in ready.has_followers
        or option.job in ready.parts
    )


def required(ready: Ready, day: CrewDay) -> int:
    """The jobs locked to this crew-day, a bit each."""
    return sum(1 << j for j, job in enumerate(ready.jobs) if locked_here(day, job))


def _grow(
    ready: Ready,
    layer: list[Route],
    options: tuple[Option, ...],
    scarce: bool,
    stop: Callable[[], bool],
) -> tuple[list[Route], bool]:
    """Every route one job longer, and whether there was time for all."""
    grown: Grown = {}
    whole = True
    for route in layer:
        if stop():
            whole = False
            break
        for option in _reachable(ready, route, options):
            for wait in waits(ready, route, option) if ready.after[option.job] else (0,):
                longer = extend(ready, route, option, wait)
                if longer is None or (scarce and not enough(ready.problem, used(ready, [longer]))):
                    continue
                _keep(grown, longer, option)
    return [route for routes in grown.values() for route in routes], whole


def _reachable(ready: Ready, route: Route, options: tuple[Option, ...]) -> Iterator[Option]:
    """Options not yet used that the crew can get to by their latest planned start."""
    travel = ready.travel[route.steps[-1].job] if route.steps else None
    jobs, end = route.jobs, route.end
    for option in options:
        if jobs >> option.job & 1:
            continue
        way = option.home if travel is None else travel[option.job]
        if way is not None and end + way <= option.latest:
            yield option


def _all_at_once(day: CrewDay, options: tuple[Option, ...]) -> Route:
    """Not a real day: all the jobs the crew could do, to see whether material can run short."""
    jobs = dict.fromkeys(option.job for option in options)
    steps = tuple(Step(job, 0, 0, 0, False, 0, 0, None) for job in jobs)
    return empty(day)._replace(steps=steps)


def _keep(grown: Grown, route: Route, last: Option) -> None:
    """Add the route unless one kept is as good; take out those it makes needless."""
    key = (route.ways, route.levels, last.bit)
    others = grown.get(key)
    if others is None:
        grown[key] = [route]
    elif not any(no_later(other, route) for other in others):
        grown[key] = [o for o in others if not no_later(route, o)] + [route]


def _holding_locks(ready: Ready, day: CrewDay, routes: Iterable[Route]) -> tuple[Route, ...]:
    must = required(ready, day)
    return tuple(route for route in routes if route.jobs & must == must)
