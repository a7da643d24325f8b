"""A plan put together by hand: where each job is, timed and valued by the rules of the checker.

Nothing here searches. What the supervisor says is taken as it is; the rest of a crew's day is put
off only as far as it must be, and every chance of a day that changed is drawn anew.
"""

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from planning.solver.check_chance import Chances
from planning.solver.plan import LeftOut, Load, Placement, Plan
from planning.solver.problem import MINUTES_A_DAY, Problem, Shift
from planning.solver.stock import loads, uses
from turnouts.services.errors import Refused

DRAWS = 100_000
"""Working times drawn for a chance: at 95 % the standard error is 0.07 points."""

Day = tuple[str, int]
"""A crew and the start of its shift; without a shift, the minute its day of the week begins."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A job where it is wanted. ``pinned`` starts are kept, others put off where they must be."""

    job: str
    crew: str
    window: str
    start_min: int
    pinned: bool = False


class ByHand:
    """A problem looked up by name, and what is known of the plan that is changed.

    ``known`` are its placements as they were kept: a day that comes out the same keeps its
    chances, because nothing about it was decided anew.
    """

    def __init__(self, problem: Problem, known: Sequence[Placement] = ()) -> None:
        self.problem = problem
        self.jobs = {job.id: job for job in problem.jobs}
        self.windows = {window.id: window for window in problem.windows}
        self.crews = {crew.id: crew for crew in problem.crews}
        self.known = {p.job: p for p in known}

    def plan(
        self,
        spots: Sequence[Spot],
        left_out: Sequence[LeftOut],
        *,
        draws: int = DRAWS,
        only: Day | None = None,
    ) -> Plan:
        """These spots as a plan: timed, valued, with its chances and loads, and without a bound.

        The order of the spots is the order of each crew's day. ``only`` names the one day whose
        chances are wanted; the others then keep those known.
        """
        days: dict[Day, list[Spot]] = defaultdict(list)
        for spot in spots:
            days[self.day_of(spot)].append(spot)
        timed = {day: self.timed(day, here) for day, here in days.items()}
        bare = self._bare([p for here in timed.values() for p in here], left_out)
        chances = Chances(self.problem, bare, draws, seed=0)
        found: list[Placement] = []
        for day, here in timed.items():
            drawn = only is None or day == only
            found += self._with_chances(chances, here, drawn=drawn)
        found.sort(key=lambda p: (p.start_min, p.crew, p.job))
        return replace(self._bare(found, left_out), window_chance=window_chances(timed, found))

    def day_of(self, spot: Spot) -> Day:
        shift = self._shift(spot)
        return spot.crew, (
            shift.start_min if shift else spot.start_min // MINUTES_A_DAY * MINUTES_A_DAY
        )

    def timed(self, day: Day, spots: Sequence[Spot]) -> list[Placement]:
        """A crew's day in this order, each job as early as wanted and no earlier than it can."""
        crew = self.crews[spots[0].crew]
        shift = self._shift(spots[0])
        number = shift.day if shift else day[1] // MINUTES_A_DAY
        at, free = crew.base, shift.start_min if shift else -math.inf
        found: list[Placement] = []
        for spot in spots:
            job = self.jobs[spot.job]
            travel = self.problem.roads.whole_minutes(at, job.place)
            if travel is None:
                raise Refused(f"No road leads crew {crew.id} to turnout {job.turnout}.")
            earliest = max(free + travel, self.windows[spot.window].start_min, job.earliest_min)
            pinned = spot.pinned or job.lock is not None
            start = spot.start_min if pinned else int(max(spot.start_min, earliest))
            found.append(self._placement(spot, start, number, travel, found[-1:]))
            at, free = job.place, found[-1].end_min
        return found

    def _placement(
        self, spot: Spot, start: int, day: int, travel: int, before: list[Placement]
    ) -> Placement:
        job = self.jobs[spot.job]
        setup = self._setup(spot, before)
        mean = job.work.mean_min
        if setup and self.problem.setup:
            mean += self.problem.setup.mean_min
        end = start + math.ceil(round(mean, 6))
        late = job.due_min is not None and end > job.due_min
        value = job.value[min(max(day, 0), len(job.value) - 1)]
        return Placement(
            job=job.id,
            crew=spot.crew,
            truck=self.crews[spot.crew].truck,
            window=spot.window,
            day=day,
            start_min=start,
            end_min=end,
            setup=setup,
            travel_from=before[0].job if before else None,
            travel_min=travel,
            chance=0.0,
            value=value * (self.problem.late_share if late else 1.0),
            late=late,
        )

    def _setup(self, spot: Spot, before: list[Placement]) -> bool:
        if self.problem.setup is None:
            return False
        stays = (
            before
            and before[0].window == spot.window
            and self.jobs[before[0].job].set_up_at == self.jobs[spot.job].set_up_at
        )
        return not stays

    def _shift(self, spot: Spot) -> Shift | None:
        shifts = self.crews[spot.crew].shifts
        return next((s for s in shifts if s.start_min <= spot.start_min < s.end_min), None)

    def _with_chances(
        self, chances: Chances, here: list[Placement], *, drawn: bool
    ) -> list[Placement]:
        before = [self.known.get(p.job) for p in here]
        same = all(
            k is not None and replace(p, chance=k.chance) == k
            for p, k in zip(here, before, strict=True)
        )
        # A stranger in the day counts only on the day that is looked at, which is drawn.
        if same or not drawn:
            kept = [k.chance if k else 0.0 for k in before]
        else:
            kept = chances.chances(here)
        return [replace(p, chance=chance) for p, chance in zip(here, kept, strict=True)]

    def _loads(self, placements: Sequence[Placement]) -> tuple[Load, ...]:
        """What each truck uses over the week, and what it draws over its own stock."""
        use: dict[tuple[str, str], float] = defaultdict(float)
        for p in placements:
            for name, amount in uses(self.problem, p.day, self.jobs[p.job]).items():
                if p.truck is not None:
                    use[p.truck, name] += amount
        return loads(self.problem, use)

    def _bare(self, placements: Sequence[Placement], left_out: Sequence[LeftOut]) -> Plan:
        return Plan(
            placements=tuple(placements),
            left_out=tuple(left_out),
            loads=self._loads(placements),
            value=sum(p.value for p in placements),
            bound=None,
            gap=None,
            seconds=0.0,
            window_chance={},
            notes=(),
        )


def window_chances(
    days: Mapping[Day, Sequence[Placement]], found: Sequence[Placement]
) -> dict[str, float]:
    """For each window worked in, the chance that the last job of every crew in it is done."""
    chance = {p.job: p.chance for p in found}
    whole: dict[str, float] = {}
    for here in days.values():
        for window, last in {p.window: p.job for p in here}.items():
            whole[window] = whole.get(window, 1.0) * chance[last]
    return dict(sorted(whole.items()))
