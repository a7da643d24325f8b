"""Routes as columns of the master problem, straight from their ways, without timing them again.

What a way takes of each row is looked up once: what every visit takes (its job, its material, room
given to jobs that follow) adds up along a route; a place in a window and a turnout is taken once,
however many visits are made there.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain

import numpy as np
from scipy import sparse

from planning.solver.bound import Array, Material, Model
from planning.solver.improve import Order
from planning.solver.ready import Ready
from planning.solver.routes import required
from planning.solver.rows import Row, Rows
from planning.solver.visits import Ints
from planning.solver.ways import Week

Named = Row | tuple[str, str, str]
Entries = list[tuple[int, int, float]]  # way, row, how much


class Columns:
    """The rows of one week, and what each way takes of them."""

    def __init__(self, ready: Ready, rows: Rows, week: Week) -> None:
        self._ready, self._week = ready, week
        self._index: dict[Named, int] = {
            ("crew", day.index, 0, 0): day.index for day in ready.crew_days
        }
        material = Material(ready)
        each, gang, turnout = self._entries(rows, material)
        draws, self.most = material.draws(self._index)
        self.rows = tuple(self._index)
        shape = (len(week.ways), len(self.rows))
        self.each, self.gang, self.turnout = (_table(e, shape) for e in (each, gang, turnout))
        # The draws name rows of their own, so the table is made as high as all of them.
        self.draws = sparse.csc_array(
            (draws.data, draws.indices, draws.indptr), shape=(len(self.rows), draws.shape[1])
        )
        room = [material.room(r) if len(r) == 3 else float(rows.room(r)) for r in self.rows]
        self.room = np.array(room, dtype=np.float64)
        self.must = np.array([required(ready, d) != 0 for d in ready.crew_days], dtype=np.bool_)

    def _entries(self, rows: Rows, material: Material) -> tuple[Entries, Entries, Entries]:
        each: Entries = []
        held: dict[str, Entries] = {"gang": [], "turnout": []}
        for way, number in enumerate(self._week.vehicle.tolist()):
            day, option = self._ready.crew_days[number], self._week.ways[way].option
            each.append((way, self._at(("job", option.job, 0, 0)), 1.0))
            for use, amount in material.of_job(number, option.job).items():
                each.append((way, self._at(use), amount))
            for row in rows.lets_follow(option.job, option.window):
                each.append((way, self._at(row), -1.0))
            for row, count in rows.of_parts(option.job, option.window):
                each.append((way, self._at(row), float(count)))
            for row in rows.held(day, option.job, option.window):
                held[row[0]].append((way, self._at(row), 1.0))
        return each, held["gang"], held["turnout"]

    def _at(self, row: Named) -> int:
        return self._index.setdefault(row, len(self._index))

    def after_prices(self, prices: Array) -> tuple[Array, Array]:
        """Each way's prize less what each visit pays, and the tolls of its window and turnout."""
        net = np.asarray(self._week.visits.prize - self.each @ prices)
        return net, np.stack([self.gang @ prices, self.turnout @ prices])

    def in_order_of(self, rows: Sequence[Named], prices: Array) -> Array:
        """Prices of rows named in another order, in the order of these; 0 for those not named."""
        price = dict(zip(rows, prices.tolist(), strict=True))
        return np.array([price.get(row, 0.0) for row in self.rows], dtype=np.float64)

    def model(self, orders: Sequence[Order]) -> Model:
        """The master problem over these routes."""
        n = len(orders)
        days = np.array([day for day, _ in orders], dtype=np.int64)
        visits = _incidence(orders, len(self._week.ways))
        once = visits @ (self.gang + self.turnout)
        once.data = np.minimum(once.data, 1.0)
        crews = sparse.csr_array((np.ones(n), (np.arange(n), days)), shape=(n, len(self.rows)))
        return Model(
            np.asarray(visits @ self._week.visits.prize),
            days,
            sparse.csc_array((visits @ self.each + once + crews).T),
            self.draws,
            self.most,
            self.room,
            np.arange(len(self._ready.crew_days)),
            self.must,
            self.rows,
        )


def _table(entries: Entries, shape: tuple[int, int]) -> sparse.csr_array:
    ways, rows, amounts = zip(*entries, strict=True) if entries else ((), (), ())
    return sparse.csr_array((amounts, (ways, rows)), shape=shape, dtype=np.float64)


def _incidence(orders: Sequence[Order], ways: int) -> sparse.csr_array:
    at: Ints = np.fromiter(chain.from_iterable(some for _, some in orders), dtype=np.int64)
    pointers = np.cumsum([0, *(len(some) for _, some in orders)])
    return sparse.csr_array((np.ones(len(at)), at, pointers), shape=(len(orders), ways))
