"""The best routes of one crew's day at given prices, without trying all that could be driven.

Depth first over the orders of different jobs, and a branch is left when even the best rest of the
day could not lift it above a floor: the best route found, or a floor given, above which every route
is wanted. The best rest comes from a table over (last way, time), backwards, that lets a job be
done twice and rounds ends down to the table's step (no longer than the shortest job); it never
falls short. What is asked of a route is all that `timing` asks, but two tolls may be counted once
that are due twice (a turnout worked at in two windows). So no true route is worth more than said.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np

from planning.solver.compiled import compiled
from planning.solver.known import Known, may_be_in_time, nothing_known
from planning.solver.placing import with_setup
from planning.solver.visits import FAR, MOST_STARTS, Floats, Ints, Visits, longest_route, one_visit

MOST_STEP_MIN = 5


class Desk(NamedTuple):
    """Working space for pricing one crew's day after another."""

    best_rest: Floats  # [rank of the way, step]: the most the rest of the day can add
    active: Ints  # the ways worth looking at, by rank: the best first
    next_rank: Ints  # by depth: the next way to try
    path: Ints  # by depth: the way, when it ends, prices and prizes so far, locked jobs so far
    ends: Ints
    sums: Floats
    locks: Ints
    starts: Ints  # by depth: how many starts may decide the end
    fixed: Ints  # [depth, start]: the minutes up to it and on the road
    first: Ints  # [depth, start]: where the work after it begins
    setups: Ints  # [depth, start]: and its set-ups
    names: Ints  # [depth, start]: and its name in `known`
    known: Known
    need: Ints  # of each vehicle: how many jobs are locked to it
    step: int  # minutes


class Found(NamedTuple):
    """Room for the routes found."""

    ways: Ints  # [route, position]
    lengths: Ints
    worth: Floats  # after prices
    number: Ints  # how many, alone in an array; more than there is room for when not all are here


def desk(visits: Visits) -> Desk:
    """Working space for these visits."""
    deep = longest_route(visits) + 1
    most = int((visits.first[:, -1] - visits.first[:, 0]).max(initial=0))
    step = max(1, min(MOST_STEP_MIN, int(visits.minutes.min(initial=MOST_STEP_MIN))))
    steps = int((visits.back - visits.leaves).max(initial=0)) // step + 2
    whole = (np.zeros(deep + 1, dtype=np.int64) for _ in range(5))
    wide = (np.zeros((deep + 1, MOST_STARTS), dtype=np.int64) for _ in range(4))
    return Desk(
        best_rest=np.zeros((most, steps)), active=np.zeros(most, dtype=np.int64),
        next_rank=next(whole), path=next(whole), ends=next(whole), sums=np.zeros(deep + 1),
        locks=next(whole), starts=next(whole), fixed=next(wide), first=next(wide),
        setups=next(wide), names=next(wide), known=nothing_known(visits),
        need=_locked_jobs(visits), step=step,
    )  # fmt: skip


def room_for(visits: Visits, routes: int) -> Found:
    """Room for so many routes."""
    shape = (routes, longest_route(visits))
    return Found(
        np.zeros(shape, dtype=np.int64), np.zeros(routes, dtype=np.int64), np.zeros(routes),
        np.zeros(1, dtype=np.int64),
    )  # fmt: skip


def _locked_jobs(visits: Visits) -> Ints:
    spans = visits.first[visits.kind][:, [0, -1]]
    jobs = [visits.job[a:b][visits.kept[a:b]] for a, b in spans]
    return np.array([len(set(some.tolist())) for some in jobs], dtype=np.int64)


