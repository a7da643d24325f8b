"""A week's crew-days as visits with windows, and the routes found turned back into a crew's day.

What the search works on is the week itself with three things left to the stages after it: waiting
for another crew (a job that follows others goes only into their route), the finer estimates of the
chance of a day with several starts that may decide its end, and the routes' last word, which is
`timing.follow` alone: a route it does not allow is dropped, whatever the search thought of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import accumulate
from typing import NamedTuple

import numpy as np

from planning.solver.durations import WEIGHT
from planning.solver.improve import Order
from planning.solver.problem import Job, Problem
from planning.solver.ready import CrewDay, Option, Ready
from planning.solver.routes import worth_while
from planning.solver.rows import Row, Rows
from planning.solver.stock import at_depot, room_kg, unit_kg, uses
from planning.solver.timing import Route, Step, follow
from planning.solver.visits import FAR, Floats, Ints, Visits, nearest


class Way(NamedTuple):
    """An option, finished by `end` to be worth `prize`."""

    option: Option
    end: int
    prize: float


class Week:
    """The visits of a week, and for each way its vehicle and the option it stands for."""

    def __init__(self, ready: Ready, rows: Rows) -> None:
        self.ready = ready
        by_day = [sorted(_ways(ready, day), key=_by_job) for day in ready.crew_days]
        self.ways = [way for ways in by_day for way in ways]
        self.visits = _visits(ready, rows, by_day)
        sizes = [len(ways) for ways in by_day]
        self.vehicle = np.repeat(np.arange(len(by_day), dtype=np.int64), sizes)
        number: dict[tuple[int, int], int] = {}
        self.option = _ints(
            number.setdefault((day, way.option.bit), len(number))
            for day, way in zip(self.vehicle.tolist(), self.ways, strict=True)
        )

    def route(self, order: Order) -> Route | None:
        """The crew's day that visits these ways; None where a rule of the day forbids it."""
        number, ways = order
        chosen = ((self.ways[way].option, 0) for way in ways)
        return follow(self.ready, self.ready.crew_days[number], chosen)

    def order(self, route: Route) -> Order | None:
        """The ways of a route; None for one that waits, which the search does not know."""
        if any(step.wait for step in route.steps):
            return None
        found = [self._way(route.day, step) for step in route.steps]
        return route.day, tuple(found)

    def around(self, orders: Iterable[Order]) -> Visits:
        """The visits for a search around these routes: parts of jobs neither come nor go in it.

        A job done in parts is shut whole, one that is not is shut in parts.
        """
        if not self.ready.groups:
            return self.visits
        job, parts = self.visits.job, self.ready.parts
        placed = {int(job[way]) for _, ways in orders for way in ways}
        shut = parts - placed
        shut |= {g.whole for g in self.ready.groups if g.whole is not None and placed & {*g.parts}}
        return self.visits._replace(
            end=np.where(np.isin(job, sorted(shut)), -1, self.visits.end),
            kept=self.visits.kept | np.isin(job, sorted(parts)),
        )

    def _way(self, day: int, step: Step) -> int:
        first = self.visits.first[day]
        return next(
            w
            for w in range(first[step.job], first[step.job + 1])
            if self._option_is(w, step) and step.end <= self.ways[w].end
        )

    def _option_is(self, way: int, step: Step) -> bool:
        option = self.ways[way].option
        return (option.window, option.fixed) == (step.window, step.fixed)


def _by_job(way: Way) -> tuple[int, int, int]:
    return way.option.job, way.option.window, way.end


def _ways(ready: Ready, day: CrewDay) -> Iterator[Way]:
    """Each option once; twice where the due date in its window changes what it is worth."""
    for option in worth_while(ready, day):
        due = ready.jobs[option.job].due_min
        ends = {option.end} if due is None or due >= option.end else {option.end, due}
        for end in ends:
            if end > option.release:
                saved = ready.value(day, option.job, end)
                yield Way(
                    option, end, saved + ready.kept(day, option.job, option.window, option.fixed)
                )


