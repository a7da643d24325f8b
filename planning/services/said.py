"""What a rule of the checker says, for the supervisor: in clock times, and by how much."""

from collections.abc import Callable, Iterator, Mapping, Sequence

from django.utils import timezone

from planning.services.calendar import Week
from planning.solver.check_amounts import Amounts
from planning.solver.plan import Placement, Plan
from planning.solver.problem import Job, Problem
from planning.solver.record import Breach, Record

MOST = 3
"""Sentences in one refusal; a plan that breaks more rules than that is said to do so."""


def refusal(breaches: Sequence[Breach], problem: Problem, plan: Plan, week: Week) -> str:
    """Why a change by hand cannot be: a sentence for each rule it would break."""
    told = list(dict.fromkeys(Told(problem, plan, week).sentences(breaches)))
    more = len(told) - MOST
    end = f" It would break {more} more rule{'s' if more > 1 else ''}." if more > 0 else ""
    return " ".join(told[:MOST]) + end


class Told(Record):
    """A plan that breaks rules, beside its problem, with words for each rule."""

    def __init__(self, problem: Problem, plan: Plan, week: Week) -> None:
        super().__init__(problem, plan)
        self.week = week
        self.places = {p.job: p for p in plan.placements}
        self._words: Mapping[str, Callable[[Breach], Iterator[str]]] = {
            "window": self._window,
            "qualified": self._qualified,
            "travel": self._travel,
            "shift": self._shift,
            "gangs": self._gangs,
            "turnout": self._turnout,
            "after": self._after,
            "lock": self._lock,
            "material": self._material,
            "capacity": self._capacity,
            "chance": self._chance,
        }

    def sentences(self, breaches: Sequence[Breach]) -> Iterator[str]:
        """Each breach in words; one of a rule without words of its own, in the checker's."""
        for breach in breaches:
            tell = self._words.get(breach.rule)
            said = list(tell(breach)) if tell else []
            yield from said or [breach.sentence]

    def clock(self, minute: float) -> str:
        return f"{timezone.localtime(self.week.moment(int(minute))):%a %H:%M}"

    def day(self, number: int) -> str:
        return f"{self.week.days()[number]:%A}"

    def name(self, job: Job) -> str:
        return f"{job.id} at turnout {job.turnout}"

    def _of(self, breach: Breach) -> tuple[Placement, Job] | None:
        place, job = self.places.get(breach.about), self.jobs.get(breach.about)
        return (place, job) if place and job else None

    def _window(self, breach: Breach) -> Iterator[str]:
        if (found := self._of(breach)) is None:
            return
        place, job = found
        window = self.windows[place.window]
        if window.reaches(job) and not window.covers(job):
            yield (
                f"{self.name(job)} may not be done in window {window.id}: its repair opens the "
                "track and trains run there, or a job that comes first has no place this week."
            )
        if not window.reaches(job):
            yield f"Window {window.id} does not reach turnout {job.turnout}. Choose another window."
        if place.start_min < window.start_min:
            early = window.start_min - place.start_min
            yield (
                f"{self.name(job)} would start {self.clock(place.start_min)}, {early} min before "
                f"window {window.id} begins at {self.clock(window.start_min)}."
            )
        if place.end_min > window.end_min:
            late = place.end_min - window.end_min
            yield (
                f"{self.name(job)} would end {self.clock(place.end_min)}, {late} min after window "
                f"{window.id} is handed back at {self.clock(window.end_min)}."
            )

    def _qualified(self, breach: Breach) -> Iterator[str]:
        if (found := self._of(breach)) is None:
            return
        place, job = found
        held = self.crews[place.crew].holds.get(place.day, frozenset())
        lacking = sorted({*job.needs, *self.windows[place.window].needs} - held)
        words = ", ".join(name.replace("_", " ") for name in lacking)
        yield (
            f"Nobody in crew {place.crew} is qualified for {words} on {self.day(place.day)}, as "
            f"{self.name(job)} or its track time needs."
        )

    def _travel(self, breach: Breach) -> Iterator[str]:
        if (found := self._of(breach)) is None:
            return
        place, job = found
        before = self.places.get(place.travel_from or "")
        shift = self.shift(place)
        free = before.end_min if before else (shift.start_min if shift else place.start_min)
        short = free + place.travel_min - place.start_min
        begun = f"ends {before.job}" if before else "leaves its base"
        yield (
            f"Crew {place.crew} {begun} at {self.clock(free)} and needs {place.travel_min} min of "
            f"road to turnout {job.turnout}: {short} min too late for {self.clock(place.start_min)}"
            f", when {job.id} would start."
        )

    def _shift(self, breach: Breach) -> Iterator[str]:
        if (found := self._of(breach)) is None:
            return
        place, job = found
        shift = self.shift(place)
        if shift is None:
            yield f"Crew {place.crew} is not on shift on {self.clock(place.start_min)}."
            return
        home = self.problem.roads.travel_min(job.place, self.crews[place.crew].base)
        back = place.end_min + home
        yield (
            f"Crew {place.crew} would be back at its base at {self.clock(back)}, "
            f"{back - shift.end_min:.0f} min after its shift ends at {self.clock(shift.end_min)}."
        )

    def _gangs(self, breach: Breach) -> Iterator[str]:
        window = self.windows[breach.about]
        here = sorted({p.crew for p in self.plan.placements if p.window == window.id})
        yield (
            f"Window {window.id} has room for {window.gangs} gang{'s' * (window.gangs > 1)}; crews "
            f"{', '.join(here)} would be in it at once, {len(here) - window.gangs} too many."
        )

    def _turnout(self, breach: Breach) -> Iterator[str]:
        here = sorted({p.crew for p, job, _, _ in self.placed() if job.turnout == breach.about})
        yield (
            f"Crews {', '.join(here)} would hold turnout {breach.about} at the same time; only one "
            "may work there."
        )

    def _after(self, breach: Breach) -> Iterator[str]:
        if (found := self._of(breach)) is None:
            return
        _, job = found
        open_still = [name for name in job.after if name not in self.places]
        if open_still:
            yield f"{job.id} comes after {', '.join(open_still)}, which has no place in the plan."
        else:
            yield f"{job.id} would start before {', '.join(job.after)} is done; put it later."

    def _lock(self, breach: Breach) -> Iterator[str]:
        job, place = self.jobs[breach.about], self.places.get(breach.about)
        if job.lock is None:
            return
        held = f"crew {job.lock.crew} in window {job.lock.window} at"
        start = self.clock(job.lock.start_min)
        moved = place.start_min - job.lock.start_min if place else 0
        by = f" It would move by {moved} min." if moved else ""
        yield f"{self.name(job)} is locked to {held} {start}.{by} Take the lock off first."

    def _material(self, breach: Breach) -> Iterator[str]:
        if found := self._of(breach):
            place, job = found
            yield f"Crew {place.crew} has no truck for the material of {self.name(job)}."
            return
        amounts, item = Amounts(self.problem, self.plan), breach.about
        wanted = sum(amounts.short(truck, name) for truck, name in amounts.use() if name == item)
        has = self.problem.depot_stock.get(item, 0.0)
        order = " before an order placed now is there" if item in self.problem.arrives else ""
        yield (
            f"The trucks would draw {wanted:g} of {item.replace('_', ' ')} from the depots{order}, "
            f"which have {has:g}: {wanted - has:g} short."
        )

    def _capacity(self, breach: Breach) -> Iterator[str]:
        truck = self.trucks[breach.about]
        kg = Amounts(self.problem, self.plan).carried_kg(truck)
        yield (
            f"Truck {truck.id} would carry {kg:.0f} kg; it may carry {truck.capacity_kg:.0f} kg: "
            f"{kg - truck.capacity_kg:.0f} kg too much."
        )

    def _chance(self, breach: Breach) -> Iterator[str]:
        if (found := self._of(breach)) is None:
            return
        place, job = found
        window, asked = self.windows[place.window], self.problem.chance
        if place.chance >= asked:
            return
        yield (
            f"With {self.name(job)} in it, window {window.id} would be handed back by "
            f"{self.clock(window.end_min)} with a chance of {100 * place.chance:.1f} %; "
            f"{100 * asked:g} % is asked for, {100 * (asked - place.chance):.1f} points more."
        )
