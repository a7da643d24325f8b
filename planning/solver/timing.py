"""One crew's day, job after job: when each starts and ends, and with what chance in time.

The crew starts job k at max(release_k, end of the job before + travel). The real end of the last
job is therefore the latest, over all jobs j in the day, of release_j + travel after j + working
times from j on. Each such j is an anchor: (minutes, jobs from j on, set-ups from j on). Only an
anchor later than every one before it can decide the end, so most days have a single one.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from itertools import combinations
from typing import NamedTuple

from planning.solver.durations import chance_of_all
from planning.solver.ready import CrewDay, Option, Ready

_MAIN, _REST = 0.94, 0.02  # shares of the chance of being late: one anchor's, each other's
_MOST_ADDED = 4  # anchors whose shares do not exceed the whole: 0.94 + 3 * 0.02


class Anchor(NamedTuple):
    """A start that may decide the end: minutes fixed, and the work (a bit a job) still to add."""

    minutes: int
    jobs: int
    setups: int


class Step(NamedTuple):
    """One job of a route, by number, with its planned times; `wait` is a start put off.

    `fixed` is the only start its option has (see `ready.Option`).
    """

    job: int
    window: int
    start: int
    end: int
    setup: bool
    travel: int
    wait: int
    fixed: int | None


class Route(NamedTuple):
    """A crew's day, complete or so far.

    `ways` has a bit for each Option used; `levels` tells, for a job that must follow one outside
    the route, how many ends of that one's windows lie at or before its start. `value` counts, over
    the money saved, the price of changes that it does not pay.
    """

    day: int
    end: int
    anchors: tuple[Anchor, ...]
    jobs: int
    ways: int
    levels: tuple[tuple[int, int, int], ...]
    value: float
    steps: tuple[Step, ...]


def empty(day: CrewDay) -> Route:
    """The crew at its base when its shift starts."""
    return Route(day.index, day.shift.start_min, (), 0, 0, (), 0.0, ())


def extend(ready: Ready, route: Route, option: Option, wait: int = 0) -> Route | None:
    """The route with one more job at its end; None when a rule of the crew's day forbids it."""
    day = ready.crew_days[route.day]
    longer = extend_loosely(ready, route, option, wait)
    if longer is None or longer.end > option.end or longer.end + option.home > day.shift.end_min:
        return None
    return longer if in_time(ready, longer.anchors, option.end) else None


def extend_loosely(ready: Ready, route: Route, option: Option, wait: int = 0) -> Route | None:
    """The same with window and shift as long as it takes; None when even so it cannot be."""
    day = ready.crew_days[route.day]
    step = _step(ready, route, option, wait)
    levels = None if step is None else _levels(ready, route, option.job, step.start)
    if step is None or levels is None:
        return None
    return Route(
        route.day,
        step.end,
        _anchors(ready, route, option, step),
        route.jobs | 1 << option.job,
        route.ways | option.bit,
        levels,
        route.value
        + ready.value(day, option.job, step.end)
        + ready.kept(day, option.job, option.window, step.start),
        (*route.steps, step),
    )


def follow(ready: Ready, day: CrewDay, ways: Iterable[tuple[Option, int]]) -> Route | None:
    """The route through these options (each with its wait) in this order, if it keeps the rules."""
    route: Route | None = empty(day)
    for option, wait in ways:
        route = extend(ready, route, option, wait) if route is not None else None
    return route


def waits(ready: Ready, route: Route, option: Option) -> Iterator[int]:
    """The starts worth trying for the option: at once, or when another crew's window has ended."""
    yield 0
    times = {
        t
        for i in ready.after[option.job]
        if not route.jobs >> i & 1
        for t in ready.thresholds[i]
        if option.release < t < option.end
    }
    yield from sorted(times)


def in_time(ready: Ready, anchors: tuple[Anchor, ...], end: int) -> bool:
    """Whether the work is finished by `end` with at least the chance the problem asks for."""
    for minutes, jobs, setups in anchors:
        if minutes + ready.needed(jobs, setups) > end:
            return False
    all_merged = anchors[-1].minutes + ready.needed(anchors[0].jobs, anchors[0].setups)
    if all_merged <= end or _clearly_in_time(ready, anchors, end):
        return True
    others = _estimates(ready, anchors, end, fewest_cuts=1)
    return any(estimate >= ready.problem.chance for estimate in others)


def _clearly_in_time(ready: Ready, anchors: tuple[Anchor, ...], end: int) -> bool:
    """Whether the chances of being late, anchor by anchor, add up to little enough (Boole).

    The sum is never less than the estimate without merging takes off, and it is looked up.
    """
    return len(anchors) <= _MOST_ADDED and any(
        all(
            a.minutes + ready.needed(a.jobs, a.setups, _MAIN if i == near else _REST) <= end
            for i, a in enumerate(anchors)
        )
        for near in range(len(anchors))
    )


