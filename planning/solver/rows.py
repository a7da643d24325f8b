"""The rules between crews, as rows: for each, what every route takes of it and how much there is.

A row is named by a tuple. The same rows keep the search honest and make up the master problem.
Material is not here: what the depot gives each truck is a decision of its own (see `stock`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from functools import cached_property

from planning.solver.ready import CrewDay, Ready
from planning.solver.timing import Route

Row = tuple[str, int, int, int]


class Rows:
    """The rows of a problem."""

    def __init__(self, ready: Ready) -> None:
        self.ready = ready
        self._seen: dict[tuple[int, int, tuple[tuple[int, int, int], ...]], dict[Row, int]] = {}

    def of(self, route: Route) -> dict[Row, int]:
        """What the route takes of each row (less than nothing where it gives room to others)."""
        key = (route.day, route.ways, route.levels)
        found = self._seen.get(key)
        if found is None:
            found = self._seen[key] = self._of(route)
        return found

    def room(self, row: Row) -> int:
        """How much of the row all routes together may take."""
        kind, number, _, _ = row
        if kind == "gang":
            return self.ready.windows[number].gangs
        return 0 if kind in ("after", "together") else 1

    def keep(self, routes: Iterable[Route]) -> bool:
        """Whether these routes, one a crew-day, keep every row together."""
        taken: dict[Row, int] = {}
        for route in routes:
            for row, count in self.of(route).items():
                taken[row] = taken.get(row, 0) + count
        return all(count <= self.room(row) for row, count in taken.items())

    def _of(self, route: Route) -> dict[Row, int]:
        found: dict[Row, int] = {("crew", route.day, 0, 0): 1}
        day = self.ready.crew_days[route.day]
        for step in route.steps:
            found["job", step.job, 0, 0] = 1
            for row in self.held(day, step.job, step.window):
                found[row] = 1
            for row in self.lets_follow(step.job, step.window):
                found[row] = found.get(row, 0) - 1
            for row, count in self.of_parts(step.job, step.window):
                found[row] = found.get(row, 0) + count
        for job, first, level in route.levels:
            for k in range(level, len(self.ready.thresholds[first]) + 1):
                row = ("after", first, job, k)
                found[row] = found.get(row, 0) + 1
        return {row: count for row, count in found.items() if count}

    def held(self, day: CrewDay, job: int, window: int) -> Iterator[Row]:
        """A place in the window, and the turnout, from when shift and window first overlap."""
        start, end = self._stay(day, window)
        for t in self._gang_starts[window]:
            if start <= t < end:
                yield ("gang", window, t, 0)
        turnout = self._turnout[job]
        for t in self._turnout_starts[turnout]:
            if start <= t < end:
                yield ("turnout", turnout, t, 0)

    def lets_follow(self, first: int, window: int) -> Iterator[Row]:
        """The rows in which the job, done in this window, gives room to those that follow it."""
        if first not in self.ready.has_followers:
            return
        times = self.ready.thresholds[first]
        reached = times.index(self.ready.windows[window].end_min) + 1
        for job, ties in enumerate(self.ready.after):
            if first in ties:
                for k in range(reached, len(times) + 1):
                    yield ("after", first, job, k)

    def of_parts(self, job: int, window: int) -> Iterator[tuple[Row, int]]:
        """What a part, or a job offered in parts, takes of the rows that tie them together.

        In a row `together` each part needs the next one, and the last the first, so that all are
        done or none. In a row `order` a part in a window that ends at some minute or later keeps
        the next part out of the windows that begin before that minute.
        """
        number = self.ready.group_of.get(job)
        if number is None:
            return
        group, one = self.ready.groups[number], self.ready.windows[window]
        if job == group.whole:
            yield ("instead", number, 0, 0), 1
            return
        at, count = group.parts.index(job), len(group.parts)
        if at == 0:
            yield ("instead", number, 0, 0), 1
        else:
            for end in self.ready.thresholds[group.parts[at - 1]]:
                if one.start_min < end:
                    yield ("order", number, at, end), 1
        if at < count - 1:
            for end in self.ready.thresholds[job]:
                if end <= one.end_min:
                    yield ("order", number, at + 1, end), 1
        yield ("together", number, at, 0), 1
        yield ("together", number, (at - 1) % count, 0), -1

    def _stay(self, day: CrewDay, window: int) -> tuple[int, int]:
        one = self.ready.windows[window]
        return max(one.start_min, day.shift.start_min), min(one.end_min, day.shift.end_min)

    @cached_property
    def _turnout(self) -> list[int]:
        names = {job.turnout: i for i, job in enumerate(self.ready.jobs)}
        return [names[job.turnout] for job in self.ready.jobs]

    @cached_property
    def _gang_starts(self) -> list[list[int]]:
        """For each window, the minutes at which a gang may come in: there counts are highest."""
        return [sorted(self._comings(w)) for w in range(len(self.ready.windows))]

    @cached_property
    def _turnout_starts(self) -> dict[int, list[int]]:
        """The same for each turnout with more than one job (one job has one crew anyway)."""
        count = Counter(self._turnout)
        starts: dict[int, set[int]] = {turnout: set() for turnout in count}
        for turnout, windows in zip(self._turnout, self.ready.windows_of, strict=True):
            if count[turnout] > 1:
                starts[turnout].update(*(self._comings(w) for w in windows))
        return {turnout: sorted(times) for turnout, times in starts.items()}

    def _comings(self, window: int) -> set[int]:
        stays = (self._stay(day, window) for day in self.ready.crew_days)
        return {start for start, end in stays if start < end}
