"""The best plan of a tiny week by trying everything: every order, window and wait of every crew.

A crew's day is timed by the same function the planner uses (the checker and simulations test that
one); which days may stand together is decided here by the checker alone.
"""

from itertools import count

from planning.solver.check import Places
from planning.solver.check_amounts import Amounts
from planning.solver.check_parts import Parts
from planning.solver.plan import Change, LeftOut, Plan
from planning.solver.problem import Problem
from planning.solver.ready import Ready
from planning.solver.report import loads_of, placements
from planning.solver.timing import Route, empty, extend, waits


def best_value(problem: Problem) -> float:
    ready = Ready(problem)
    days = [_all_days(ready, day.index) for day in ready.crew_days]
    return _best(ready, days, [], 0.0, -1.0)


def _all_days(ready: Ready, number: int) -> list[Route]:
    """Every order of every choice of jobs, nothing dropped."""
    found = [empty(ready.crew_days[number])]
    for i in count():
        if i == len(found):
            break
        for option in ready.options[number]:
            for wait in waits(ready, found[i], option):
                longer = extend(ready, found[i], option, wait)
                if longer is not None:
                    found.append(longer)
    return sorted(found, key=lambda route: -route.value)


def _best(
    ready: Ready, days: list[list[Route]], taken: list[Route], value: float, best: float
) -> float:
    if len(taken) == len(days):
        return value if value > best and _allowed(ready, taken) else best
    rest = sum(routes[0].value for routes in days[len(taken) + 1 :])
    used = 0
    for route in taken:
        used |= route.jobs
    for route in days[len(taken)]:
        if value + route.value + rest <= best:
            break
        if not route.jobs & used:
            best = _best(ready, days, [*taken, route], value + route.value, best)
    return best


def _allowed(ready: Ready, routes: list[Route]) -> bool:
    places = placements(ready, routes)
    placed = {p.job for p in places}
    done = placed | {job.part_of for job in ready.jobs if job.id in placed}
    out = tuple(
        LeftOut(name, "", Change("none", ""))
        for name in dict.fromkeys(job.part_of or job.id for job in ready.jobs)
        if name not in done
    )
    plan = Plan(places, out, loads_of(ready, routes), 0, None, None, 0, {}, ())
    who, what = Places(ready.problem, plan), Amounts(ready.problem, plan)
    parts = Parts(ready.problem, plan)
    rules = (parts.once, parts.zones, parts.in_order, who.window, who.qualified, who.travel)
    rules += (who.gangs, who.turnouts)
    rules += (who.after, who.locks, what.material, what.capacity)
    return not any(list(rule()) for rule in rules)
