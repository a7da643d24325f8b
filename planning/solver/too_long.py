"""Jobs that no window of the week holds whole, and the track time there is for them in parts."""

from __future__ import annotations

from collections.abc import Sequence

from planning.solver.problem import Problem
from planning.solver.ready import Ready

Span = tuple[int, int]


def too_long(problem: Problem) -> dict[str, tuple[Span, ...]]:
    """For each job that no crew could finish in time in any one window: when crews could be there.

    From when to when one that may do it could work in a window that covers it, in minutes. Jobs
    that are locked or parts already, and jobs without any such time, are not among them.
    """
    ready = Ready(problem)
    setups = int(problem.setup is not None)
    found: dict[str, set[Span]] = {}
    fits: set[str] = set()
    for day in ready.crew_days:
        for j, job in enumerate(ready.jobs):
            if job.lock is not None or job.part_of is not None:
                continue
            for option in ready.loose_options(day, j):
                first = max(option.release, day.shift.start_min + option.home)
                last = min(option.end, day.shift.end_min - option.home)
                if last > first:
                    found.setdefault(job.id, set()).add((first, last))
                if first + ready.needed(1 << j, setups) <= option.end and first <= option.latest:
                    fits.add(job.id)
    return {name: tuple(sorted(spans)) for name, spans in found.items() if name not in fits}


def holds(spans: Sequence[Span], minutes: Sequence[float]) -> bool:
    """Whether so many minutes each find a span of their own, one ended before the next begins."""
    free = 0
    for need in minutes:
        ends = [end for start, end in spans if start >= free and end - start >= need]
        if not ends:
            return False
        free = min(ends)
    return True
