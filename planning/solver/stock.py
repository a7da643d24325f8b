"""Material over the week: what each truck uses, and what it must draw from the depot."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from planning.solver.plan import Load
from planning.solver.problem import Problem, Truck
from planning.solver.ready import Ready
from planning.solver.timing import Route

TOLERANCE = 1e-6


def used(ready: Ready, routes: Iterable[Route]) -> dict[tuple[str, str], float]:
    """Amount of each (truck, item) that the jobs of these routes use."""
    total: dict[tuple[str, str], float] = {}
    for route in routes:
        truck = ready.crew_days[route.day].crew.truck
        for step in route.steps:
            for item, amount in ready.jobs[step.job].material.items():
                if truck is not None and amount:
                    total[truck, item] = total.get((truck, item), 0.0) + amount
    return total


def loads(problem: Problem, use: Mapping[tuple[str, str], float]) -> tuple[Load, ...]:
    """What each truck uses and draws, in the order of trucks and items."""
    trucks = {truck.id: truck for truck in problem.trucks}
    return tuple(
        Load(truck, item, amount, max(0.0, amount - trucks[truck].stock.get(item, 0.0)))
        for (truck, item), amount in sorted(use.items())
    )


def enough(problem: Problem, use: Mapping[tuple[str, str], float]) -> bool:
    """Whether depot stock and the trucks' capacity allow this use."""
    over, room = drawn_over(problem, use)
    return room and not over


def drawn_over(
    problem: Problem, use: Mapping[tuple[str, str], float]
) -> tuple[dict[str, float], bool]:
    """What the depot lacks of each item for this use, and whether the trucks have the room."""
    drawn: dict[str, float] = {}
    carried: dict[str, float] = {}
    for load in loads(problem, use):
        mass = problem.item_kg.get(load.item, 1.0)
        drawn[load.item] = drawn.get(load.item, 0.0) + load.from_depot
        carried[load.truck] = carried.get(load.truck, 0.0) + load.from_depot * mass
    room = {truck.id: room_kg(problem, truck) for truck in problem.trucks}
    lacking = {item: n - problem.depot_stock.get(item, 0.0) for item, n in drawn.items()}
    return (
        {item: n for item, n in lacking.items() if n > TOLERANCE},
        all(mass <= room[truck] + TOLERANCE for truck, mass in carried.items()),
    )


def room_kg(problem: Problem, truck: Truck) -> float:
    """What the truck may still take on besides its own stock."""
    own = sum(problem.item_kg.get(item, 1.0) * amount for item, amount in truck.stock.items())
    return truck.capacity_kg - own


def never_short(ready: Ready) -> bool:
    """Whether material is so plentiful that no choice of jobs and trucks could run short."""
    problem = ready.problem
    total: dict[str, float] = {}
    for job in problem.jobs:
        for item, amount in job.material.items():
            total[item] = total.get(item, 0.0) + amount
    mass = sum(problem.item_kg.get(item, 1.0) * amount for item, amount in total.items())
    return all(
        amount <= problem.depot_stock.get(item, 0.0) for item, amount in total.items()
    ) and all(mass <= room_kg(problem, truck) for truck in problem.trucks)
