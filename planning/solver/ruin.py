"""Routes made better by taking some visits out and putting the most worth-while back in.

Slack is where a good plan hides its next visit, so what is taken out lies together: neighbouring
stretches of a few routes (Schrimpf et al. 2000; strings as in Christiaens and Vanden Berghe 2020),
or whole routes. A worse plan is accepted now and then, the less often the cooler (annealing).
"""

from __future__ import annotations

import math

import numpy as np

from planning.solver.compiled import compiled
from planning.solver.filling import MOST_TOUCHED, Room, fill, look
from planning.solver.placing import put_in, take_out
from planning.solver.visits import FAR, Ints, Standing, Visits


@compiled
def _touch(r: Room, touched: int, v: int) -> int:
    """Add the vehicle to those touched; how many there are now."""
    for k in range(touched):
        if r.touched[k] == v:
            return touched
    if touched < MOST_TOUCHED:
        r.touched[touched] = v
        return touched + 1
    return touched


@compiled
def _cut(d: Visits, s: Standing, r: Room, v: int, low: int, length: int) -> None:
    """Take out a stretch of the route, and the jobs that had to follow what went."""
    n = s.size[v]
    gone = s.gone
    for p in range(n):
        gone[p] = int(low <= p < low + length and not d.kept[s.ways[v, p]])
    if len(d.after_of) > 0:
        for p in range(n):
            j = d.job[s.ways[v, p]]
            for at in range(d.after_from[j], d.after_from[j + 1]):
                for q in range(p):
                    if gone[q] and d.job[s.ways[v, q]] == d.after_of[at]:
                        gone[p] = 1
    take_out(d, s, v)


@compiled
def _strings(d: Visits, s: Standing, r: Room, seed: int, routes: int, longest: int) -> int:
    """Stretches around the seed's neighbours out of so many routes; how many were touched."""
    touched = 0
    for rank in range(d.near.shape[1]):
        if touched == routes:
            break
        j = d.near[seed, rank]
        v = s.where[j]
        if v < 0:
            continue
        before = touched
        touched = _touch(r, touched, v)
        if touched == before:
            continue
        n = s.size[v]
        position = 0
        for p in range(n):
            if d.job[s.ways[v, p]] == j:
                position = p
        length = 1 + np.random.randint(min(longest, n))
        low = max(0, min(n - length, position - np.random.randint(length)))
        _cut(d, s, r, v, low, length)
    return touched


@compiled
def _stretch(d: Visits, s: Standing, r: Room, routes: int, longest: int) -> int:
    """A stretch anywhere out of so many routes drawn by lot."""
    touched = 0
    for _ in range(routes):
        v = np.random.randint(len(s.size))
        touched = _touch(r, touched, v)
        n = s.size[v]
        if n:
            length = 1 + np.random.randint(min(longest, n))
            _cut(d, s, r, v, np.random.randint(n - length + 1), length)
    return touched


@compiled
def _kin(d: Visits, s: Standing, r: Room, seed: int, routes: int) -> int:
    """All visits out of vehicles that could do the seed, drawn by lot."""
    touched = 0
    for _ in range(6 * routes):
        if touched == routes:
            break
        v = np.random.randint(len(s.size))
        if d.first[d.kind[v], seed] < d.first[d.kind[v], seed + 1]:
            before = touched
            touched = _touch(r, touched, v)
            if touched > before:
                _cut(d, s, r, v, 0, s.size[v])
    return touched


@compiled
def _force(d: Visits, s: Standing, r: Room, touched: int, j: int) -> None:
    """The job where it costs least, before any other."""
    best, vehicle = FAR, -1
    for k in range(touched):
        look(d, s, r, k, j, 0.0)
        if r.cost[k, j] < best:
            best, vehicle = r.cost[k, j], k
    if vehicle >= 0:
        put_in(d, s, r.touched[vehicle], r.at[vehicle, j], r.way[vehicle, j])


@compiled
def worth(d: Visits, s: Standing, v: int, minute: float) -> float:
    """The route's prizes less a little for the time it takes, so that slack is gathered."""
    total, before = 0.0, -1
    for p in range(s.size[v]):
        way = s.ways[v, p]
        road = d.out[way] if before < 0 else d.travel[d.job[before], d.job[way]]
        total += d.prize[way] - minute * road
        before = way
    if before >= 0:
        total -= minute * (d.home[before] + 0.3 * (s.done[v, s.size[v] - 1] - d.leaves[v]))
    return total


