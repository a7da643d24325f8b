"""Where a job could go: every crew's shift and window at its turnout, tried by the checker."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from planning.models import WeekPlan
from planning.services.desk import Desk, open_desk
from planning.services.holding import first_minute
from planning.services.said import refusal
from planning.services.spots import ByHand, Spot
from planning.solver.check import check
from planning.solver.plan import Placement, Plan
from planning.solver.problem import Crew, Job, Problem, Shift, Window

DRAWS = 20_000
"""For an offer: at 95 % a standard error of 0.15 points. What is chosen is drawn with more."""
CHECK_DRAWS = 1_000
"""The rest of the plan is the plan that stands; its chances need no more than a look."""


@dataclass(frozen=True, slots=True)
class Offer:
    """A place that breaks no rule: when, with what chance, and what it does to the plan's value.

    ``put_off`` are the jobs of that crew's day that would start later.
    """

    crew: str
    window: str
    starts_at: datetime
    ends_at: datetime
    chance: float
    value: float
    change: float
    late: bool
    put_off: tuple[str, ...]
    here: bool


@dataclass(frozen=True, slots=True)
class NoPlace:
    """A crew's day and window that would break a rule, and which."""

    crew: str
    window: str
    why: str


@dataclass(frozen=True, slots=True)
class Places:
    """All there is to choose from for one job."""

    offers: tuple[Offer, ...]
    closed: tuple[NoPlace, ...]


def places_for(plan: WeekPlan, job: str, at: datetime) -> Places:
    """Every place for the job in this plan, the most valuable first, then the surest.

    Nothing that would have to begin, or a crew to leave, before ``at`` is offered. Raises
    KeyError when the job does not wait for track time in the plan's week.
    """
    return _Search(open_desk(plan), job, at).places()


class _Search:
    def __init__(self, desk: Desk, name: str, at: datetime) -> None:
        self.desk = desk
        self.since = first_minute(desk.week, at)
        self.job: Job = {job.id: job for job in desk.problem.jobs}[name]
        self.others = desk.others(name)
        free = ByHand(desk.problem, desk.known)
        self.now = free.plan(desk.spots, desk.left_out, draws=CHECK_DRAWS)
        self.start_of = {p.job: p.start_min for p in self.now.placements}

    def places(self) -> Places:
        offers: list[Offer] = []
        closed: list[NoPlace] = []
        for crew, shift, window in self._pairs():
            found = self._best(crew, shift, window)
            if isinstance(found, Offer):
                offers.append(found)
            else:
                closed.append(NoPlace(crew.id, window.id, found))
        offers.sort(key=lambda o: (-round(o.change, 2), -o.chance, o.starts_at))
        return Places(tuple(offers), tuple(closed))

    def _pairs(self) -> Iterator[tuple[Crew, Shift, Window]]:
        for window in self.desk.problem.windows:
            if not window.covers(self.job) or window.end_min <= self.since:
                continue
            for crew in self.desk.problem.crews:
                for shift in crew.shifts:
                    if shift.start_min < window.end_min and window.start_min < shift.end_min:
                        yield crew, shift, window

    def _best(self, crew: Crew, shift: Shift, window: Window) -> Offer | str:
        """The earliest place in this crew's day that keeps every rule, or why there is none."""
        why = ""
        for spot, spots in self._ways(crew, shift, window):
            problem = self.desk.locked_at(spot)
            made = self._made(problem, spot, spots)
            breaches = check(problem, made, draws=CHECK_DRAWS)
            if not breaches:
                return self._offer(made)
            why = why or refusal(breaches, problem, made, self.desk.week)
        return why or f"No road leads crew {crew.id} there in its shift."

    def _made(self, problem: Problem, spot: Spot, spots: Sequence[Spot]) -> Plan:
        by_hand = ByHand(problem, self.now.placements)
        out = self.desk.out_but(self.job.id)
        return by_hand.plan(spots, out, draws=DRAWS, only=by_hand.day_of(spot))

    def _ways(
        self, crew: Crew, shift: Shift, window: Window
    ) -> list[tuple[Spot, tuple[Spot, ...]]]:
        """The job after each other job of the day in turn, those that put nobody off first."""
        by_hand = ByHand(self.desk.problem)
        today = [o for o in self.others if by_hand.day_of(o) == (crew.id, shift.start_min)]
        rest = tuple(o for o in self.others if o not in today)
        found: list[tuple[tuple[bool, int], Spot, tuple[Spot, ...]]] = []
        for at in range(len(today) + 1):
            start = self._earliest(by_hand, crew, shift, window, today[:at])
            if start is None or start >= shift.end_min:
                continue
            spot = Spot(self.job.id, crew.id, window.id, start, pinned=True)
            day = [*today[:at], spot, *today[at:]]
            timed = by_hand.timed((crew.id, shift.start_min), day)
            pushed = any(p.start_min != self.start_of.get(p.job, p.start_min) for p in timed)
            found.append(((pushed, start), spot, (*rest, *day)))
        found.sort(key=lambda way: way[0])
        return [(spot, spots) for _, spot, spots in found]

    def _earliest(
        self, by_hand: ByHand, crew: Crew, shift: Shift, window: Window, before: Sequence[Spot]
    ) -> int | None:
        at, free = crew.base, shift.start_min
        if before:
            last = by_hand.timed((crew.id, shift.start_min), before)[-1]
            at, free = by_hand.jobs[last.job].place, last.end_min
        travel = self.desk.problem.roads.whole_minutes(at, self.job.place)
        if travel is None:
            return None
        return max(max(free, self.since) + travel, window.start_min, self.job.earliest_min)

    def _offer(self, made: Plan) -> Offer:
        place = next(p for p in made.placements if p.job == self.job.id)
        return Offer(
            crew=place.crew,
            window=place.window,
            starts_at=self.desk.week.moment(place.start_min),
            ends_at=self.desk.week.moment(place.end_min),
            chance=place.chance,
            value=place.value,
            change=made.value - self.now.value,
            late=place.late,
            put_off=tuple(p.job for p in made.placements if self._put_off(p)),
            here=self._is_here(place),
        )

    def _put_off(self, p: Placement) -> bool:
        return p.job != self.job.id and p.start_min > self.start_of[p.job]

    def _is_here(self, place: Placement) -> bool:
        spot = self.desk.spot_of(self.job.id)
        wanted = (place.crew, place.window, place.start_min)
        return spot is not None and (spot.crew, spot.window, spot.start_min) == wanted
