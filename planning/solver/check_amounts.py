"""The checker's rules on material and money."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from planning.solver.problem import Truck
from planning.solver.record import TOLERANCE, Breach, Record


class Amounts(Record):
    """Material used and drawn, money counted: each rule a method that yields breaches."""

    def use(self, *, arrived: bool | None = None) -> dict[tuple[str, str], float]:
        """Amount of each item used from each truck: in all, before or after an order is there."""
        use: dict[tuple[str, str], float] = defaultdict(float)
        for p, job, _, crew in self.placed():
            for item, amount in job.material.items():
                there = item in self.problem.arrives and self.problem.arrives[item] <= p.day
                if crew.truck is not None and amount and arrived in (None, there):
                    use[crew.truck, item] += amount
        return dict(use)

    def short(self, truck: str, item: str) -> float:
        """What the truck must draw of the item before an order is there, over its own stock."""
        return max(0.0, self.use(arrived=False).get((truck, item), 0.0) - self.own(truck, item))

    def drawn(self, truck: str, item: str) -> float:
        """What the truck must draw of the item over the week."""
        return max(0.0, self.use().get((truck, item), 0.0) - self.own(truck, item))

    def own(self, truck: str, item: str) -> float:
        """What lies on the truck itself."""
        return self.trucks[truck].stock.get(item, 0.0) if truck in self.trucks else 0.0

    def material(self) -> Iterator[Breach]:
        """Jobs with material go to crews with a truck; the depot has what the trucks draw."""
        for p, job, _, crew in self.placed():
            if crew.truck is None and any(job.material.values()):
                yield Breach("material", p.job, f"Crew {crew.id} has no truck for its material.")
        depot: dict[str, float] = defaultdict(float)
        for truck, item in self.use():
            depot[item] += self.short(truck, item)
        for item, amount in depot.items():
            if amount > self.problem.depot_stock.get(item, 0.0) + TOLERANCE:
                text = f"The depot would give {amount:g} of {item}; it has less."
                yield Breach("material", item, text)

    def loads(self) -> Iterator[Breach]:
        """The loads shown are what the jobs use and what must be drawn."""
        shown = {(load.truck, load.item): load for load in self.plan.loads}
        use = self.use()
        for truck, item in {*use, *shown}:
            load, amount = shown.get((truck, item)), use.get((truck, item), 0.0)
            off = (
                abs(load.used - amount) + abs(load.from_depot - self.drawn(truck, item))
                if load
                else amount
            )
            if off > TOLERANCE:
                yield Breach("load", truck, f"The load of {item} on truck {truck} is wrong.")

    def orders(self) -> Iterator[Breach]:
        """What the loads order is what the trucks draw beyond the depot, and nothing more."""
        for item in {load.item for load in self.plan.loads}:
            some = [load for load in self.plan.loads if load.item == item]
            short = sum(self.short(load.truck, item) for load in some)
            stock = max(self.problem.depot_stock.get(item, 0.0), short)
            needed = max(0.0, sum(self.drawn(load.truck, item) for load in some) - stock)
            if item not in self.problem.arrives:
                needed = 0.0
            if abs(sum(load.ordered for load in some) - needed) > TOLERANCE * max(1.0, needed):
                yield Breach("load", item, f"{needed:g} of {item} would have to be ordered.")

    def capacity(self) -> Iterator[Breach]:
        """No truck's own stock and draws weigh more than it may carry."""
        for truck in self.trucks.values():
            load = self.carried_kg(truck)
            if load > truck.capacity_kg + TOLERANCE:
                text = f"Truck {truck.id} would carry {load:g} kg of {truck.capacity_kg:g}."
                yield Breach("capacity", truck.id, text)

    def carried_kg(self, truck: Truck) -> float:
        """The truck's own, what it draws over it, and beside both what an order brings."""
        kg, ordered = self.problem.item_kg, self.use(arrived=True)
        items = {*truck.stock, *(item for name, item in self.use() if name == truck.id)}
        return sum(
            kg.get(item, 1.0)
            * (
                truck.stock.get(item, 0.0)
                + self.short(truck.id, item)
                + ordered.get((truck.id, item), 0.0)
            )
            for item in items
        )

    def values(self) -> Iterator[Breach]:
        """Each job counts its value of the day, less where late; the plan counts their sum."""
        for p, job, _, _ in self.placed():
            late = job.due_min is not None and p.end_min > job.due_min
            worth = job.value[p.day] * (self.problem.late_share if late else 1.0)
            if late != p.late or abs(p.value - worth) > TOLERANCE:
                yield Breach("value", p.job, f"Job {p.job} counts {p.value:g}; it saves {worth:g}.")
        total = sum(p.value for p in self.plan.placements)
        if abs(total - self.plan.value) > TOLERANCE * max(1.0, total):
            yield Breach("value", "plan", f"The plan counts {self.plan.value:g}, not {total:g}.")

    def changed(self) -> Iterator[Breach]:
        """What differs from the former plan is counted at its prices."""
        keep, price = self.problem.keep, 0.0
        if keep is not None:
            now = {p.job: p for p in self.plan.placements}
            for name, old in keep.places.items():
                p = now.get(name)
                place = (p.crew, p.day, p.window, p.start_min) if p else ()
                price += keep.crew * (p is None or p.crew != old.crew)
                price += keep.day * (p is None or p.day != old.day)
                price += keep.window * (p is None or p.window != old.window)
                price += keep.begin * (place != (old.crew, old.day, old.window, old.start_min))
        if abs(price - self.plan.changed) > TOLERANCE * max(1.0, price):
            text = f"The changes are counted at {self.plan.changed:g}; they cost {price:g}."
            yield Breach("changed", "plan", text)

    def bound(self) -> Iterator[Breach]:
        """The bound is not below the plan, and the gap is the gap between them."""
        value, bound, gap = self.plan.value - self.plan.changed, self.plan.bound, self.plan.gap
        if bound is None:
            if gap is not None:
                yield Breach("bound", "plan", "A gap is shown without a bound.")
            return
        if bound < value - TOLERANCE * max(1.0, abs(value)):
            yield Breach("bound", "plan", f"The bound {bound:g} is below the plan, {value:g}.")
        larger = max(abs(bound), abs(value))
        right = (bound - value) / larger if larger else 0.0
        if gap is None or abs(gap - right) > TOLERANCE:
            yield Breach("bound", "plan", f"The gap shown is {gap}, not {right:g}.")
