"""Made-up weeks of repairs, for tests and measurements: nothing in them is a real railway's."""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

from planning.solver.problem import (
    MINUTES_A_DAY,
    Crew,
    Duration,
    Job,
    Problem,
    Shift,
    Truck,
    Window,
)
from planning.solver.travel import Link, Place, Roads

LINES = ("North", "South", "East", "Harbour")
LENGTH_M = 60_000
TRACKS = ("1", "2")
PROCEDURES = ("procedure:manganese", "procedure:carbon", "procedure:grinding")


@dataclass(frozen=True, slots=True)
class Size:
    """How large a week to make."""

    jobs: int = 60
    crews: int = 6
    days: int = 5
    windows_a_day: int = 8


def make_week(size: Size, seed: int) -> Problem:
    """A week of this size; the same for the same seed."""
    draw = random.Random(seed)  # noqa: S311 - repeatable, not secret
    crews = tuple(_crew(draw, i, size) for i in range(size.crews))
    return Problem(
        jobs=_jobs(draw, size),
        windows=tuple(
            _window(draw, d, i) for d in range(size.days) for i in range(size.windows_a_day)
        ),
        crews=crews,
        trucks=tuple(Truck(f"T{i}", 1500, {"wire": 12.0}) for i in range(size.crews)),
        roads=_roads(),
        days=size.days,
        tracks={line: frozenset(TRACKS) for line in LINES},
        depot_stock={"wire": 3.0 * size.jobs},
        setup=Duration(20, 5, 0.3),
    )


def _roads() -> Roads:
    """All lines meet near the middle of the first, and the last two at their far ends."""
    middle = Place(LINES[0], LENGTH_M / 2)
    links = [Link(middle, Place(line, LENGTH_M / 2), 12.0 + 6 * i) for i, line in enumerate(LINES)]
    far = Link(Place(LINES[2], LENGTH_M), Place(LINES[3], LENGTH_M), 15.0)
    return Roads(60.0, (*links[1:], far))


def _jobs(draw: random.Random, size: Size) -> tuple[Job, ...]:
    """About one job in six is at the turnout of the job before it."""
    jobs: list[Job] = []
    for i in range(size.jobs):
        job = _job(draw, i, size)
        if jobs and draw.random() < 1 / 6:
            last = jobs[-1]
            job = replace(job, turnout=last.turnout, place=last.place, track=last.track)
        jobs.append(job)
    return tuple(jobs)


def _job(draw: random.Random, i: int, size: Size) -> Job:
    place = Place(draw.choice(LINES), float(draw.randrange(0, LENGTH_M, 100)))
    mean = draw.uniform(60, 200)
    base = draw.uniform(500, 6000)
    due = draw.choice([None, None, draw.randrange(1, size.days + 1) * MINUTES_A_DAY])
    daily = draw.uniform(0.0, 0.1) * base
    return Job(
        id=f"J{i}",
        turnout=f"P{i}",
        place=place,
        track=draw.choice(TRACKS),
        work=Duration(mean, mean * draw.uniform(0.12, 0.3), 0.3),
        value=tuple(round(base - daily * day, 2) for day in range(size.days)),
        needs=frozenset(draw.sample(PROCEDURES, 1)),
        due_min=due,
        material={"wire": round(draw.uniform(0.5, 6), 1)},
    )


def _window(draw: random.Random, day: int, i: int) -> Window:
    line, track = LINES[i % len(LINES)], draw.choice(TRACKS)
    start = day * MINUTES_A_DAY + draw.randrange(6 * 60, 14 * 60, 30)
    from_m = draw.randrange(0, LENGTH_M // 2, 1000)
    return Window(
        id=f"W{day}-{i}",
        line=line,
        track=track,
        from_m=float(from_m),
        to_m=float(from_m + LENGTH_M // 2),
        start_min=start,
        end_min=start + draw.randrange(240, 510, 30),
        protection="track out of service",
        gangs=draw.choice([1, 1, 2]),
    )


def _crew(draw: random.Random, i: int, size: Size) -> Crew:
    shifts = []
    for day in range(size.days):
        start = day * MINUTES_A_DAY + draw.choice([6, 7, 8]) * 60
        shifts.append(Shift(start, start + 12 * 60, day))
    held = frozenset(draw.sample(PROCEDURES, draw.choice([2, 3])))
    return Crew(
        id=f"C{i}",
        base=Place(LINES[i % len(LINES)], float(draw.randrange(0, LENGTH_M, 1000))),
        shifts=tuple(shifts),
        holds={day: held for day in range(size.days)},
        truck=f"T{i}",
        size=3,
    )
