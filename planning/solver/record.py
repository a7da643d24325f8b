"""What the rules of the checker share: breaches, and the plan put in the order of crews' days."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from planning.solver.plan import Placement, Plan
from planning.solver.problem import Crew, Job, Problem, Shift, Window

TOLERANCE = 1e-6


@dataclass(frozen=True, slots=True)
class Breach:
    """A rule that does not hold, the job or thing concerned, and a sentence."""

    rule: str
    about: str
    sentence: str


class Record:
    """A plan beside its problem, looked up by name."""

    def __init__(self, problem: Problem, plan: Plan) -> None:
        self.problem = problem
        self.plan = plan
        self.jobs = {job.id: job for job in problem.jobs}
        self.windows = {window.id: window for window in problem.windows}
        self.crews = {crew.id: crew for crew in problem.crews}
        self.trucks = {truck.id: truck for truck in problem.trucks}

    def placed(self) -> Iterator[tuple[Placement, Job, Window, Crew]]:
        """Placements of things that exist (the others are breaches of their own)."""
        for p in self.plan.placements:
            if p.job in self.jobs and p.window in self.windows and p.crew in self.crews:
                yield p, self.jobs[p.job], self.windows[p.window], self.crews[p.crew]

    def days(self) -> Iterator[tuple[Crew, Shift | None, list[Placement]]]:
        """Each crew's day: its placements in the order of their starts."""
        days: dict[tuple[str, int], list[Placement]] = defaultdict(list)
        for p, _, _, crew in self.placed():
            days[crew.id, p.day].append(p)
        for (name, _), places in sorted(days.items()):
            places.sort(key=lambda p: p.start_min)
            yield self.crews[name], self.shift(places[0]), places

    def shift(self, p: Placement) -> Shift | None:
        """The shift a placement falls in; None when its crew is not on shift then."""
        return next(
            (
                shift
                for shift in self.crews[p.crew].shifts
                if shift.day == p.day and shift.start_min <= p.start_min < shift.end_min
            ),
            None,
        )

    def needs_setup(self, p: Placement, before: Placement | None) -> bool:
        """Whether the crew sets up anew: unless it stays at the site in the same window."""
        if self.problem.setup is None:
            return False
        return before is None or before.window != p.window or self._site(before) != self._site(p)

    def _site(self, p: Placement) -> str:
        job = self.jobs[p.job]
        return job.site if job.site else job.turnout

    def stays(self, places: Iterable[Placement]) -> set[tuple[int, int, str]]:
        """From when to when each crew holds its place: while its shift and the window overlap."""
        found: set[tuple[int, int, str]] = set()
        for p in places:
            window, shift = self.windows[p.window], self.shift(p)
            if shift is not None:
                start = max(window.start_min, shift.start_min)
                found.add((start, min(window.end_min, shift.end_min), p.crew))
        return found