def _visits(ready: Ready, rows: Rows, by_day: list[list[Way]]) -> Visits:
    problem, jobs = ready.problem, ready.jobs
    ways = [(ready.crew_days[d], way) for d, some in enumerate(by_day) for way in some]
    options = [way.option for _, way in ways]
    number: dict[Row, int] = {}
    taken = [
        sorted({number.setdefault(row, len(number)) for row in rows.held(day, o.job, o.window)})
        for day, (o, _, _) in ways
    ]
    travel = _ints([FAR if t is None else t for line in ready.travel for t in line])
    travel = travel.reshape(len(jobs), len(jobs))
    trucks = {truck.id: i for i, truck in enumerate(problem.trucks)}
    names, use = _used(problem, jobs)
    return Visits(
        job=_ints(o.job for o in options),
        release=_ints(o.release if o.fixed is None else o.fixed for o in options),
        held=_ints(o.fixed if o.locked and o.fixed is not None else o.release for o in options),
        start=_ints(FAR if o.fixed is None else o.fixed for o in options),
        end=_ints(way.end for _, way in ways),
        out=_ints(o.home for o in options),
        home=_ints(o.home for o in options),
        mark=_marks(ready, options),
        deadline=_ints(o.end for o in options),
        prize=np.array([way.prize for _, way in ways], dtype=np.float64),
        first=_firsts(by_day, len(jobs)),
        kind=np.arange(len(by_day), dtype=np.int64),
        leaves=_ints(day.shift.start_min for day in ready.crew_days),
        back=_ints(day.shift.end_min for day in ready.crew_days),
        minutes=_ints(m for pair in ready.minutes for m in pair).reshape(len(jobs), 2),
        travel=travel,
        near=nearest(travel),
        kept=np.array([o.locked for o in options], dtype=np.bool_),
        row_from=_pointers(taken),
        row_of=_ints(row for some in taken for row in some),
        room=_ints(rows.room(row) for row in number),
        after_from=_pointers(ready.after),
        after_of=_ints(i for ties in ready.after for i in ties),
        truck=_ints(trucks.get(day.crew.truck or "", -1) for day in ready.crew_days),
        use_of=_ints(day.shift.day * len(jobs) + way.option.job for day, way in ways),
        use=use,
        own=_table(
            [[truck.stock.get(name, 0.0) for name in names] for truck in problem.trucks],
            len(names),
        ),
        depot=np.array([at_depot(problem, name) for name in names], dtype=np.float64),
        unit_kg=np.array([unit_kg(problem, name) for name in names], dtype=np.float64),
        room_kg=np.array([room_kg(problem, truck) for truck in problem.trucks], dtype=np.float64),
        chance=problem.chance,
        given=ready.moments,
        weight=WEIGHT,
    )


def _used(problem: Problem, jobs: Sequence[Job]) -> tuple[list[str], Floats]:
    """The names that use is counted under, and the use of each job on each day: day by day."""
    amounts = [uses(problem, day, job) for day in range(problem.days) for job in jobs]
    names = sorted({name for some in amounts for name in some})
    return names, _table([[some.get(name, 0.0) for name in names] for some in amounts], len(names))


def _ints(numbers: Iterable[int]) -> Ints:
    return np.array(list(numbers), dtype=np.int64)


def _pointers(lists: Sequence[Sequence[int]]) -> Ints:
    return _ints(accumulate((len(some) for some in lists), initial=0))


def _table(lines: list[list[float]], width: int) -> Floats:
    return np.array(lines, dtype=np.float64).reshape(len(lines), width)


def _firsts(by_day: list[list[Way]], jobs: int) -> Ints:
    """For each crew-day and job, the number of its first way; and where the last job's end."""
    found = np.zeros((len(by_day), jobs + 1), dtype=np.int64)
    before = 0
    for day, some in enumerate(by_day):
        found[day] = before + np.searchsorted([w.option.job for w in some], np.arange(jobs + 1))
        before += len(some)
    return found


def _marks(ready: Ready, options: list[Option]) -> Ints:
    """One mark for each site and window; none where no set-up is counted."""
    if ready.problem.setup is None:
        return np.full(len(options), -1, dtype=np.int64)
    number: dict[tuple[str, int], int] = {}
    return _ints(
        number.setdefault((ready.jobs[o.job].set_up_at, o.window), len(number)) for o in options
    )
