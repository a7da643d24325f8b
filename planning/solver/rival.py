"""The same questions put to PyVRP, a general route search, for comparison.

A public instance is given to it whole: prizes (a thousand times, so that distance only breaks
ties), windows, equal vehicles.

Of a week its model takes the crews' shifts, bases and days as vehicle types; who may do what and
the road as a profile of each; each job as a group of visits that exclude one another, one for each
window and what it is worth there. It cannot express: the chance of handing back in time, a set-up
shared by jobs at one turnout, room for so many gangs in a window, one crew at a turnout, jobs that
wait for other crews, and material. Every visit is begun so that it would be in time with the set
chance were it alone, and lasts half-way from its mean to that (of none, half and all of this
reserve, half did best), set-up included. The plan is then re-timed by this package's own rules;
what breaks one is left out, the least valuable first, and the independent checker has the last
word. So its score is that of a plan that can be carried out, and an under-estimate of what a
search like it could reach if it knew the rules; its own prizes would be an over-estimate.
"""

from __future__ import annotations

from collections.abc import Sequence

import pyvrp
from pyvrp.stop import MaxRuntime

from planning.solver.check import check
from planning.solver.instances import Instance
from planning.solver.plan import Change, LeftOut, Plan
from planning.solver.problem import MINUTES_A_DAY, Problem
from planning.solver.ready import Option, Ready
from planning.solver.report import loads_of, placements, window_chance
from planning.solver.rows import Rows
from planning.solver.search import Search
from planning.solver.timing import Route, follow

PRIZE = 1000
WEEK_PRIZE = 10  # values are in the thousands already, against minutes of road
MOST_ENTRIES = 60_000_000  # of all profiles' matrices: about a gigabyte


def rival_tours(
    instance: Instance, *, routes: int, seconds: float, seed: int
) -> list[tuple[int, ...]]:
    """PyVRP's routes for a public instance, as row numbers."""
    model = pyvrp.Model()
    spots = [model.add_location(0, 0) for _ in instance.score]
    depot = model.add_depot(spots[0])
    model.add_vehicle_type(
        routes, start_depot=depot, end_depot=depot, tw_late=int(instance.closes[0])
    )
    for row in range(1, len(spots)):
        model.add_client(
            spots[row],
            service_duration=int(instance.service[row]),
            tw_early=int(instance.opens[row]),
            tw_late=int(max(instance.opens[row], instance.closes[row])),
            prize=round(PRIZE * instance.score[row]),
            required=False,
        )
    for i, start in enumerate(spots):
        for k, end in enumerate(spots):
            if i != k:
                minutes = int(instance.travel[i, k])
                model.add_edge(start, end, minutes, minutes)
    found = model.solve(MaxRuntime(seconds), seed=seed, collect_stats=False, display=False).best
    if not found.is_feasible():
        return []
    return [tuple(client + 1 for client in _clients(route)) for route in found.routes()]


def rival_plan(problem: Problem, *, seconds: float, seed: int) -> Plan | None:
    """PyVRP's plan for a week, kept to the rules; None when the week is too large to hand over."""
    ready = Ready(problem)
    visits = _visits(ready)
    if len(ready.crew_days) * len(visits) ** 2 > MOST_ENTRIES:
        return None
    model = _week(ready, visits)
    found = model.solve(MaxRuntime(seconds), seed=seed, collect_stats=False, display=False).best
    search = Search(ready, Rows(ready), seed)
    for route in found.routes():
        ways = [visits[client] for client in _clients(route)]
        _take_over(ready, search, route.vehicle_type(), ways)
    return _checked(ready, [route for route in search.routes if route.steps])


def _clients(route: pyvrp.Route) -> list[int]:
    return [step.idx for step in route.schedule() if step.is_client()]


def _visits(ready: Ready) -> list[Option]:
    """One visit for each job, window and day it could be done in, by whichever crew."""
    found: dict[tuple[int, int, int], Option] = {}
    for day in ready.crew_days:
        for option in ready.options[day.index]:
            found.setdefault((option.job, option.window, day.shift.day), option)
    return list(found.values())


def _week(ready: Ready, visits: Sequence[Option]) -> pyvrp.Model:
    model = pyvrp.Model()
    spots = [model.add_location(0, 0) for _ in visits]
    groups = {job: model.add_client_group(required=False) for job in {o.job for o in visits}}
    for spot, option in zip(spots, visits, strict=True):
        _client(model, spot, ready, option, groups[option.job])
    for day in ready.crew_days:
        base = model.add_location(0, 0)
        depot, profile = model.add_depot(base), model.add_profile()
        model.add_vehicle_type(
            start_depot=depot,
            end_depot=depot,
            tw_early=day.shift.start_min,
            tw_late=day.shift.end_min,
            profile=profile,
        )
        may = {(option.job, option.window): option for option in ready.options[day.index]}
        own = [(s, o) for s, o in zip(spots, visits, strict=True) if (o.job, o.window) in may]
        for spot, option in own:
            home = may[option.job, option.window].home
            model.add_edge(base, spot, home, home, profile)
            model.add_edge(spot, base, home, home, profile)
            for other, next_one in own:
                road = ready.travel[option.job][next_one.job]
                if spot is not other and road is not None:
                    model.add_edge(spot, other, road, road, profile)
    return model


def _client(
    model: pyvrp.Model, spot: pyvrp.Location, ready: Ready, option: Option, group: pyvrp.ClientGroup
) -> None:
    """The visit, to be begun so that it is in time with the set chance were it alone."""
    job = ready.jobs[option.job]
    setup = ready.problem.setup is not None
    alone = ready.needed(1 << option.job, int(setup))
    mean = ready.minutes[option.job][setup]
    due = option.end if job.due_min is None else min(option.end, job.due_min + alone - mean)
    day = ready.windows[option.window].start_min // MINUTES_A_DAY
    model.add_client(
        spot,
        service_duration=(mean + alone) // 2,
        tw_early=option.release,
        tw_late=max(option.release, due - alone),
        prize=round(job.value[day] * WEEK_PRIZE) if due - alone >= option.release else 0,
        required=False,
        group=group,
    )


def _take_over(ready: Ready, search: Search, number: int, visits: Sequence[Option]) -> None:
    """Put the route in, without the least valuable visits that would break a rule."""
    day = ready.crew_days[number]
    own = {(option.job, option.window): option for option in ready.options[number]}
    ways = [(own[visit.job, visit.window], 0) for visit in visits]
    while ways:
        route = follow(ready, day, ways)
        if route is not None and search.fits(route):
            search.swap(route)
            return
        ways.remove(min(ways, key=lambda way: ready.value(day, way[0].job, 0)))


def _checked(ready: Ready, routes: Sequence[Route]) -> Plan:
    placed = {ready.jobs[step.job].id for route in routes for step in route.steps}
    out = [LeftOut(j.id, "", Change("none", "")) for j in ready.jobs if j.id not in placed]
    places = placements(ready, routes)
    plan = Plan(
        places, tuple(out), loads_of(ready, routes), sum(p.value for p in places),
        None, None, 0.0, window_chance(ready, routes), (),
    )  # fmt: skip
    breaches = check(ready.problem, plan)
    if breaches:
        raise ValueError(f"PyVRP's plan breaks a rule: {breaches[0].sentence}")
    return plan
