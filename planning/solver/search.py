"""A good plan fast: put jobs in where they save most a minute, take some out, put in again.

Repeatable for a seed as long as `stop` does not end it early.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Iterator
from itertools import islice

from planning.solver.parts import Group
from planning.solver.problem import ProblemError
from planning.solver.ready import Option, Ready
from planning.solver.routes import required
from planning.solver.rows import Row, Rows
from planning.solver.stock import enough, never_short, used
from planning.solver.timing import Route, empty, follow, options_of, waits

Way = tuple[Option, int]
Ways = list[tuple[Option, int]]

_ROUNDS = 150
_EARLIER_TRIED = 2_000
_PLACES_KEPT = 3
_MOST_TRIED = 60_000  # a count of work, not of time, so that the same seed gives the same plan


class Search:
    """The routes of all crew-days, kept within every rule while jobs go in and out."""

    def __init__(self, ready: Ready, rows: Rows, seed: int) -> None:
        self.ready = ready
        self.rows = rows
        self.draw = random.Random(seed)  # noqa: S311 - repeatable, not secret
        self.tried = 0
        self.plenty = never_short(ready)
        self.routes = _locked_routes(ready)
        self.taken: dict[Row, int] = {}
        for route in self.routes:
            self._count(route, 1)
        self._places: dict[tuple[int, tuple[tuple[int, int, int], ...], int], list[Route]] = {}
        self._ways: list[dict[int, list[Option]]] = [{} for _ in ready.crew_days]
        for day, options in enumerate(ready.options):
            for option in options:
                self._ways[day].setdefault(option.job, []).append(option)

    @property
    def value(self) -> float:
        return sum(route.value for route in self.routes)

    @property
    def sound(self) -> bool:
        """Whether every row holds (jobs locked after one not yet placed break a row at first)."""
        return all(n <= self.rows.room(row) for row, n in self.taken.items())

    def load(self, routes: Iterable[Route]) -> None:
        """Start again from these routes (empty ones may be missing)."""
        for day in self.ready.crew_days:
            self.swap(empty(day))
        for route in routes:
            self.swap(route)

    def take_in(self, group: Group, without: int | None = None) -> bool:
        """Put all parts of a job in (but one, if said), the whole job being taken out.

        Each goes where it adds most, the first window first. Nothing changes when not all fit.
        """
        before, taken = list(self.routes), dict(self.taken)
        if group.whole is not None:
            for day in range(len(self.routes)):
                self._without(day, {group.whole})
        for part in group.parts:
            if part == without or self._placed() >> part & 1:
                continue
            longer = self._place_of_part(part)
            if longer is None:
                self.routes, self.taken = before, taken
                return False
            self.swap(longer)
        return True

    def _place_of_part(self, part: int) -> Route | None:
        """The best route that takes the part in; whether its fellows are in is not asked."""
        found = []
        for route in self.routes:
            for longer in self.places(part, route):
                if self.fits(longer, alone=False):
                    end = max(step.end for step in longer.steps if step.job == part)
                    found.append((route.value - longer.value, end, longer.day, longer))
        return min(found, key=lambda one: one[:3])[3] if found else None

    def improve(self, stop: Callable[[], bool], rounds: int = _ROUNDS) -> None:
        """Fill, then take out and fill again, keeping what is at least as good."""
        self.tried = 0
        self.fill(noise=0.0)
        for _ in range(rounds):
            if stop() or self.tried > _MOST_TRIED:
                return
            before, taken, worth = list(self.routes), dict(self.taken), (self.sound, self.value)
            self._take_out()
            self.fill(noise=0.3)
            if (self.sound, self.value) < worth:
                self.routes, self.taken = before, taken

    def fill(self, noise: float) -> None:
        """Put in jobs, the most saved for each minute first, until none fits."""
        placed = self._placed()
        todo = {j for j in range(len(self.ready.jobs)) if not placed >> j & 1} - self.ready.parts
        offers: dict[tuple[int, int], tuple[float, Route] | None] = {}
        changed: Iterable[int] = range(len(self.routes))
        weight = {j: 1 + noise * (self.draw.random() - 0.5) for j in sorted(todo)}
        while todo:
            for day in changed:
                for j in self._ways[day].keys() & todo:
                    offers[j, day] = self._offer(j, day, weight[j])
            standing = [
                (offer[0], -j, -day)
                for (j, day), offer in offers.items()
                if offer is not None and j in todo
            ]
            best = max(standing, default=None)
            if best is None or best[0] < 0:
                return
            j, day = -best[1], -best[2]
            changed = self._take_up(offers, j, day, weight[j], todo)

    def _take_up(
        self,
        offers: dict[tuple[int, int], tuple[float, Route] | None],
        j: int,
        day: int,
        weight: float,
        todo: set[int],
    ) -> tuple[int, ...]:
        """Put the job in if the offer still stands, else renew it; say where to look again."""
        now = self._offer(j, day, weight)
        offer = offers[j, day]
        if now is None or offer is None or now[1] is not offer[1]:
            offers[j, day] = now
            return ()
        self.swap(now[1])
        todo.discard(j)
        # A job that others wait for opens places for them on every crew-day.
        return tuple(range(len(self.routes))) if j in self.ready.has_followers else (day,)

    def swap(self, route: Route) -> None:
        """Put this route in place of its crew-day's present one."""
        self._count(self.routes[route.day], -1)
        self._count(route, 1)
        self.routes[route.day] = route

    def fits(self, route: Route, *, alone: bool = True) -> bool:
        """Whether the route may take the place of its crew-day's present one.

        Not `alone`, other routes will bring the parts that those in it belong together with.
        """
        old = self.rows.of(self.routes[route.day])
        for row, n in self.rows.of(route).items():
            more = n - old.get(row, 0)
            if not alone and row[0] == "together":
                continue
            if more > 0 and self.taken.get(row, 0) + more > self.rows.room(row):
                return False
        lost = (r for r, n in old.items() if n < 0 and r not in self.rows.of(route))
        if any(self.taken[r] - old[r] > self.rows.room(r) for r in lost):
            return False
        if self.plenty:
            return True
        others = [r for r in self.routes if r.day != route.day]
        return enough(self.ready.problem, used(self.ready, [*others, route]))

    def places(self, job: int, route: Route) -> list[Route]:
        """The best few routes made by putting the job into this one."""
        key = (route.day, tuple((s.job, s.window, s.wait) for s in route.steps), job)
        found = self._places.get(key)
        if found is None:
            found = self._places[key] = self._find_places(job, route)
        return found

    def _find_places(self, job: int, route: Route) -> list[Route]:
        ready, day = self.ready, self.ready.crew_days[route.day]
        ways = options_of(ready, route)
        found: list[Route] = []
        for option in self._ways[route.day].get(job, ()):
            for i in range(len(ways) + 1):
                head = follow(ready, day, ways[:i])
                self.tried += 1
                for wait in waits(ready, head, option) if head is not None else ():
                    longer = follow(ready, day, [*ways[:i], (option, wait), *ways[i:]])
                    if longer is not None:
                        found.append(longer)
        return sorted(found, key=lambda r: (-r.value, r.end, r.ways))[:_PLACES_KEPT]

    def _offer(self, j: int, day: int, weight: float) -> tuple[float, Route] | None:
        route = self.routes[day]
        for longer in self.places(j, route):
            gain = longer.value - route.value  # below 0 where it would make others late
            if gain >= 0 and self.fits(longer):
                return gain * weight / (longer.end - route.end + 30), longer
        return None

    def _take_out(self) -> None:
        """Take out a random set of jobs: whole crew-days, or jobs here and there."""
        busy = [r.day for r in self.routes if r.steps]
        if not busy:
            return
        if self.draw.random() < 0.5:
            gone = set(self.draw.sample(busy, min(len(busy), self.draw.randint(1, 4))))
            chosen = {s.job for r in self.routes if r.day in gone for s in r.steps}
        else:
            share = self.draw.uniform(0.05, 0.25)
            jobs = [s.job for r in self.routes for s in r.steps]
            chosen = {j for j in jobs if self.draw.random() < share}
        for day in busy:
            self._without(day, chosen)

    def _without(self, day: int, chosen: set[int]) -> None:
        ready, route = self.ready, self.routes[day]
        ways = options_of(ready, route)
        kept = [w for w in ways if w[0].job not in chosen or w[0].locked]
        if len(kept) < len(ways):
            shorter = follow(ready, ready.crew_days[day], kept)
            if shorter is not None and self.fits(shorter):
                self.swap(shorter)

    def _placed(self) -> int:
        placed = 0
        for route in self.routes:
            placed |= route.jobs
        return placed

    def _count(self, route: Route, sign: int) -> None:
        for row, n in self.rows.of(route).items():
            self.taken[row] = self.taken.get(row, 0) + sign * n


