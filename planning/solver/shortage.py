"""How much longer a window or a shift would have to be for a crew's day to hold one more job."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planning.solver.ready import Option, Ready
from planning.solver.timing import Anchor, Route, empty, extend_loosely, in_time, options_of, waits


@dataclass(frozen=True, slots=True)
class Trial:
    """A route with one more job, and what it lacks: minutes by window number, minutes of shift."""

    route: Route
    windows: dict[int, int]
    overtime: int


def trials(ready: Ready, route: Route, job: int) -> Iterator[Trial]:
    """Every way to put the job into the route, with what each lacks."""
    day = ready.crew_days[route.day]
    ways = [(ready.free(option), wait) for option, wait in options_of(ready, route)]
    for option in ready.loose_options(day, job):
        for i in range(len(ways) + 1):
            head = _follow(ready, route.day, ways[:i])
            for wait in waits(ready, head.route, option) if head else ():
                trial = _follow(ready, route.day, [*ways[:i], (option, wait), *ways[i:]])
                if trial is not None:
                    yield trial


def _follow(ready: Ready, number: int, ways: list[tuple[Option, int]]) -> Trial | None:
    day = ready.crew_days[number]
    route: Route | None = empty(day)
    lacking: dict[int, int] = {}
    overtime = 0
    for option, wait in ways:
        if route is not None:
            route = extend_loosely(ready, route, option, wait)
        if route is None:
            return None
        late = max(route.end - option.end, _late(ready, route.anchors, option.end))
        if late > 0:
            lacking[option.window] = max(late, lacking.get(option.window, 0))
        overtime = max(0, route.end + option.home - day.shift.end_min)
    return Trial(route, lacking, overtime) if route is not None else None


def _late(ready: Ready, anchors: tuple[Anchor, ...], end: int) -> int:
    """Least minutes by which `end` must move for the work to be in time at the set chance."""
    low = max(a.minutes + ready.needed(a.jobs, a.setups) for a in anchors) - end
    if in_time(ready, anchors, end + low):
        return low
    high = anchors[-1].minutes + ready.needed(anchors[0].jobs, anchors[0].setups) - end
    while high - low > 1:
        middle = (low + high) // 2
        if in_time(ready, anchors, end + middle):
            high = middle
        else:
            low = middle
    return high
