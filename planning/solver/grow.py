"""Columns priced instead of listed: better routes for the master, and a bound for any week.

Whatever the prices of the rows, no plan is worth more than the prices of all room plus each
crew-day's best route after prices (Lagrange; see `bound`). `pricing` gives no less than that best.
Jobs that follow others are priced as if they were free to start: their rows are charged to nobody
here and only credited, which again never makes the bound too low.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from planning.solver.bound import Array, Model
from planning.solver.pricing import best_route, desk
from planning.solver.ready import Ready
from planning.solver.rows import Rows
from planning.solver.timing import Route
from planning.solver.ways import Week

_LITTLE = 1e-6
_MOST_BRANCHES = 30_000  # for one crew's day; past it the answer is a rougher one, never too low


class Pricer:
    """Prices the crew-days of one week, again and again."""

    def __init__(self, ready: Ready, rows: Rows, week: Week) -> None:
        self.ready, self.rows, self.week = ready, rows, week
        self._standing, self._desk = desk(week.visits)
        options = [way.option for way in week.ways]
        turnouts = {job.turnout: i for i, job in enumerate(ready.jobs)}
        group = [
            [o.window for o in options],
            [turnouts[ready.jobs[o.job].turnout] for o in options],
        ]
        self._group = np.array(group, dtype=np.int64)
        starts = [ready.windows[o.window].start_min for o in options]
        self._opens = np.array(starts, dtype=np.int64)

    def bound(self, model: Model, prices: Array, stop: Callable[[], bool]) -> float | None:
        """What no plan can exceed, at these prices of the model's rows; None when stopped."""
        priced = np.maximum(prices, 0.0)
        priced[model.crew_rows] = 0.0
        draws = np.maximum(0.0, -(model.draws.T @ priced)) @ model.most
        total = float(priced @ model.room + draws)
        net, toll = self._after_prices(model, priced)
        for number in range(len(self.ready.crew_days)):
            if stop():
                return None
            total += self._best(number, net, toll, surely=False)
        return total

    def routes(self, model: Model, prices: Array, stop: Callable[[], bool]) -> Iterator[Route]:
        """Routes worth more than their prices, the crew-day's included, until stopped."""
        net, toll = self._after_prices(model, prices)
        for number in range(len(self.ready.crew_days)):
            if stop():
                return
            best = self._best(number, net, toll, surely=True)
            if best > prices[number] + _LITTLE:
                yield from self._found(number)

    def _best(self, number: int, net: Array, toll: Array, surely: bool) -> float:
        return best_route(
            self.week.visits, self._standing, self._desk, number,
            net, toll, self._opens, self._group, _MOST_BRANCHES, surely,
        )  # fmt: skip

    def _found(self, number: int) -> Iterator[Route]:
        for rank in range(int(self._desk.found[0])):
            ways = self._desk.routes[rank, : self._desk.lengths[rank]].tolist()
            route = self.week.route((number, tuple(ways)))
            if route is not None:
                yield route

    def _after_prices(self, model: Model, prices: Array) -> tuple[Array, Array]:
        """Each way's prize less what each visit pays, and the tolls of its window and turnout."""
        price = dict(zip(model.rows, prices.tolist(), strict=True))
        net, toll = self.week.visits.prize.copy(), np.zeros((2, len(self.week.ways)))
        kinds = np.repeat(
            np.arange(len(self.ready.crew_days)), np.diff(self.week.visits.first[:, [0, -1]])[:, 0]
        )
        for way, (option, _, _) in enumerate(self.week.ways):
            day, job = self.ready.crew_days[kinds[way]], self.ready.jobs[option.job]
            net[way] -= price.get(("job", option.job, 0, 0), 0.0)
            if day.crew.truck is not None:
                for item, amount in job.material.items():
                    net[way] -= amount * price.get(("use", day.crew.truck, item), 0.0)
            for row in self.rows.lets_follow(option.job, option.window):
                net[way] += price.get(row, 0.0)
            for row in self.rows.held(day, option.job, option.window):
                toll[int(row[0] == "turnout"), way] += price.get(row, 0.0)
        return net, toll