@compiled
def _put_back(d: Visits, s: Standing, r: Room, now: Standing, touched: int) -> None:
    """The touched routes as they are in `now`."""
    for k in range(touched):
        for p in range(s.size[r.touched[k]]):
            s.gone[p] = 1
        take_out(d, s, r.touched[k])
    for k in range(touched):
        v = r.touched[k]
        for p in range(now.size[v]):
            if p >= s.size[v] or s.ways[v, p] != now.ways[v, p]:
                put_in(d, s, v, p, now.ways[v, p])


@compiled
def _copy(s: Standing, to: Standing, v: int) -> None:
    """Only the order of visits."""
    to.size[v] = s.size[v]
    for p in range(s.size[v]):
        to.ways[v, p] = s.ways[v, p]


@compiled
def stand(d: Visits, s: Standing, orders: Standing) -> None:
    """The routes as in `orders`, whatever they were."""
    for v in range(len(s.size)):
        for p in range(s.size[v]):
            s.gone[p] = 1
        take_out(d, s, v)
    for v in range(len(s.size)):
        for p in range(orders.size[v]):
            if p >= s.size[v] or s.ways[v, p] != orders.ways[v, p]:
                put_in(d, s, v, p, orders.ways[v, p])


@compiled
def _ruin(d: Visits, s: Standing, r: Room, seed: int, longest: int) -> int:
    """Take something out; how many vehicles were touched."""
    routes = 1 + np.random.randint(min(4, len(s.size)))
    draw = np.random.random()
    if draw < 0.65:
        return _strings(d, s, r, seed, routes, longest)
    if draw < 0.9:
        return _stretch(d, s, r, routes, longest)
    return _kin(d, s, r, seed, min(routes, 3))


@compiled
def _note(s: Standing, news: Ints, written: int, v: int) -> int:
    """The route at the end of `news`, if there is room; how much of it is used."""
    n = int(s.size[v])
    if n == 0 or written + n + 2 > len(news):
        return written
    news[written], news[written + 1] = v, n
    for p in range(n):
        news[written + 2 + p] = s.ways[v, p]
    return written + n + 2


@compiled
def rounds(
    d: Visits, s: Standing, now: Standing, best: Standing, r: Room, seed: int, count: int,
    hot: float, cold: float, minute: float, longest: int, top: float, near: float, news: Ints,
) -> tuple[float, int]:  # fmt: skip
    """So many rounds of taking out and putting in, from `s`, cooling from `hot` to `cold`.

    `now` and `best` are orders only: `now` takes those of `s`, `best` what is worth over `top`.
    `news` takes the routes accepted while worth more than the best less `near`, (vehicle, count,
    ways...) one after another, until it is full. Returns what `best` is worth, and how much of
    `news` is used.
    """
    np.random.seed(seed)
    value, written = 0.0, 0
    for v in range(len(s.size)):
        r.worth[v] = worth(d, s, v, minute)
        value += r.worth[v]
        _copy(s, now, v)
    heat = hot
    for _ in range(count):
        heat *= (cold / hot) ** (1.0 / count)
        seed_job = np.random.randint(len(s.where))
        touched = _ruin(d, s, r, seed_job, longest)
        if s.where[seed_job] < 0 and np.random.random() < 0.5:
            _force(d, s, r, touched, seed_job)
        fill(d, s, r, touched, 0.5 + 1.5 * np.random.random(), 1.5 * np.random.random())
        change = 0.0
        for k in range(touched):
            v = r.touched[k]
            change += worth(d, s, v, minute) - r.worth[v]
        if change <= heat * math.log(max(1e-300, np.random.random())):
            _put_back(d, s, r, now, touched)
            continue
        value += change
        for k in range(touched):
            v = r.touched[k]
            r.worth[v] = worth(d, s, v, minute)
            _copy(s, now, v)
            if change != 0.0 and value > top - near:
                written = _note(s, news, written, v)
        if value > top + 1e-9:
            top = value
            for v in range(len(s.size)):
                _copy(s, best, v)
    return top, written
