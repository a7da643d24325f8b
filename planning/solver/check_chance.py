"""The checker's rule on time: the chance of handing back, by drawing working times.

A crew starts a job when it gets there, not before the window, the job's earliest minute, its
locked start, or the end of the window of a job done elsewhere that comes first.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt

from planning.solver.plan import Placement, Plan
from planning.solver.problem import Duration, Problem
from planning.solver.record import Breach, Record

Array = npt.NDArray[np.float64]
ERRORS = 4  # standard errors: beyond these, chance alone would be a one in 30,000 event


class Chances(Record):
    """Each crew's day run `draws` times with times drawn from the problem's distributions."""

    def __init__(self, problem: Problem, plan: Plan, draws: int, seed: int) -> None:
        super().__init__(problem, plan)
        self.count = draws
        self.random = np.random.default_rng(seed)

    def in_time(self) -> Iterator[Breach]:
        """Every placement is finished at its window's end with the set chance, and says so."""
        for _, _, day in self.days():
            for p, found in zip(day, self.chances(day), strict=True):
                error = ERRORS * math.sqrt(max(found * (1 - found), 1 / self.count) / self.count)
                if min(p.chance, found + error) < self.problem.chance:
                    text = f"Job {p.job} is in time with chance {found:.3f} (shown {p.chance:.3f})."
                    yield Breach("chance", p.job, text)
                elif p.chance > found + error:
                    text = f"Job {p.job} shows chance {p.chance:.3f}; it is {found:.3f}."
                    yield Breach("chance", p.job, text)
        yield from self._windows()

    def chances(self, day: Sequence[Placement]) -> list[float]:
        """For each placement of a crew's day, the share of draws finished at its window's end."""
        common = self.random.standard_normal(self.count)
        end: Array | None = None
        found: list[float] = []
        before: Placement | None = None
        for p in day:
            start: Array = np.full(self.count, float(self._release(p, day)))
            if end is None:
                start = np.maximum(start, p.start_min)
            else:
                start = np.maximum(start, end + p.travel_min)
            end = start + self._draw(self.jobs[p.job].work, common)
            if self.problem.setup and self.needs_setup(p, before):
                end = end + self._draw(self.problem.setup, common)
            found.append(float(np.mean(end <= self.windows[p.window].end_min)))
            before = p
        return found

    def _release(self, p: Placement, day: Sequence[Placement]) -> int:
        job = self.jobs[p.job]
        here = {other.job for other in day}
        ends = [
            self.windows[other.window].end_min
            for other in self.plan.placements
            if other.job in job.after and other.job not in here
        ]
        locked = job.lock.start_min if job.lock else 0
        return max(self.windows[p.window].start_min, job.earliest_min, locked, *ends, 0)

    def _draw(self, duration: Duration, common: Array) -> Array:
        if duration.mean_min == 0:
            return np.zeros(self.count)
        variance = math.log1p((duration.sd_min / duration.mean_min) ** 2)
        own = self.random.standard_normal(self.count)
        mixed = math.sqrt(duration.shared) * common + math.sqrt(1 - duration.shared) * own
        middle = math.log(duration.mean_min) - variance / 2
        return np.asarray(np.exp(middle + math.sqrt(variance) * mixed))

    def _windows(self) -> Iterator[Breach]:
        """The chance shown for a window is that of all its crews' last jobs together."""
        right: dict[str, float] = {}
        for _, _, day in self.days():
            for window, chance in {p.window: p.chance for p in day}.items():
                right[window] = right.get(window, 1.0) * chance
        for name in {*right, *self.plan.window_chance}:
            shown, chance = self.plan.window_chance.get(name, -1.0), right.get(name, -1.0)
            if abs(shown - chance) > 1e-9:
                yield Breach("chance", name, f"Window {name} shows the wrong chance.")
