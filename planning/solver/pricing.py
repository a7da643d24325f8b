"""The best route of one crew's day at given prices, without listing them all.

Depth first over the orders of different jobs, and a branch is left when even the best rest of the
day could not lift it above the best route found. The best rest comes from a table over (last way,
time), backwards, that lets a job be done twice and rounds ends down to the table's step (no longer
than the shortest job); it never falls short. What is asked of a route for a bound is necessary, not
always enough: planned minutes, windows at their prices, and of the chance only that no single start
makes the day late too often. So the answer is never below the best true route.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from planning.solver.compiled import compiled
from planning.solver.placing import with_setup
from planning.solver.sums import finished_in_time
from planning.solver.visits import FAR, Floats, Ints, Standing, Visits, longest_route, nobody_out

MOST_STEP_MIN = 5
_MOST_FOUND = 40  # past it the newest takes the place of the last


class Desk(NamedTuple):
    """Working space for pricing one crew's day after another."""

    best_rest: Floats  # [way of the day, step]: the most the rest of the day can add
    sums: Floats  # by depth: prices and prizes so far
    next_way: Ints  # by depth: the next way to try
    routes: Ints  # [rank, position]: the routes found on the way, each better than the last
    lengths: Ints
    found: Ints  # how many, in one number
    step: int  # minutes


def desk(visits: Visits) -> tuple[Standing, Desk]:
    """Working space for these visits."""
    longest = longest_route(visits)
    most = int((visits.first[:, -1] - visits.first[:, 0]).max(initial=0))
    step = max(1, min(MOST_STEP_MIN, int(visits.minutes.min(initial=MOST_STEP_MIN))))
    steps = int((visits.back - visits.leaves).max(initial=0)) // step + 2
    return nobody_out(visits, longest), Desk(
        best_rest=np.zeros((most, steps)),
        sums=np.zeros(longest + 1),
        next_way=np.zeros(longest + 1, dtype=np.int64),
        routes=np.zeros((_MOST_FOUND, longest), dtype=np.int64),
        lengths=np.zeros(_MOST_FOUND, dtype=np.int64),
        found=np.zeros(1, dtype=np.int64),
        step=step,
    )


@compiled
def _surely_new(d: Visits, before: int, way: int, opens: Ints) -> bool:
    """Whether no earlier visit can have been in the way's window: it opens after the last closed.

    `opens` holds for each way the start of its window.
    """
    return before < 0 or d.deadline[before] <= opens[way]


@compiled
def _arrive(d: Visits, v: int, before: int, free: int, way: int) -> int:
    """The planned end of the way after `before`, which ends at `free`; FAR where it cannot be."""
    j = d.job[way]
    road = d.out[way] if before < 0 else d.travel[d.job[before], j]
    if road >= FAR:
        return FAR
    begin = max(free + road, d.release[way])
    end = begin + d.minutes[j, with_setup(d, before, way)]
    if begin > d.start[way] or end > d.end[way] or end + d.home[way] > d.back[v]:
        return FAR
    return int(end)


@compiled
def _table(d: Visits, k: Desk, v: int, net: Floats, toll: Floats, opens: Ints) -> None:
    """`best_rest` for every way of the vehicle and every time it may end at."""
    low, high = d.first[d.kind[v], 0], d.first[d.kind[v], d.first.shape[1] - 1]
    steps = (d.back[v] - d.leaves[v]) // k.step + 1
    for step in range(steps - 1, -1, -1):
        free = d.leaves[v] + step * k.step
        for before in range(low, high):
            best = 0.0
            for way in range(low, high):
                if net[way] <= 0 or d.job[way] == d.job[before]:
                    continue
                end = _arrive(d, v, before, free, way)
                if end < FAR:
                    gain = net[way]
                    if _surely_new(d, before, way, opens):
                        gain -= toll[0, way] + toll[1, way]
                    at = (end - d.leaves[v]) // k.step
                    best = max(best, gain + k.best_rest[way - low, at])
            k.best_rest[before - low, step] = best


@compiled
def _used(d: Visits, s: Standing, v: int, depth: int, way: int) -> bool:
    for p in range(depth):  # noqa: SIM110 - compiled: no generators
        if d.job[s.ways[v, p]] == d.job[way]:
            return True
    return False


@compiled
def _paid(s: Standing, v: int, depth: int, group: Ints, way: int) -> bool:
    for p in range(depth):  # noqa: SIM110 - compiled: no generators
        if group[s.ways[v, p]] == group[way]:
            return True
    return False


@compiled
def best_route(  # noqa: C901 - one walk through the tree, its stack in the desk
    d: Visits, s: Standing, k: Desk, v: int,
    net: Floats, toll: Floats, opens: Ints, group: Ints, most: int, surely: bool,
) -> float:  # fmt: skip
    """No route of this vehicle is worth more than this after prices; 0 where none is worth any.

    `net` is each way's prize less the prices every visit pays, `toll` the prices of its window and
    its turnout, each paid once a route (`group` names them). The routes found are left in the desk.
    After `most` branches the table answers for the rest. With `surely` only routes certainly in
    time are looked at: good routes, but the answer is then no bound.
    """
    for step in range(k.best_rest.shape[1]):
        for i in range(k.best_rest.shape[0]):
            k.best_rest[i, step] = 0.0
    _table(d, k, v, net, toll, opens)
    low, high = d.first[d.kind[v], 0], d.first[d.kind[v], d.first.shape[1] - 1]
    best, depth, branches, roof = 0.0, 0, 0, 0.0
    k.found[0], k.sums[0], k.next_way[0], s.size[v] = 0, 0.0, low, 0
    while depth >= 0:
        way = k.next_way[depth]
        if way == high or depth == s.ways.shape[1]:
            depth -= 1
            s.size[v] = max(0, depth)
            continue
        k.next_way[depth] += 1
        before = s.ways[v, depth - 1] if depth else -1
        end = _arrive(d, v, before, s.done[v, depth - 1] if depth else d.leaves[v], way)
        if net[way] <= 0 or end >= FAR or _used(d, s, v, depth, way):
            continue
        total = k.sums[depth] + net[way]
        for which in range(2):
            if not _paid(s, v, depth, group[which], way):
                total -= toll[which, way]
        limit = total + k.best_rest[way - low, (end - d.leaves[v]) // k.step]
        if limit <= best + 1e-7:
            continue
        if branches >= most:
            roof = max(roof, limit)
            continue
        branches += 1
        s.size[v] = depth
        if d.chance > 0 and not finished_in_time(d, s, v, depth, way, surely):
            continue
        s.ways[v, depth], s.done[v, depth] = way, end
        depth += 1
        k.sums[depth], k.next_way[depth], s.size[v] = total, low, depth
        if total > best:
            best = total
            rank = min(k.found[0], len(k.lengths) - 1)
            k.found[0], k.lengths[rank] = rank + 1, depth
            for p in range(depth):
                k.routes[rank, p] = s.ways[v, p]
    return max(best, roof)
