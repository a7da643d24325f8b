"""The route search as a whole: a start, rounds of improvement, and every good route met on the way.

Repeatable for a seed: the temperature falls by the count of rounds, never by the clock.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cache

import numpy as np

from planning.solver.filling import fill, working_space
from planning.solver.ruin import rounds, stand
from planning.solver.visits import Standing, Visits, longest_route, nobody_out, one_visit

Order = tuple[int, tuple[int, ...]]  # a vehicle, and the ways of its route in order

CYCLE = 10_000  # rounds from hot to cold
_CHUNK = 500  # rounds between two looks at the clock
_HOT, _COLD = 1.0, 0.05  # in mean prizes: a worse plan by this is accepted one time in e
_NEAR = 2.0  # routes of plans worse by up to so many mean prizes are remembered
_TIME = 0.02  # of a mean prize for the time of a mean visit: enough to tell equals apart
_LONGEST = 10  # visits taken out of one route at once
_MEMORY = 1 << 18


class Improver:
    """Routes for these visits, getting better; start with `fixed` routes that must be kept."""

    def __init__(self, visits: Visits, seed: int, fixed: Iterable[Order] = ()) -> None:
        self._longest = longest = longest_route(visits)
        self.visits = visits
        self.seed = seed
        self.met: dict[Order, float] = {}
        self._now, self._orders, self._best = (nobody_out(visits, longest) for _ in range(3))
        self._room = working_space(visits)
        self._news = np.zeros(_MEMORY, dtype=np.int64)
        self._top = -np.inf
        self._done = 0
        self._mean = float(visits.prize.mean()) if len(visits.prize) else 0.0
        self._minute = _TIME * self._mean / _typical(visits)
        self.load(fixed)

    @property
    def routes(self) -> list[Order]:
        """The best plan met: each vehicle that goes out, and its ways in order."""
        return list(_orders(self._best))

    @property
    def value(self) -> float:
        """The prizes of the best plan met."""
        return sum(self.prize(ways) for _, ways in self.routes)

    def prize(self, ways: Sequence[int]) -> float:
        """The prizes of these ways together."""
        return float(self.visits.prize[list(ways)].sum())

    def load(self, routes: Iterable[Order]) -> None:
        """Go on from these routes, as the best met so far."""
        self._best.size[:] = 0
        for v, ways in routes:
            self._best.size[v] = len(ways)
            self._best.ways[v, : len(ways)] = ways
        # From nothing: what may not be taken out of the routes before is no part of these.
        self._now = nobody_out(self.visits, self._longest)
        stand(self.visits, self._now, self._best)
        self._top = -np.inf

    def start(self, stop: Callable[[], bool]) -> None:
        """Fill the vehicles a few at a time, those with least choice first."""
        kinds = self.visits.first[:, -1] - self.visits.first[:, 0]
        order = np.argsort(kinds[self.visits.kind], kind="stable")
        step = len(self._room.cost)
        for at in range(0, len(order), step):
            some = order[at : at + step]
            self._room.touched[: len(some)] = some
            fill(self.visits, self._now, self._room, len(some), 1.0, 0.0)
            if stop():
                break
        self._keep_best()

    def improve(self, stop: Callable[[], bool], count: int = CYCLE, hot: float = _HOT) -> None:
        """One fall from hot to cold; `stop` ends it early and the best is kept all the same."""
        if not len(self.visits.prize):
            return
        for at in range(0, count, _CHUNK):
            if stop():
                return
            size = min(_CHUNK, count - at)
            heats = [hot * (_COLD / hot) ** (x / count) for x in (at, at + size)]
            self._top, written = rounds(
                self.visits, self._now, self._orders, self._best, self._room,
                (self.seed * 1_000_003 + self._done) % (1 << 32), size,
                heats[0] * self._mean, heats[1] * self._mean, self._minute, _LONGEST,
                self._top, _NEAR * self._mean, self._news,
            )  # fmt: skip
            self._done += size
            self._remember(written)

    def _keep_best(self) -> None:
        for v, n in enumerate(self._now.size):
            self._best.size[v] = n
            self._best.ways[v, :n] = self._now.ways[v, :n]

    def _remember(self, written: int) -> None:
        at, news = 0, self._news[:written].tolist()
        while at < written:
            v, n = news[at : at + 2]
            order = (v, tuple(news[at + 2 : at + 2 + n]))
            if order not in self.met:
                self.met[order] = self.prize(order[1])
            at += n + 2


@cache
def warm_up() -> None:
    """Compile the search, so that this is not counted into anyone's seconds.

    The machine code is kept on disk: only the first run after a change takes long (a minute).
    """
    search = Improver(one_visit(), 0)
    search.start(lambda: False)
    search.improve(lambda: False, 1)


def _orders(standing: Standing) -> Iterator[Order]:
    for v, n in enumerate(standing.size):
        if n:
            yield v, tuple(int(way) for way in standing.ways[v, :n])


def _typical(visits: Visits) -> float:
    """Time of a mean visit: its work and the way to one of its ten nearest."""
    near = np.sort(visits.travel, axis=1)[:, 1:11]
    near = near[near < 1 << 39]
    return max(1.0, float(visits.minutes[:, 0].mean()) + (float(near.mean()) if near.size else 0))
