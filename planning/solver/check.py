"""Check a plan against its problem, rule by rule, without any of the code that made it.

Chances are checked by drawing working times and running each crew's day as it would go: a crew
starts the next job as soon as it gets there, is free to, and not before what the plan made it wait
for. With `draws` samples a chance p has a standard error of sqrt(p * (1 - p) / draws).
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from planning.solver.check_amounts import Amounts
from planning.solver.check_chance import Chances
from planning.solver.check_parts import Parts
from planning.solver.plan import Placement, Plan
from planning.solver.problem import Job, Problem, Shift, Window
from planning.solver.record import TOLERANCE, Breach, Record


def check(
    problem: Problem, plan: Plan, *, draws: int = 20_000, seed: int = 0
) -> tuple[Breach, ...]:
    """Every breach of the problem's rules in the plan; empty when it keeps them all.

    Chances are tried with `draws` samples, so one may be wrong by a few standard errors; only a
    chance off by more than four of them counts as a breach.
    """
    places, amounts, parts = Places(problem, plan), Amounts(problem, plan), Parts(problem, plan)
    found = [*places.names(), *parts.once()]
    if any(breach.rule == "names" for breach in found):
        return tuple(found)
    for rule in (
        places.window,
        places.qualified,
        places.travel,
        places.rest,
        places.gangs,
        places.turnouts,
        places.after,
        places.locks,
        parts.zones,
        parts.in_order,
        amounts.material,
        amounts.capacity,
        amounts.loads,
        amounts.orders,
        amounts.values,
        amounts.changed,
        amounts.bound,
        Chances(problem, plan, draws, seed).in_time,
    ):
        found += rule()
    return tuple(found)


class Places(Record):
    """Who is where, when: each rule a method that yields breaches."""

    def names(self) -> Iterator[Breach]:
        """Every placement is of things that exist, with the crew's own truck."""
        for p in self.plan.placements:
            for kind, name, known in (
                ("job", p.job, self.jobs),
                ("crew", p.crew, self.crews),
                ("window", p.window, self.windows),
            ):
                if name not in known:
                    yield Breach("names", p.job, f"There is no {kind} {name}.")
            if p.crew in self.crews and p.truck != self.crews[p.crew].truck:
                yield Breach("names", p.job, f"Crew {p.crew} does not have truck {p.truck}.")

    def window(self) -> Iterator[Breach]:
        """Work lies in a window that covers the turnout, and not before the job may start."""
        for p, job, window, _ in self.placed():
            if not _covers(window, job):
                text = f"Window {window.id} does not cover turnout {job.turnout}."
                yield Breach("window", p.job, text)
            if p.start_min < window.start_min or p.end_min > window.end_min:
                text = f"Job {p.job} ({p.start_min} to {p.end_min}) is not inside {window.id}."
                yield Breach("window", p.job, text)
            if job.windows is not None and window.id not in job.windows:
                text = f"Job {p.job} may not be done in window {window.id}."
                yield Breach("window", p.job, text)
            if p.start_min < job.earliest_min:
                text = f"Job {p.job} starts at {p.start_min}, before {job.earliest_min}."
                yield Breach("earliest", p.job, text)

    def qualified(self) -> Iterator[Breach]:
        """The crew holds that day all that the job and its track time need."""
        for p, job, window, crew in self.placed():
            lacking = {*job.needs, *window.needs} - crew.holds.get(p.day, frozenset())
            if lacking:
                text = f"Crew {crew.id} lacks {', '.join(sorted(lacking))} on day {p.day}."
                yield Breach("qualified", p.job, text)

    def travel(self) -> Iterator[Breach]:
        """Each crew's day fits its shift, with travel, set-up and planned working times in it."""
        for crew, shift, day in self.days():
            at, free = crew.base, shift.start_min if shift else day[0].start_min
            before: Placement | None = None
            if shift is None:
                yield Breach("shift", day[0].job, f"Crew {crew.id} has no shift on that day.")
            for p in day:
                job = self.jobs[p.job]
                needed = self.problem.roads.travel_min(at, job.place)
                if p.start_min + TOLERANCE < free + needed:
                    text = f"Crew {crew.id} cannot be at job {p.job} by minute {p.start_min}."
                    yield Breach("travel", p.job, text)
                yield from self._step(p, job, before, needed)
                at, free, before = job.place, p.end_min, p
            back = free + self.problem.roads.travel_min(at, crew.base)
            if shift is not None and back > shift.end_min + TOLERANCE:
                text = f"Crew {crew.id} is back at {back:.0f}, after its shift ends."
                yield Breach("shift", day[-1].job, text)

    def _step(
        self, p: Placement, job: Job, before: Placement | None, needed: float
    ) -> Iterator[Breach]:
        if p.travel_from != (before.job if before else None) or p.travel_min + TOLERANCE < needed:
            yield Breach("travel", p.job, f"The travel shown before job {p.job} is wrong.")
        setup = self.needs_setup(p, before)
        minutes = job.work.mean_min
        if setup and self.problem.setup:
            minutes += self.problem.setup.mean_min
        if p.setup != setup or p.end_min - p.start_min + TOLERANCE < minutes:
            text = f"Job {p.job} is given {p.end_min - p.start_min} min; it takes {minutes:.0f}."
            yield Breach("working time", p.job, text)

    def rest(self) -> Iterator[Breach]:
        """Between the end of one shift a crew works and the begin of its next lies its rest."""
        worked: dict[str, set[Shift]] = {}
        for crew, shift, _ in self.days():
            if shift is not None:
                worked.setdefault(crew.id, set()).add(shift)
        for name, shifts in worked.items():
            ordered = sorted(shifts, key=lambda s: s.start_min)
            for one, two in pairwise(ordered):
                if two.start_min - one.end_min < self.problem.rest_min:
                    text = (
                        f"Crew {name} has {two.start_min - one.end_min} min of rest before its "
                        f"shift at {two.start_min}; it needs {self.problem.rest_min}."
                    )
                    yield Breach("rest", name, text)

    def gangs(self) -> Iterator[Breach]:
        """No more gangs hold a place in a window at once than it has room for."""
        for name, window in self.windows.items():
            stays = self.stays(p for p in self.plan.placements if p.window == name)
            for t in sorted({start for start, _, _ in stays}):
                here = [crew for start, end, crew in stays if start <= t < end]
                if len(here) > window.gangs:
                    text = f"{len(here)} gangs in window {name} at {t}; room for {window.gangs}."
                    yield Breach("gangs", name, text)

    def turnouts(self) -> Iterator[Breach]:
        """No two crews hold one turnout at once."""
        for name in {job.turnout for job in self.jobs.values()}:
            here = (p for p, job, _, _ in self.placed() if job.turnout == name)
            stays = self.stays(here)
            for t in sorted({start for start, _, _ in stays}):
                crews = {crew for start, end, crew in stays if start <= t < end}
                if len(crews) > 1:
                    text = f"Crews {', '.join(sorted(crews))} are at turnout {name} at once."
                    yield Breach("turnout", name, text)

    def after(self) -> Iterator[Breach]:
        """A job comes after those it must follow: in its crew's day, or when their window ended."""
        places = {p.job: p for p in self.plan.placements}
        for p, job, _, _ in self.placed():
            for name in job.after:
                first = places.get(name)
                if first is None:
                    yield Breach("after", p.job, f"Job {name}, which comes first, is left out.")
                elif not self._follows(p, first):
                    yield Breach("after", p.job, f"Job {p.job} may start before {name} is done.")

    def _follows(self, p: Placement, first: Placement) -> bool:
        if (p.crew, p.day) == (first.crew, first.day):
            return first.end_min <= p.start_min
        return first.window in self.windows and self.windows[first.window].end_min <= p.start_min

    def locks(self) -> Iterator[Breach]:
        """Locked jobs are where they are locked."""
        places = {p.job: (p.crew, p.window, p.start_min) for p in self.plan.placements}
        for job in self.jobs.values():
            lock = job.lock
            if lock and places.get(job.id) != (lock.crew, lock.window, lock.start_min):
                yield Breach("lock", job.id, f"Job {job.id} is not where it is locked.")


def _covers(window: Window, job: Job) -> bool:
    inside = window.from_m <= job.place.chainage_m <= window.to_m
    return inside and window.line == job.place.line and window.track == job.track
