"""Small weeks for tests: one line, one track, few jobs, with every rule in play now and then."""

import random
from dataclasses import replace
from itertools import count

from planning.solver.plan import Plan
from planning.solver.problem import Crew, Duration, Job, Problem, Shift, Truck, Window
from planning.solver.solve import Effort, solve
from planning.solver.travel import Place, Roads

LINE, TRACK = "Hill", "1"


def at(chainage_m: float) -> Place:
    return Place(LINE, chainage_m)


def job(name: str, chainage_m: float = 0.0, minutes: float = 60, **more: object) -> Job:
    given: dict[str, object] = {
        "id": name,
        "turnout": f"at {name}",
        "place": at(chainage_m),
        "track": TRACK,
        "work": Duration(minutes, 0.2 * minutes, 0.3),
        "value": (100.0,),
    }
    return Job(**{**given, **more})  # type: ignore[arg-type]


def in_parts(whole: Job, *minutes: float) -> list[Job]:
    """The job, offered whole and in parts of so many minutes, one zone each."""
    zones = [f"zone {k}" for k in range(1, len(minutes) + 1)]
    parts = [
        replace(
            whole,
            id=f"{whole.id}-P{k}",
            work=Duration(mean, 0.2 * mean, 0.3),
            value=whole.value if k == len(minutes) else tuple(0.0 for _ in whole.value),
            due_min=whole.due_min if k == len(minutes) else None,
            material={item: amount / len(minutes) for item, amount in whole.material.items()},
            part_of=whole.id,
            zones=frozenset({zone}),
        )
        for k, (mean, zone) in enumerate(zip(minutes, zones, strict=True), start=1)
    ]
    return [replace(whole, zones=frozenset(zones)), *parts]


def random_week_in_parts(seed: int, jobs: int = 4, days: int = 1, parts: int = 2) -> Problem:
    """A small week whose last job is long and may be done in parts, in windows one by one."""
    draw = random.Random(seed)
    problem = random_week(seed, jobs, days)
    windows = []
    for day in range(days):
        end = 1440 * day + draw.randrange(30, 90, 10)
        for name in "KLM":
            start, end = end, end + draw.randrange(120, 220, 10)
            windows.append(window(f"{name}{day}", start, end, draw.choice([1, 2])))
    problem = replace(problem, windows=tuple(windows))
    minutes = draw.uniform(100, 220)
    worth = draw.choice([200.0, 400.0])
    long = replace(
        problem.jobs[-1],
        work=Duration(minutes, 0.2 * minutes, 0.3),
        value=tuple(worth - 3 * day for day in range(days)),
        material={},
        after=(),
        earliest_min=0,
    )
    each = [minutes / parts * draw.uniform(0.8, 1.3) for _ in range(parts)]
    return replace(problem, jobs=(*problem.jobs[:-1], *in_parts(long, *each)))


def window(name: str, start: int, end: int, gangs: int = 1, to_m: float = 50_000) -> Window:
    return Window(name, LINE, TRACK, 0, to_m, start, end, "track out of service", gangs)


def crew(name: str, base_m: float = 0.0, truck: str | None = None, **more: object) -> Crew:
    given: dict[str, object] = {
        "id": name,
        "base": at(base_m),
        "shifts": (Shift(0, 720, 0),),
        "holds": {0: frozenset({"weld"}), 1: frozenset({"weld"})},
        "truck": truck,
        "size": 3,
    }
    return Crew(**{**given, **more})  # type: ignore[arg-type]


def week(jobs: list[Job], windows: list[Window], crews: list[Crew], **more: object) -> Problem:
    given: dict[str, object] = {
        "jobs": tuple(jobs),
        "windows": tuple(windows),
        "crews": tuple(crews),
        "trucks": (),
        "roads": Roads(60.0),
        "days": len(jobs[0].value),
        "tracks": {LINE: frozenset({TRACK})},
    }
    return Problem(**{**given, **more})  # type: ignore[arg-type]


def plan(problem: Problem, seconds: float = 60, seed: int = 0) -> Plan:
    """The plan by a clock that never runs out, so that it is the same on any machine."""
    ticks = count()
    return solve(problem, now=lambda: next(ticks) * 1e-6, effort=Effort(seconds, seed=seed))


def random_week(seed: int, jobs: int = 5, days: int = 1) -> Problem:
    """A small week with shared turnouts, order, due dates, scarce material and two crews."""
    draw = random.Random(seed)
    made = [_random_job(draw, i, days) for i in range(jobs)]
    if draw.random() < 0.5:
        made[1] = replace(made[1], turnout=made[0].turnout, place=made[0].place)
    if draw.random() < 0.5:
        made[2] = replace(made[2], after=("J0",))
    if draw.random() < 0.3:
        made[-1] = replace(made[-1], place=at(made[0].place.chainage_m + 200))
        yard = (made[0].turnout, made[-1].turnout)
        made = [replace(one, site="yard") if one.turnout in yard else one for one in made]
    windows = []
    for day in range(days):
        start = 1440 * day + draw.randrange(0, 180, 30)
        windows.append(window(f"A{day}", start, start + draw.randrange(150, 400, 10)))
        late = 1440 * day + draw.randrange(180, 420, 30)
        gangs = draw.choice([1, 2])
        guarded = window(f"B{day}", late, late + draw.randrange(150, 300, 10), gangs, 15_000)
        needs = frozenset({"grind"}) if draw.random() < 0.2 else frozenset[str]()
        windows.append(replace(guarded, needs=needs))
    if draw.random() < 0.2:
        made[-1] = replace(made[-1], windows=frozenset(w.id for w in windows if w.id[0] == "A"))
    shifts = tuple(Shift(1440 * d, 1440 * d + 660, d) for d in range(days))
    both = {d: frozenset({"weld", "grind"}) for d in range(days)}
    one = {d: frozenset({"weld"}) for d in range(days)}
    return week(
        made,
        windows,
        [
            crew("C0", 2_000, "T0", shifts=shifts, holds=both),
            crew("C1", 18_000, "T1", shifts=shifts, holds=draw.choice([one, both])),
        ],
        trucks=(Truck("T0", 100, {"wire": 1.0}), Truck("T1", draw.choice([2, 100]))),
        depot_stock={"wire": draw.choice([2.0, 5.0, 50.0])},
        setup=draw.choice([None, Duration(15, 4, 0.3)]),
        late_share=draw.choice([0.0, 0.5]),
        arrives=draw.choice([{}, {}, {"wire": 0}, {"wire": days - 1}]),
    )


def _random_job(draw: random.Random, i: int, days: int) -> Job:
    minutes = draw.uniform(40, 110)
    worth = round(draw.uniform(50, 200), 1)
    return job(
        f"J{i}",
        float(draw.randrange(0, 20_000, 500)),
        value=tuple(worth - 3 * d for d in range(days)),
        work=Duration(minutes, minutes * draw.uniform(0.05, 0.4), draw.choice([0.0, 0.3, 0.6])),
        needs=frozenset({draw.choice(["weld", "weld", "grind"])}),
        due_min=draw.choice([None, 250]),
        earliest_min=draw.choice([0, 0, 200]),
        material={"wire": round(draw.uniform(0.5, 2), 1)},
    )
