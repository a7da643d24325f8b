"""Columns priced: better routes for the master, a bound for any week, and all routes near it.

Whatever the prices of the rows, no plan is worth more than the prices of all room plus each
crew-day's best route after prices (Lagrange; see `bound`). `pricing` gives no less than that best.
A plan with a route in it that is worth so much less than its crew-day's best is worth at least so
much less than the bound; so only routes within the gap between a plan and the bound can be in a
better plan. Jobs that follow others are priced as if they were free to start: their rows are
charged to nobody here and only credited, which again never makes the bound too low.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from planning.solver.bound import Array
from planning.solver.columns import Columns
from planning.solver.improve import Order
from planning.solver.pricing import Found, desk, room_for, walk
from planning.solver.ready import Ready
from planning.solver.visits import Ints
from planning.solver.ways import Week

_LITTLE = 1e-6
_NONE = -1e300
FEW_BRANCHES = 1000  # a first look into each crew-day
MOST_BRANCHES = 3_000_000
_A_DAY = 40  # routes found for one crew-day, each better than the last


@dataclass(frozen=True)
class Priced:
    """The bound at these prices, the best of each crew-day, and routes worth more than they cost.

    The prices are those of the rows of `Columns`, the crew-days' taken as nothing.
    """

    bound: float
    prices: Array
    best: Array
    orders: tuple[Order, ...]
    whole: bool  # whether all branches were looked into, so that there are no other such routes


class Pricer:
    """Prices the crew-days of one week, again and again."""

    def __init__(self, ready: Ready, week: Week, columns: Columns) -> None:
        self.ready, self.week, self.columns = ready, week, columns
        self._desk = desk(week.visits)
        self._found = room_for(week.visits, _A_DAY)
        options = [way.option for way in week.ways]
        turnouts = {job.turnout: i for i, job in enumerate(ready.jobs)}
        group = [
            [o.window for o in options],
            [turnouts[ready.jobs[o.job].turnout] for o in options],
        ]
        self._group = np.array(group, dtype=np.int64)
        starts = [ready.windows[o.window].start_min for o in options]
        self._opens = np.array(starts, dtype=np.int64)

    def price(self, prices: Array, branches: int, stop: Callable[[], bool]) -> Priced | None:
        """The bound these prices give and what is worth more than them; None when stopped.

        So many branches are looked into for each crew-day; past them the bound is a rougher one.
        """
        days, columns = range(len(self.ready.crew_days)), self.columns
        priced = np.maximum(prices, 0.0)
        priced[: len(days)] = 0.0
        draws = np.maximum(0.0, -(columns.draws.T @ priced)) @ columns.most
        net, toll = columns.after_prices(priced)
        best, orders, whole = np.zeros(len(days)), list[Order](), True
        for number in days:
            if stop():
                return None
            floor = _NONE if self._desk.need[number] else 0.0
            best[number] = self._walk(
                self._found, number, net, toll, floor, branches, least=0.0, rising=True
            )
            found = _best_found(self._found, floor)
            whole = whole and best[number] <= max(found, 0.0) + _LITTLE
            if found > prices[number] + _LITTLE:
                orders += _orders(number, self._found)
        bound = float(priced @ columns.room + draws + best.sum())
        return Priced(bound, priced, best, tuple(orders), whole)

    def near(
        self, priced: Priced, gap: float, most: int, stop: Callable[[], bool]
    ) -> list[Order] | None:
        """All routes that can be in a plan worth more than the bound less the gap.

        Of those that do the same jobs in the same windows the one worth most. None when there are
        more than `most` on one crew-day, or when stopped.
        """
        net, toll = self.columns.after_prices(priced.prices)
        found, orders = room_for(self.week.visits, most), list[Order]()
        for number, best in enumerate(priced.best.tolist()):
            floor = best - gap - _LITTLE
            # A visit worth less than nothing costs its route that much: no more than the gap.
            least = -gap - _LITTLE
            self._walk(found, number, net, toll, floor, MOST_BRANCHES, least=least, rising=False)
            if found.number[0] > most or stop():
                return None
            orders += self._best_of_alike(number, found)
        return orders

    def _walk(
        self,
        found: Found,
        number: int,
        net: Array,
        toll: Array,
        floor: float,
        branches: int,
        *,
        least: float,
        rising: bool,
    ) -> float:
        return walk(
            self.week.visits, self._desk, found, number, net, toll, self._opens, self._group,
            floor, least, rising, branches,
        )  # fmt: skip

    def _best_of_alike(self, number: int, found: Found) -> list[Order]:
        n = int(found.number[0])
        if not n:
            return []
        ways, lengths = found.ways[:n], found.lengths[:n]
        beyond = np.arange(ways.shape[1]) >= lengths[:, None]
        prize = np.where(beyond, 0.0, self.week.visits.prize[ways]).sum(axis=1)
        order = np.argsort(-prize, kind="stable")
        options: Ints = np.where(beyond, -1, self.week.option[ways])[order]
        _, first = np.unique(np.sort(options, axis=1), axis=0, return_index=True)
        return [(number, tuple(ways[i, : lengths[i]].tolist())) for i in order[first]]


def _best_found(found: Found, otherwise: float) -> float:
    last = min(int(found.number[0]), len(found.lengths)) - 1
    return float(found.worth[last]) if last >= 0 else otherwise


def _orders(number: int, found: Found) -> Iterator[Order]:
    for rank in range(min(int(found.number[0]), len(found.lengths))):
        yield number, tuple(found.ways[rank, : found.lengths[rank]].tolist())
