"""Everything wrong with a problem, as sentences, before any planning is tried."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from itertools import pairwise

from planning.solver.parts import faults_of_parts
from planning.solver.problem import Crew, Duration, Job, Problem, ProblemError, Truck, Window
from planning.solver.travel import Place

MOST_SHARED = 0.98


def demand_sound(problem: Problem) -> None:
    """Raise ProblemError listing every fault of the problem; return when there is none."""
    faults = find_faults(problem)
    if faults:
        raise ProblemError(faults)


def find_faults(problem: Problem) -> tuple[str, ...]:
    """One sentence for each fault, in a fixed order; empty when the problem is sound."""
    found: list[str] = [*_whole(problem), *_duplicates(problem)]
    for job in problem.jobs:
        found += _job(problem, job)
    for window in problem.windows:
        found += _window(problem, window)
    for crew in problem.crews:
        found += _crew(problem, crew)
        found += _rest(problem, crew)
    for truck in problem.trucks:
        found += _truck(problem, truck)
    found += _turnouts(problem)
    found += _circles(problem)
    found += faults_of_parts(problem)
    return tuple(found)


def _whole(problem: Problem) -> Iterator[str]:
    if problem.days < 1:
        yield f"The plan has {problem.days} days; give at least one."
    if not 0.5 <= problem.chance < 1:
        yield f"The chance asked for is {problem.chance}; give 0.5 or more and less than 1."
    if not 0 <= problem.late_share <= 1:
        yield f"The share of value counted when late is {problem.late_share}; give 0 to 1."
    if not problem.roads.speed_kmh > 0:
        yield f"The road speed is {problem.roads.speed_kmh} km/h; give more than 0."
    if any(not link.minutes >= 0 for link in problem.roads.links):
        yield "A road link has a negative number of minutes."
    if problem.rest_min < 0:
        yield f"The least rest is {problem.rest_min} minutes; give 0 or more."
    if problem.setup is not None:
        yield from _duration("The set-up time", problem.setup)
    yield from _keep(problem)
    yield from _amounts("The depot stock", problem.depot_stock)
    yield from _amounts("The mass of one unit", problem.item_kg)
    for item, day in problem.arrives.items():
        if day < 0:
            yield f"What is ordered of {item} arrives on day {day}; give 0 or a later day."


def _keep(problem: Problem) -> Iterator[str]:
    keep = problem.keep
    if keep is None:
        return
    known = {job.id for job in problem.jobs}
    for job in keep.places:
        if job not in known:
            yield f"The former plan has job {job}, which is not in the problem; leave it out."
    prices = {"crew": keep.crew, "day": keep.day, "window": keep.window, "begin": keep.begin}
    for what, price in prices.items():
        if not 0 <= price < math.inf:
            yield f"The price of another {what} than the former plan's is {price}; give 0 or more."


def _duplicates(problem: Problem) -> Iterator[str]:
    named: tuple[tuple[str, Iterable[str]], ...] = (
        ("Job", (j.id for j in problem.jobs)),
        ("Window", (w.id for w in problem.windows)),
        ("Crew", (c.id for c in problem.crews)),
        ("Truck", (t.id for t in problem.trucks)),
    )
    for kind, ids in named:
        for name, times in Counter(ids).items():
            if times > 1:
                yield f"{kind} {name} is given {times} times; each needs an id of its own."


def _duration(what: str, duration: Duration) -> Iterator[str]:
    mean, sd = duration.mean_min, duration.sd_min
    if not (0 <= mean < math.inf):
        yield f"{what} has a mean of {mean} minutes; give 0 or more."
    elif not 0 <= sd <= mean:
        yield f"{what} has a standard deviation of {sd} minutes; give 0 to its mean, {mean}."
    if not 0 <= duration.shared <= MOST_SHARED:
        yield f"{what} shares {duration.shared} of its variance; give 0 to {MOST_SHARED}."


def _amounts(what: str, amounts: Mapping[str, float]) -> Iterator[str]:
    for item, amount in amounts.items():
        if not 0 <= amount < math.inf:
            yield f"{what} of {item} is {amount}; give 0 or more."


def _known(problem: Problem, what: str, line: str, track: str) -> Iterator[str]:
    if line not in problem.tracks:
        yield f"{what} is on line {line}, which is not known."
    elif track not in problem.tracks[line]:
        yield f"{what} is on track {track} of line {line}, which is not known."


def _job(problem: Problem, job: Job) -> Iterator[str]:
    what = f"Job {job.id}"
    yield from _known(problem, what, job.place.line, job.track)
    yield from _duration(f"The work of job {job.id}", job.work)
    if not job.work.mean_min > 0:
        yield f"{what} takes no time; give a mean of more than 0 minutes."
    if len(job.value) != problem.days:
        yield f"{what} has {len(job.value)} values for {problem.days} days; give one a day."
    if any(not 0 <= value < math.inf for value in job.value):
        yield f"{what} has a negative or endless value; give 0 or more for each day."
    if job.earliest_min < 0:
        yield f"{what} may start at minute {job.earliest_min}; give 0 or more."
    yield from _amounts(f"Job {job.id}: the material", job.material)
    known = {other.id for other in problem.jobs}
    for other in job.after:
        if other not in known:
            yield f"{what} comes after job {other}, which is not in the problem."
    if job.lock is not None:
        yield from _lock(problem, job)


def _lock(problem: Problem, job: Job) -> Iterator[str]:
    lock = job.lock
    if lock is None:
        return
    crew = next((c for c in problem.crews if c.id == lock.crew), None)
    window = next((w for w in problem.windows if w.id == lock.window), None)
    if crew is None:
        yield f"Job {job.id} is locked to crew {lock.crew}, which is not in the problem."
    elif not any(s.start_min <= lock.start_min < s.end_min for s in crew.shifts):
        yield (
            f"Job {job.id} is locked to minute {lock.start_min}, "
            f"when crew {crew.id} is not on shift."
        )
    if window is None:
        yield f"Job {job.id} is locked to window {lock.window}, which is not in the problem."
    elif not window.covers(job):
        yield f"Job {job.id} is locked to window {window.id}, which does not cover its turnout."


def _window(problem: Problem, window: Window) -> Iterator[str]:
    what = f"Window {window.id}"
    yield from _known(problem, what, window.line, window.track)
    if window.start_min < 0:
        yield f"{what} starts at minute {window.start_min}; give 0 or more."
    if window.end_min <= window.start_min:
        yield f"{what} ends at minute {window.end_min}, not after its start {window.start_min}."
    if window.to_m < window.from_m:
        yield f"{what} runs from {window.from_m} m to {window.to_m} m; give the lower end first."
    if window.gangs < 1:
        yield f"{what} has room for {window.gangs} gangs; give at least 1."


def _crew(problem: Problem, crew: Crew) -> Iterator[str]:
    what = f"Crew {crew.id}"
    if crew.base.line not in problem.tracks:
        yield f"{what} is based on line {crew.base.line}, which is not known."
    if crew.size < 1:
        yield f"{what} has {crew.size} people; give at least 1."
    for shift in crew.shifts:
        if not 0 <= shift.day < problem.days:
            yield f"{what} has a shift on day {shift.day}; the last day is {problem.days - 1}."
        if not 0 <= shift.start_min < shift.end_min:
            yield f"{what} has a shift from minute {shift.start_min} to {shift.end_min}."
    ordered = sorted(crew.shifts, key=lambda s: s.start_min)
    for one, two in pairwise(ordered):
        if two.start_min < one.end_min:
            yield f"{what} has two shifts at minute {two.start_min}; shifts may not overlap."
    yield from _crew_truck(problem, crew)


def _rest(problem: Problem, crew: Crew) -> Iterator[str]:
    ordered = sorted(crew.shifts, key=lambda s: s.start_min)
    for one, two in pairwise(ordered):
        if 0 <= two.start_min - one.end_min < problem.rest_min:
            yield (
                f"Crew {crew.id} rests {two.start_min - one.end_min} minutes before its shift at "
                f"minute {two.start_min}; the least rest is {problem.rest_min} minutes."
            )


def _crew_truck(problem: Problem, crew: Crew) -> Iterator[str]:
    if crew.truck is None:
        return
    if crew.truck not in {t.id for t in problem.trucks}:
        yield f"Crew {crew.id} has truck {crew.truck}, which is not in the problem."
    for other in problem.crews:
        if other.id < crew.id and other.truck == crew.truck and _meet(crew, other):
            yield f"Crews {other.id} and {crew.id} have truck {crew.truck} at the same time."


def _meet(one: Crew, two: Crew) -> bool:
    return any(
        a.start_min < b.end_min and b.start_min < a.end_min for a in one.shifts for b in two.shifts
    )


def _truck(problem: Problem, truck: Truck) -> Iterator[str]:
    yield from _amounts(f"Truck {truck.id}: the stock", truck.stock)
    if not 0 <= truck.capacity_kg < math.inf:
        yield f"Truck {truck.id} may carry {truck.capacity_kg} kg; give 0 or more."
    load = sum(problem.item_kg.get(item, 1.0) * n for item, n in truck.stock.items())
    if load > truck.capacity_kg:
        yield f"Truck {truck.id} carries {load:g} kg already; it may carry {truck.capacity_kg:g}."


def _turnouts(problem: Problem) -> Iterator[str]:
    places: dict[str, Place] = {}
    for job in problem.jobs:
        if places.setdefault(job.turnout, job.place) != job.place:
            yield f"Job {job.id} has turnout {job.turnout} at another place than an earlier job."


def _circles(problem: Problem) -> Iterator[str]:
    """Jobs that wait for each other: what is left when every job without open ties is taken out."""
    waits = {job.id: {a for a in job.after if a != job.id} for job in problem.jobs}
    for job in problem.jobs:
        if job.id in job.after:
            yield f"Job {job.id} comes after itself."
    while free := [name for name, ties in waits.items() if not ties & waits.keys()]:
        for name in free:
            del waits[name]
    if waits:
        yield f"Jobs {', '.join(sorted(waits))} wait for one another in a circle."
