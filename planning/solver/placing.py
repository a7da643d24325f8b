"""Putting visits into routes and taking them out, each rule told from a few numbers at once."""

from __future__ import annotations

from planning.solver.compiled import compiled
from planning.solver.sums import finished_in_time
from planning.solver.visits import FAR, Standing, Visits

_LITTLE = 1e-6


@compiled
def with_setup(d: Visits, before: int, way: int) -> int:
    """1 where the way needs a set-up of its own after `before` (a way; -1: from base)."""
    return int(before < 0 or d.mark[way] < 0 or d.mark[before] != d.mark[way])


@compiled
def refresh(d: Visits, s: Standing, v: int) -> None:
    """Times of the vehicle's route, forwards and backwards."""
    before, free = -1, d.leaves[v]
    for p in range(s.size[v]):
        way = s.ways[v, p]
        j = d.job[way]
        road = d.out[way] if before < 0 else d.travel[d.job[before], j]
        s.begin[v, p] = max(free + road, d.release[way])
        free = s.done[v, p] = s.begin[v, p] + d.minutes[j, with_setup(d, before, way)]
        before = way
    for p in range(s.size[v] - 1, -1, -1):
        way = s.ways[v, p]
        if p == s.size[v] - 1:
            last = d.back[v] - d.home[way]
        else:
            after = s.ways[v, p + 1]
            work = d.minutes[d.job[after], with_setup(d, way, after)]
            last = s.latest[v, p + 1] - work - d.travel[d.job[way], d.job[after]]
        work = s.done[v, p] - s.begin[v, p]
        s.latest[v, p] = min(last, d.end[way], d.start[way] + work)


@compiled
def _count(d: Visits, s: Standing, v: int, way: int, sign: int) -> None:
    for at in range(d.row_from[way], d.row_from[way + 1]):
        row = d.row_of[at]
        s.held[v, row] += sign
        if s.held[v, row] == (1 if sign > 0 else 0):
            s.taken[row] += sign
    truck = d.truck[v]
    if truck >= 0:
        for item in range(len(d.depot)):
            old = max(0.0, s.used[truck, item] - d.own[truck, item])
            s.used[truck, item] += sign * d.use[d.use_of[way], item]
            more = max(0.0, s.used[truck, item] - d.own[truck, item]) - old
            s.drawn[item] += more
            s.load_kg[truck] += more * d.unit_kg[item]


@compiled
def put_in(d: Visits, s: Standing, v: int, position: int, way: int) -> None:
    """The way at this position of the vehicle's route."""
    for p in range(s.size[v], position, -1):
        s.ways[v, p] = s.ways[v, p - 1]
    s.ways[v, position] = way
    s.size[v] += 1
    s.where[d.job[way]] = v
    _count(d, s, v, way, 1)
    refresh(d, s, v)


@compiled
def take_out(d: Visits, s: Standing, v: int) -> None:
    """The ways marked in `s.gone` (by position) out of the vehicle's route."""
    kept = 0
    for p in range(s.size[v]):
        way = s.ways[v, p]
        if s.gone[p] and not d.kept[way]:
            s.where[d.job[way]] = -1
            _count(d, s, v, way, -1)
        else:
            s.ways[v, kept] = way
            kept += 1
    s.size[v] = kept
    refresh(d, s, v)


@compiled
def _room(d: Visits, s: Standing, v: int, way: int) -> bool:
    """Whether rows, depot and truck have room for the way on this vehicle."""
    for at in range(d.row_from[way], d.row_from[way + 1]):
        row = d.row_of[at]
        if s.held[v, row] == 0 and s.taken[row] >= d.room[row]:
            return False
    truck = d.truck[v]
    if truck < 0:
        return True
    load = s.load_kg[truck]
    for item in range(len(d.depot)):
        own, use = d.own[truck, item], s.used[truck, item]
        more = max(0.0, use + d.use[d.use_of[way], item] - own) - max(0.0, use - own)
        if more > 0 and s.drawn[item] + more > d.depot[item] + _LITTLE:
            return False
        load += more * d.unit_kg[item]
    return bool(load <= d.room_kg[truck] + _LITTLE or load <= s.load_kg[truck])


@compiled
def _earliest_position(d: Visits, s: Standing, v: int, j: int) -> int:
    """The first position after all jobs that must come before j; -1 when one is missing."""
    first = 0
    for at in range(d.after_from[j], d.after_from[j + 1]):
        found = -1
        for p in range(s.size[v]):
            if d.job[s.ways[v, p]] == d.after_of[at]:
                found = p + 1
        if found < 0:
            return -1
        first = max(first, found)
    return first


@compiled
def best_place(  # noqa: C901 - one loop, so that it stays in the processor
    d: Visits, s: Standing, v: int, j: int
) -> tuple[int, int, int]:
    """Cost, position and way of the cheapest way to put job j into the route; FAR when none.

    The cost is the time taken up: travel, waiting and work. One loop over plain arrays, because
    this is where the search spends its time.
    """
    best, at, chosen = FAR, -1, -1
    kind, n = d.kind[v], s.size[v]
    if d.first[kind, j] == d.first[kind, j + 1] or n == s.ways.shape[1]:
        return best, at, chosen
    low = _earliest_position(d, s, v, j) if len(d.after_of) > 0 else 0
    if low < 0:
        return best, at, chosen
    ways, done, latest = s.ways[v], s.done[v], s.latest[v]
    job, release, start, mark = d.job, d.release, d.start, d.mark
    minutes, travel, back = d.minutes, d.travel, d.back[v]
    for way in range(d.first[kind, j], d.first[kind, j + 1]):
        if not _room(d, s, v, way):
            continue
        out, home, own = d.out[way], d.home[way], mark[way]
        opens, closes, ends = release[way], start[way], d.end[way]
        for p in range(low, n + 1):
            free, to, before, setup = d.leaves[v], out, -1, 1
            if p > 0:
                free = done[p - 1]
                if free > closes:
                    break
                before = ways[p - 1]
                to = travel[job[before], j]
                setup = int(own < 0 or mark[before] != own)
            begin = max(free + to, opens)
            end = begin + minutes[j, setup]
            if begin > closes or end > ends:
                continue
            if p == n:
                if end + home > back:
                    continue
                cost = end + home - free - (d.home[before] if p > 0 else 0)
            else:
                after = ways[p]
                k = job[after]
                on = max(end + travel[j, k], release[after])
                setup = int(own < 0 or mark[after] != own)
                if on > start[after] or on + minutes[k, setup] > latest[p]:
                    continue
                cost = end + travel[j, k] - free
                cost -= travel[job[before], k] if p > 0 else d.out[after]
            if cost < best and (d.chance <= 0 or finished_in_time(d, s, v, p, way)):
                best, at, chosen = cost, p, way
    return best, at, chosen
