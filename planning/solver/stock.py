"""Material over the week: what each truck uses, and what it must draw from the depot.

What is ordered now arrives on a day of the plan. Use from that day on counts under a name of its
own (`on_order`), which no stock limits: it may wait for the order, and earlier use may not. A truck
has to have room for it beside what lies on it. In the loads, what the stock leaves over is taken
first, and only the rest is ordered.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from planning.solver.plan import Load
from planning.solver.problem import Job, Problem, Truck
from planning.solver.ready import Ready
from planning.solver.timing import Route

TOLERANCE = 1e-6
_ON_ORDER = " on order"


def on_order(item: str) -> str:
    """The name under which use is counted that an order brings in time."""
    return item + _ON_ORDER


def of_item(name: str) -> str:
    """The item itself, whichever name its use is counted under."""
    return name.removesuffix(_ON_ORDER)


def uses(problem: Problem, day: int, job: Job) -> dict[str, float]:
    """What the job uses when done on this day of the plan, each under the name it counts by."""
    return {
        on_order(item) if day >= problem.arrives.get(item, problem.days) else item: amount
        for item, amount in job.material.items()
        if amount
    }


def at_depot(problem: Problem, name: str) -> float:
    """What the depots have of it: of what is on order, all that the jobs could use."""
    if name == of_item(name):
        return problem.depot_stock.get(name, 0.0)
    return sum(job.material.get(of_item(name), 0.0) for job in problem.jobs)


def unit_kg(problem: Problem, name: str) -> float:
    """The mass of one unit; of an item that is not listed, it is measured in kg."""
    return problem.item_kg.get(of_item(name), 1.0)


def used(ready: Ready, routes: Iterable[Route]) -> dict[tuple[str, str], float]:
    """Amount of each (truck, name of `uses`) that the jobs of these routes use."""
    total: dict[tuple[str, str], float] = {}
    for route in routes:
        crew_day = ready.crew_days[route.day]
        truck = crew_day.crew.truck
        if truck is None:
            continue
        for step in route.steps:
            for name, n in uses(ready.problem, crew_day.shift.day, ready.jobs[step.job]).items():
                total[truck, name] = total.get((truck, name), 0.0) + n
    return total


def loads(problem: Problem, use: Mapping[tuple[str, str], float]) -> tuple[Load, ...]:
    """What each truck uses and draws, in the order of trucks and items."""
    own = {truck.id: truck.stock for truck in problem.trucks}
    left = {item: n - _drawn_early(problem, use, item) for item, n in problem.depot_stock.items()}
    found = []
    for truck, item in sorted({(truck, of_item(name)) for truck, name in use}):
        early, late = use.get((truck, item), 0.0), use.get((truck, on_order(item)), 0.0)
        drawn = max(0.0, early + late - own[truck].get(item, 0.0))
        later = min(late, drawn)
        ordered = max(0.0, later - max(0.0, left.get(item, 0.0)))
        left[item] = left.get(item, 0.0) - (later - ordered)
        found.append(Load(truck, item, early + late, drawn, ordered))
    return tuple(found)


def _drawn_early(problem: Problem, use: Mapping[tuple[str, str], float], item: str) -> float:
    """What all trucks draw of the item that no order brings in time."""
    return sum(
        max(0.0, use.get((truck.id, item), 0.0) - truck.stock.get(item, 0.0))
        for truck in problem.trucks
    )


def enough(problem: Problem, use: Mapping[tuple[str, str], float]) -> bool:
    """Whether depot stock and the trucks' capacity allow this use."""
    over, room = drawn_over(problem, use)
    return room and not over


def drawn_over(
    problem: Problem, use: Mapping[tuple[str, str], float]
) -> tuple[dict[str, float], bool]:
    """What the depot lacks of each item for this use, and whether the trucks have the room."""
    own = {truck.id: truck.stock for truck in problem.trucks}
    drawn: dict[str, float] = {}
    carried: dict[str, float] = {}
    for (truck, name), amount in use.items():
        more = max(0.0, amount - own[truck].get(name, 0.0))
        if name == of_item(name):  # no stock limits what is on order
            drawn[name] = drawn.get(name, 0.0) + more
        carried[truck] = carried.get(truck, 0.0) + more * unit_kg(problem, name)
    room = {truck.id: room_kg(problem, truck) for truck in problem.trucks}
    lacking = {item: n - problem.depot_stock.get(item, 0.0) for item, n in drawn.items()}
    return (
        {item: n for item, n in lacking.items() if n > TOLERANCE},
        all(mass <= room[truck] + TOLERANCE for truck, mass in carried.items()),
    )


def room_kg(problem: Problem, truck: Truck) -> float:
    """What the truck may still take on besides its own stock."""
    own = sum(unit_kg(problem, item) * amount for item, amount in truck.stock.items())
    return truck.capacity_kg - own


def never_short(ready: Ready) -> bool:
    """Whether material is so plentiful that no choice of jobs and trucks could run short."""
    problem = ready.problem
    total: dict[str, float] = {}
    for job in problem.jobs:
        for item, amount in job.material.items():
            total[item] = total.get(item, 0.0) + amount
    mass = sum(unit_kg(problem, item) * amount for item, amount in total.items())
    return all(
        amount <= problem.depot_stock.get(item, 0.0) for item, amount in total.items()
    ) and all(mass <= room_kg(problem, truck) for truck in problem.trucks)