@compiled
def _activate(d: Visits, k: Desk, v: int, net: Floats, least: float) -> int:
    """The vehicle's ways that could lift a route, the best first; how many."""
    n = 0
    for way in range(d.first[d.kind[v], 0], d.first[d.kind[v], d.first.shape[1] - 1]):
        if net[way] <= least and not d.kept[way]:
            continue
        at = n
        while at > 0 and net[k.active[at - 1]] < net[way]:
            k.active[at] = k.active[at - 1]
            at -= 1
        k.active[at] = way
        n += 1
    return n


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
def _table(d: Visits, k: Desk, v: int, active: int, net: Floats, toll: Floats, opens: Ints) -> None:
    """`best_rest` for every active way of the vehicle and every time it may end at.

    `opens` holds for each way the start of its window: no toll is paid for sure before it.
    """
    steps = (d.back[v] - d.leaves[v]) // k.step + 1
    for a in range(active):
        before = k.active[a]
        for step in range(steps):
            k.best_rest[a, step] = 0.0
    for step in range(steps - 1, -1, -1):
        free = d.leaves[v] + step * k.step
        for a in range(active):
            before = k.active[a]
            if free > d.end[before]:
                continue
            best = 0.0
            for b in range(active):
                way = k.active[b]
                if free + d.minutes[d.job[way], 0] > d.end[way] or d.job[way] == d.job[before]:
                    continue
                end = _arrive(d, v, before, free, way)
                if end < FAR:
                    gain = net[way]
                    if d.deadline[before] <= opens[way]:
                        gain -= toll[0, way] + toll[1, way]
                    best = max(best, gain + k.best_rest[b, (end - d.leaves[v]) // k.step])
            k.best_rest[a, step] = best


@compiled
def _used(d: Visits, k: Desk, depth: int, way: int) -> bool:
    for p in range(depth):  # noqa: SIM110 - compiled: no generators
        if d.job[k.path[p]] == d.job[way]:
            return True
    return False


@compiled
def _paid(k: Desk, depth: int, group: Ints, way: int) -> bool:
    for p in range(depth):  # noqa: SIM110 - compiled: no generators
        if group[k.path[p]] == group[way]:
            return True
    return False


@compiled
def _in_time(d: Visits, k: Desk, v: int, depth: int, before: int, way: int) -> bool:
    """Whether the way, put at this depth, is finished by its deadline with the chance asked for.

    What is noted of the depth is left for what follows it.
    """
    j, n = d.job[way], k.starts[depth]
    fixed, first, names = k.fixed[depth + 1], k.first[depth + 1], k.names[depth + 1]
    setups, own = k.setups[depth + 1], with_setup(d, before, way)
    for i in range(n):
        fixed[i] = k.fixed[depth, i] + d.travel[d.job[before], j]
        first[i], setups[i] = k.first[depth, i], k.setups[depth, i] + own
        names[i] = k.names[depth, i] ^ k.known.lot[j]
    if n == 0 or (d.held[way] > fixed[n - 1] and n < len(fixed)):
        fixed[n] = max(d.leaves[v] + d.out[way], d.release[way]) if n == 0 else d.held[way]
        first[n], setups[n], names[n] = depth, own, k.known.lot[j]
        n += 1
    k.starts[depth + 1], k.path[depth] = n, way
    return may_be_in_time(
        d, k.known, k.path, depth, n, d.deadline[way], fixed, first, setups, names
    )


@compiled
def _note(k: Desk, found: Found, depth: int, worth: float) -> None:
    """The route of this depth: at the end, or in place of the last where there is no more room."""
    at = min(found.number[0], len(found.lengths) - 1)
    found.number[0] = min(found.number[0], len(found.lengths)) + 1
    found.lengths[at], found.worth[at] = depth, worth
    for p in range(depth):
        found.ways[at, p] = k.path[p]


@compiled
def walk(
    d: Visits, k: Desk, found: Found, v: int, net: Floats, toll: Floats, opens: Ints, group: Ints,
    floor: float, least: float, rising: bool, most: int,
) -> float:  # fmt: skip
    """No route of this vehicle is worth more than this after prices.

    `net` is each way's prize less the prices every visit pays, `toll` the prices of its window and
    its turnout, each paid once a route (`group` names them). Routes worth more than `floor` are
    left in `found`: all of them, or, where the floor is `rising`, each better than the last; none
    with a visit worth `least` or less is looked at. After `most` branches the table answers for the
    rest, and the routes found are not all there are.
    """
    found.number[0] = 0
    active = _activate(d, k, v, net, least)
    _table(d, k, v, active, net, toll, opens)
    best = 0.0 if k.need[v] == 0 else -1e300
    depth, branches, roof = 0, 0, -1e300
    k.sums[0], k.next_rank[0], k.locks[0], k.starts[0] = 0.0, 0, 0, 0
    while depth >= 0:
        rank = k.next_rank[depth]
        if rank == active or depth == found.ways.shape[1]:
            depth -= 1
            continue
        k.next_rank[depth] += 1
        way = k.active[rank]
        before = k.path[depth - 1] if depth else -1
        end = _arrive(d, v, before, k.ends[depth - 1] if depth else d.leaves[v], way)
        if end >= FAR or _used(d, k, depth, way):
            continue
        total = k.sums[depth] + net[way]
        for which in range(2):
            if not _paid(k, depth, group[which], way):
                total -= toll[which, way]
        limit = total + k.best_rest[rank, (end - d.leaves[v]) // k.step]
        if limit <= floor + 1e-7:
            continue
        if branches >= most or (not rising and found.number[0] > len(found.lengths)):
            roof = max(roof, limit)
            found.number[0] = found.number[0] if rising else len(found.lengths) + 1
            continue
        branches += 1
        if d.chance > 0 and not _in_time(d, k, v, depth, before, way):
            continue
        k.path[depth], k.ends[depth] = way, end
        depth += 1
        k.sums[depth], k.next_rank[depth] = total, 0
        k.locks[depth] = k.locks[depth - 1] + int(d.kept[way])
        if k.locks[depth] == k.need[v] and total > floor:
            _note(k, found, depth, total)
            best = max(best, total)
            floor = total if rising else floor
    return max(best, roof)


@cache
def compile_pricing() -> None:
    """Compile the walk, so that this is not counted into anyone's seconds (see `warm_up`)."""
    d = one_visit()
    net, toll, none = np.ones(1), np.zeros((2, 1)), np.zeros(1, dtype=np.int64)
    groups = np.zeros((2, 1), dtype=np.int64)
    walk(d, desk(d), room_for(d, 1), 0, net, toll, none, groups, 0.0, 0.0, True, 1)