def _locked_routes(ready: Ready) -> list[Route]:
    """Each crew-day with its locked jobs, and those that only it can do in time before them."""
    routes: list[Route] = []
    taken = 0
    for number in range(len(ready.crew_days)):
        routes.append(_locked_route(ready, number, taken))
        taken |= routes[-1].jobs
    return routes


def _with_earlier(ready: Ready, number: int, ways: Ways, taken: int) -> Iterator[Ways]:
    """These ways as they are; then with the jobs that must come before, wherever they could go."""
    yield ways
    here = {option.job for option, _ in ways}
    missing = {first for job in here for first in ready.after[job]} - here
    for option in ready.options[number]:
        if option.job in missing and not option.locked and not taken >> option.job & 1:
            for i in range(len(ways)):
                yield from _with_earlier(ready, number, [*ways[:i], (option, 0), *ways[i:]], taken)


def _locked_route(ready: Ready, number: int, taken: int) -> Route:
    """The crew-day with its locked jobs in the order of their fixed starts, and nothing more
    where those alone keep every rule."""
    day = ready.crew_days[number]
    must = required(ready, day)
    fixed = [o for o in ready.options[number] if o.locked]
    ways: Ways = [(o, 0) for o in sorted(fixed, key=lambda o: o.fixed or 0)]
    some = islice(_with_earlier(ready, number, ways, taken), _EARLIER_TRIED)
    tried = (follow(ready, day, one) for one in some)
    route = next((one for one in tried if one is not None), None)
    if route is None or route.jobs & must != must:
        names = ", ".join(job.id for j, job in enumerate(ready.jobs) if must >> j & 1)
        raise ProblemError(
            (
                f"Crew {day.crew.id} on day {day.shift.day} cannot do what is locked to it as "
                f"locked ({names}): check travel, window ends, shift, qualifications, material "
                f"and the chance of being done in time.",
            )
        )
    return route if route.steps else empty(day)
