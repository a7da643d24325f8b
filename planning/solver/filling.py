"""Filling routes: absent visits into the vehicles touched, the most worth-while first."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from planning.solver.compiled import compiled
from planning.solver.placing import best_place, put_in
from planning.solver.visits import FAR, Floats, Ints, Standing, Visits

MOST_TOUCHED = 8


class Room(NamedTuple):
    """Working space, made once: costs and places by (vehicle touched, job), and lists."""

    cost: Ints
    at: Ints
    way: Ints
    fresh: Ints
    touched: Ints
    todo: Ints
    weight: Floats
    worth: Floats


def working_space(visits: Visits) -> Room:
    """Room for the search on these visits."""
    n = len(visits.minutes)
    shape = (MOST_TOUCHED, n)
    return Room(
        cost=np.full(shape, FAR), at=np.zeros(shape, dtype=np.int64),
        way=np.zeros(shape, dtype=np.int64), fresh=np.zeros(shape, dtype=np.int64),
        touched=np.zeros(MOST_TOUCHED + 1, dtype=np.int64), todo=np.zeros(n, dtype=np.int64),
        weight=np.zeros(n), worth=np.zeros(len(visits.kind)),
    )  # fmt: skip


@compiled
def _absent(d: Visits, s: Standing, r: Room, touched: int) -> int:
    """The jobs not placed that a touched vehicle could do, into `todo`; how many."""
    n = 0
    for j in range(len(s.where)):
        if s.where[j] < 0:
            for k in range(touched):
                kind = d.kind[r.touched[k]]
                if d.first[kind, j] < d.first[kind, j + 1]:
                    r.todo[n] = j
                    n += 1
                    break
    return n


@compiled
def look(d: Visits, s: Standing, r: Room, k: int, j: int, blink: float) -> None:
    """Where the job fits best in the touched vehicle, forgotten now and then."""
    v = r.touched[k]
    if np.random.random() < blink:
        r.cost[k, j] = FAR
    else:
        r.cost[k, j], r.at[k, j], r.way[k, j] = best_place(d, s, v, j)


@compiled
def fill(  # noqa: C901 - its loops share one working space
    d: Visits, s: Standing, r: Room, touched: int, power: float, noise: float
) -> None:
    """Put absent jobs into the touched vehicles, most prize for the time first, until none fits.

    `power` weighs prize against time, `noise` shakes the order.
    """
    n = _absent(d, s, r, touched)
    for i in range(n):
        j = r.todo[i]
        r.weight[j] = 1.0 + noise * (np.random.random() - 0.5)
        for k in range(touched):
            look(d, s, r, k, j, 0.05 * noise)
    while n > 0:
        best, pick, vehicle = 0.0, -1, -1
        kept = 0
        for i in range(n):
            j = r.todo[i]
            fits = False
            for k in range(touched):
                cost = r.cost[k, j]
                if cost < FAR:
                    fits = True
                    prize = d.prize[r.way[k, j]]
                    worth = r.weight[j] * prize**power / (cost + 1.0)
                    if worth > best:
                        best, pick, vehicle = worth, j, k
            if fits:
                r.todo[kept] = j
                kept += 1
        n = kept
        if pick < 0:
            return
        v = r.touched[vehicle]
        put_in(d, s, v, r.at[vehicle, pick], r.way[vehicle, pick])
        kept = 0
        for i in range(n):
            j = r.todo[i]
            if j != pick:
                r.todo[kept] = j
                kept += 1
                for k in range(touched):
                    # What takes rows or material may have taken it from the other vehicles too.
                    if k == vehicle or (r.cost[k, j] < FAR and len(d.row_of) > 0):
                        look(d, s, r, k, j, 0.0)
        n = kept
