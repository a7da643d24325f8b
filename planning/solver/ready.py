"""The problem with everything looked up once: numbers in place of names, ways to do each job.

Rules that hold inside one crew's day are settled here and in `timing`; those between crews are in
`rows`. What the model takes as given, over and above the plain rules:

- A gang holds its place in a work window, and its turnout, for the whole time that its shift and
  the window overlap, not only while it works. Gangs in a window and crews at a turnout are
  counted that way: working times are uncertain, so a count by planned minutes would not be safe.
- A job that must follow another crew's job starts after the work window of that job has ended.
- A crew's planned day (mean times, rounded up) ends within its shift, travel included. The set
  chance is for handing back the track; a shift may run over with the work.
- A crew goes to work as early as it can; it waits only for a window, for the job's earliest
  minute, or for the end of the window of a job that comes first.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from planning.solver.durations import Array, Fitted, minutes_for, moments
from planning.solver.parts import Group, groups_of
from planning.solver.problem import Crew, Duration, Former, Job, Problem, Shift


@dataclass(frozen=True, slots=True)
class CrewDay:
    """One shift of one crew."""

    index: int
    crew: Crew
    shift: Shift
    holds: frozenset[str]


@dataclass(frozen=True, slots=True)
class Option:
    """One way for a job to be done on a crew-day: in this window, not before `release`.

    `fixed` is the one start it may have, by its lock (`locked`) or because a former plan has it so.
    `latest` is the last start that could do, `home` the minutes back to base, `bit` its own mark.
    """

    job: int
    window: int
    release: int
    fixed: int | None
    end: int
    latest: int
    home: int
    bit: int
    locked: bool = False


class Ready:
    """A sound problem, indexed. Build it once; every stage of planning reads it."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.jobs = problem.jobs
        self.windows = problem.windows
        self.number = {job.id: i for i, job in enumerate(problem.jobs)}
        self.crew_days = tuple(_crew_days(problem))
        self.places = tuple(
            dict.fromkeys([j.place for j in problem.jobs] + [c.base for c in problem.crews])
        )
        self._needed: dict[tuple[int, int, float], int] = {}
        self._fits: dict[tuple[int, int], Fitted] = {}

    @cached_property
    def travel(self) -> list[list[int | None]]:
        """Whole minutes of road between each two jobs; None where no road joins them."""
        roads, n = self.problem.roads, len(self.jobs)
        found: list[list[int | None]] = [[0] * n for _ in range(n)]
        for i, a in enumerate(self.jobs):
            for k in range(i, n):  # the same both ways
                minutes = roads.whole_minutes(a.place, self.jobs[k].place)
                found[i][k] = found[k][i] = minutes
        return found

    @cached_property
    def homeward(self) -> dict[str, list[int | None]]:
        """Whole minutes between each crew's base and each job."""
        roads = self.problem.roads
        return {
            crew.id: [roads.whole_minutes(crew.base, job.place) for job in self.jobs]
            for crew in self.problem.crews
        }

    @cached_property
    def windows_of(self) -> list[list[int]]:
        """The windows that cover each job."""
        return [
            [w for w, window in enumerate(self.windows) if window.covers(job)] for job in self.jobs
        ]

    @cached_property
    def after(self) -> list[list[int]]:
        """The jobs each job must follow."""
        return [[self.number[name] for name in job.after] for job in self.jobs]

    @cached_property
    def thresholds(self) -> list[list[int]]:
        """For each job, the minutes at which a later job of another crew may first start."""
        return [sorted({self.windows[w].end_min for w in ws}) for ws in self.windows_of]

    @cached_property
    def has_followers(self) -> frozenset[int]:
        return frozenset(i for ties in self.after for i in ties)

    @cached_property
    def groups(self) -> tuple[Group, ...]:
        """The jobs that are offered in parts."""
        return groups_of(self.jobs)

    @cached_property
    def parts(self) -> frozenset[int]:
        """The jobs that are parts of others."""
        return frozenset(j for group in self.groups for j in group.parts)

    @cached_property
    def group_of(self) -> dict[int, int]:
        """The group of each part, and of each job that is offered in parts."""
        whole = {g.whole: i for i, g in enumerate(self.groups) if g.whole is not None}
        return whole | {j: i for i, group in enumerate(self.groups) for j in group.parts}

    @cached_property
    def minutes(self) -> list[tuple[int, int]]:
        """Planned whole minutes of each job, without and with set-up."""
        setup = self.problem.setup.mean_min if self.problem.setup else 0.0
        return [(_up(job.work.mean_min), _up(job.work.mean_min + setup)) for job in self.jobs]

    @cached_property
    def options(self) -> list[tuple[Option, ...]]:
        """For each crew-day, each way each job could be done if it were the only one."""
        return [self._options_of(day) for day in self.crew_days]

    def value(self, day: CrewDay, job: int, end: int) -> float:
        """Money saved by the job done on this crew-day with this planned end."""
        one = self.jobs[job]
        share = self.problem.late_share if one.due_min is not None and end > one.due_min else 1.0
        return one.value[day.shift.day] * share

    def kept(self, day: CrewDay, job: int, window: int, start: int | None) -> float:
        """The price of changes not paid by a job done here, from this start (None: any other)."""
        keep, former = self.problem.keep, self.former.get(job)
        if keep is None or former is None:
            return 0.0
        same = (
            (keep.crew, former.crew == day.crew.id),
            (keep.day, former.day == day.shift.day),
            (keep.window, former.window == self.windows[window].id),
            (keep.begin, former.start_min == start and self._is_former(former, day, window)),
        )
        return sum(price for price, is_same in same if is_same)

    @cached_property
    def former(self) -> dict[int, Former]:
        """Where the former plan has each job."""
        keep = self.problem.keep
        return {self.number[name]: place for name, place in keep.places.items()} if keep else {}

    @property
    def all_changed(self) -> float:
        """The price of a plan of which nothing is as it was."""
        keep = self.problem.keep
        return keep.all_changed * len(self.former) if keep else 0.0

    def needed(self, jobs: int, setups: int, late: float = 1.0) -> int:
        """Whole minutes that do for these jobs (a bit each) and set-ups at the set chance.

        `late` allows only this share of the chance of being late.
        """
        key = (jobs, setups, late)
        found = self._needed.get(key)
        if found is None:
            chance = 1 - late * (1 - self.problem.chance)
            found = minutes_for(self.fitted(jobs, setups), chance)
            self._needed[key] = found
        return found

    def fitted(self, jobs: int, setups: int) -> Fitted:
        """The distribution of the time for these jobs (a bit each) and set-ups."""
        key = (jobs, setups)
        found = self._fits.get(key)
        if found is None:
            chosen = [i for i in range(len(self.jobs)) if jobs >> i & 1]
            total = self.moments[chosen].sum(axis=0)
            if setups:
                total = total + setups * self.moments[-1]
            found = self._fits[key] = Fitted(total)
        return found

    @cached_property
    def moments(self) -> Array:
        """Cumulants of the working time of each job, and last of the set-up (see `durations`)."""
        setup = self.problem.setup or Duration(0, 0, 0)
        return np.array([moments(work) for work in [*(j.work for j in self.jobs), setup]])

    def _options_of(self, day: CrewDay) -> tuple[Option, ...]:
        found: list[Option] = []
        for j, job in enumerate(self.jobs):
            home = self.homeward[day.crew.id][j]
            if home is None or not self._may(day, job):
                continue
            for w in self.windows_of[j]:
                lock, window = job.lock, self.windows[w]
                if window.needs <= day.holds and (lock is None or lock.window == window.id):
                    found += self._option(day, j, w, home)
        return tuple(replace(option, bit=1 << i) for i, option in enumerate(found))

    def _may(self, day: CrewDay, job: Job) -> bool:
        if job.material and day.crew.truck is None:
            return False
        if job.lock is not None:
            return job.needs <= day.holds and locked_here(day, job)
        return job.needs <= day.holds

    def loose_options(self, day: CrewDay, j: int) -> list[Option]:
        """Ways to do the job if windows and shift could be made longer."""
        home = self.homeward[day.crew.id][j]
        if home is None or not self._may(day, self.jobs[j]):
            return []
        marks = len(self.options[day.index])
        return [
            replace(self._way(day, j, w, home), bit=1 << (marks + i))
            for i, w in enumerate(self.windows_of[j])
            if self.windows[w].needs <= day.holds
        ]

    def free(self, option: Option) -> Option:
        """The option without the start it has in a former plan; it keeps its mark."""
        return option if option.locked else replace(option, fixed=None)

    def with_job(self, j: int, job: Job) -> Ready:
        """The same week with job j as given, which may differ in needs and material only."""
        jobs = (*self.jobs[:j], job, *self.jobs[j + 1 :])
        other = Ready(replace(self.problem, jobs=jobs))
        for name, looked_up in self.__dict__.items():
            if name not in ("problem", "jobs", "options"):
                other.__dict__[name] = looked_up
        return other

    def _option(self, day: CrewDay, j: int, w: int, home: int) -> Iterator[Option]:
        way = self._way(day, j, w, home)
        ways = [way]
        former = self.former.get(j)
        if former and not way.locked and self._is_former(former, day, w):
            ways.append(replace(way, fixed=former.start_min))
        for one in ways:
            first = max(one.release, day.shift.start_min + home)
            if first <= (one.latest if one.fixed is None else min(one.fixed, one.latest)):
                yield one

    def _is_former(self, former: Former, day: CrewDay, w: int) -> bool:
        """Whether the former plan has it in this window of this crew's day."""
        here = (day.crew.id, day.shift.day, self.windows[w].id)
        return here == (former.crew, former.day, former.window)

    def _way(self, day: CrewDay, j: int, w: int, home: int) -> Option:
        window, job = self.windows[w], self.jobs[j]
        release = max(window.start_min, job.earliest_min)
        fixed = job.lock.start_min if job.lock else None
        latest = min(window.end_min, day.shift.end_min - home) - self.minutes[j][0]
        return Option(
            j, w, release, fixed, window.end_min, latest, home, 0, locked=fixed is not None
        )


def locked_here(day: CrewDay, job: Job) -> bool:
    """Whether the job is locked to this crew in this shift."""
    lock = job.lock
    return (
        lock is not None
        and lock.crew == day.crew.id
        and day.shift.start_min <= lock.start_min < day.shift.end_min
    )


def _crew_days(problem: Problem) -> list[CrewDay]:
    shifts = [(c, s) for c in problem.crews for s in sorted(c.shifts, key=lambda s: s.start_min)]
    return [
        CrewDay(i, crew, shift, crew.holds.get(shift.day, frozenset()))
        for i, (crew, shift) in enumerate(shifts)
    ]


def _up(minutes: float) -> int:
    return int(np.ceil(round(minutes, 6)))
