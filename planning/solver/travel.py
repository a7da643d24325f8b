"""Road travel between places beside the railway."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property


@dataclass(frozen=True, slots=True)
class Place:
    """A point on a line, by its chainage in metres."""

    line: str
    chainage_m: float


@dataclass(frozen=True, slots=True)
class Link:
    """A road from a place on one line to a place on another (or a short cut on one line)."""

    a: Place
    b: Place
    minutes: float


@dataclass(frozen=True)
class Roads:
    """The roads of a territory: one along each line, at one speed, and links between lines.

    Travel is symmetric and obeys the triangle inequality, because it is the quickest way.
    """

    speed_kmh: float
    links: tuple[Link, ...] = ()

    def travel_min(self, a: Place, b: Place) -> float:
        """Minutes by the quickest road from a to b; infinite where no road joins them."""
        best = self._along(a, b)
        ends, between = self._ends, self._between
        for i, first in enumerate(ends):
            to_first = self._along(a, first)
            if to_first >= best:
                continue
            for j, last in enumerate(ends):
                best = min(best, to_first + between[i][j] + self._along(last, b))
        return best

    def whole_minutes(self, a: Place, b: Place) -> int | None:
        """Travel rounded up to whole minutes (keeps the triangle inequality); None: no road."""
        minutes = self.travel_min(a, b)
        # Rounding first takes out the last bits, which differ between the two directions.
        return None if math.isinf(minutes) else math.ceil(round(minutes, 6))

    def _along(self, a: Place, b: Place) -> float:
        if a.line != b.line:
            return math.inf
        return abs(a.chainage_m - b.chainage_m) * 60 / (1000 * self.speed_kmh)

    @cached_property
    def _ends(self) -> tuple[Place, ...]:
        return tuple(dict.fromkeys(p for link in self.links for p in (link.a, link.b)))

    @cached_property
    def _between(self) -> list[list[float]]:
        """Quickest minutes between all ends of links (Floyd and Warshall)."""
        ends = self._ends
        table = [[self._along(a, b) for b in ends] for a in ends]
        for link in self.links:
            i, j = ends.index(link.a), ends.index(link.b)
            table[i][j] = table[j][i] = min(table[i][j], link.minutes)
        for k in range(len(ends)):
            for i in range(len(ends)):
                for j in range(len(ends)):
                    table[i][j] = min(table[i][j], table[i][k] + table[k][j])
        return table