def chance_by(ready: Ready, anchors: tuple[Anchor, ...], end: int) -> float:
    """A lower estimate of the chance that the work is finished by `end`; exact for one anchor.

    Neighbouring anchors may be merged (the work of the first, the minutes of the last) and the
    estimate stays low; the best over all mergings is taken. This also makes it safe to drop a
    route for one that is never later: the estimate of the earlier one is never the lower.
    """
    return max(_estimates(ready, anchors, end))


def _estimates(
    ready: Ready, anchors: tuple[Anchor, ...], end: int, fewest_cuts: int = 0
) -> Iterator[float]:
    """One lower estimate for each way of merging, the one without any merging first."""
    cuts = range(1, len(anchors))
    for size in reversed(range(fewest_cuts, len(anchors))):
        for chosen in combinations(cuts, size):
            blocks = zip((0, *chosen), (*chosen, len(anchors)), strict=True)
            yield chance_of_all(
                [
                    (ready.fitted(anchors[i].jobs, anchors[i].setups), end - anchors[k - 1].minutes)
                    for i, k in blocks
                ]
            )


def chances(ready: Ready, route: Route) -> list[float]:
    """For each job of the route, the chance that it is finished when its window ends."""
    found: list[float] = []
    part = empty(ready.crew_days[route.day])
    for option, wait in options_of(ready, route):
        longer = extend(ready, part, option, wait)
        if longer is None:
            raise ValueError(f"Job {ready.jobs[option.job].id} does not fit the route it is in.")
        found.append(chance_by(ready, longer.anchors, option.end))
        part = longer
    return found


def options_of(ready: Ready, route: Route) -> list[tuple[Option, int]]:
    """The options and waits a route was built from, in order."""
    by_way = {(o.job, o.window, o.fixed): o for o in ready.options[route.day]}
    return [(by_way[s.job, s.window, s.fixed], s.wait) for s in route.steps]


def no_later(one: Route, two: Route) -> bool:
    """Whether `one` can never end later than `two`, whatever the working times turn out to be."""
    if one.end > two.end or one.value < two.value:
        return False
    merged = Anchor(one.anchors[-1].minutes, one.anchors[0].jobs, one.anchors[0].setups)
    if any(_within(merged, other) for other in two.anchors):
        return True
    pairs = zip(one.anchors, two.anchors, strict=False)
    return len(one.anchors) == len(two.anchors) and all(_within(a, b) for a, b in pairs)


def _within(a: Anchor, b: Anchor) -> bool:
    return a.minutes <= b.minutes and not a.jobs & ~b.jobs and a.setups <= b.setups


def _step(ready: Ready, route: Route, option: Option, wait: int) -> Step | None:
    last = route.steps[-1] if route.steps else None
    travel = ready.travel[last.job][option.job] if last else option.home
    if travel is None or route.jobs >> option.job & 1:
        return None
    start = max(route.end + travel, option.release, wait)
    if option.fixed is not None:
        if start > option.fixed:
            return None
        start = option.fixed
    here = ready.jobs[option.job].set_up_at
    setup = ready.problem.setup is not None and not (
        last and last.window == option.window and ready.jobs[last.job].set_up_at == here
    )
    end = start + ready.minutes[option.job][setup]
    return Step(option.job, option.window, start, end, setup, travel, wait, option.fixed)


def _levels(
    ready: Ready, route: Route, job: int, start: int
) -> tuple[tuple[int, int, int], ...] | None:
    """The route's levels with this job's added; None when it is out of order or never allowed."""
    if job in ready.has_followers and any(job in ready.after[s.job] for s in route.steps):
        return None
    levels = route.levels
    for first in ready.after[job]:
        if not route.jobs >> first & 1:
            level = bisect_right(ready.thresholds[first], start)
            if level == 0:
                return None
            levels = (*levels, (job, first, level))
    return levels


def _anchors(ready: Ready, route: Route, option: Option, step: Step) -> tuple[Anchor, ...]:
    bit = 1 << option.job
    if not route.anchors:
        return (Anchor(step.start, bit, int(step.setup)),)
    moved = tuple(
        Anchor(a.minutes + step.travel, a.jobs | bit, a.setups + step.setup) for a in route.anchors
    )
    release = _held_until(ready, route, option, step)
    if release <= moved[-1].minutes:
        return moved
    return (*moved, Anchor(release, bit, int(step.setup)))


def _held_until(ready: Ready, route: Route, option: Option, step: Step) -> int:
    """The minute before which the crew may not start, however early it is there."""
    held = max(option.release, step.wait)
    if option.locked and option.fixed is not None:
        held = max(held, option.fixed)
    for first in ready.after[option.job]:
        if not route.jobs >> first & 1:
            times = ready.thresholds[first]
            held = max(held, times[bisect_right(times, step.start) - 1])
    return held
