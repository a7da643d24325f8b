"""The checker's rules on what is done: each job once, whole or in all its parts, in their order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from itertools import pairwise

from planning.solver.problem import Job
from planning.solver.record import Breach, Record


class Parts(Record):
    """Jobs and their parts: each rule a method that yields breaches."""

    @property
    def shared(self) -> dict[str, list[Job]]:
        """The parts of each job that is offered in parts."""
        found: dict[str, list[Job]] = {}
        for job in self.problem.jobs:
            if job.part_of is not None:
                found.setdefault(job.part_of, []).append(job)
        return found

    def once(self) -> Iterator[Breach]:
        """Each job is placed once or left out once, never both or neither; in parts: in all."""
        placed = Counter(p.job for p in self.plan.placements)
        out = Counter(left.job for left in self.plan.left_out)
        shared = self.shared
        for job in self.problem.jobs:
            times = placed[job.id] + out[job.id]
            if job.part_of is None and job.id not in shared and times != 1:
                yield self._times(job.id, times)
        for name, parts in shared.items():
            yield from self._whole_or_parts(name, [part.id for part in parts], placed, out)

    def _whole_or_parts(
        self, name: str, parts: list[str], placed: Mapping[str, int], out: Mapping[str, int]
    ) -> Iterator[Breach]:
        counts = {placed[part] for part in parts}
        if counts not in ({0}, {1}):
            text = f"Of the parts of job {name} only some are in the plan, or one is twice."
            yield Breach("parts", name, text)
        for part in parts:
            if out[part]:
                yield Breach("parts", part, f"Part {part} is left out by itself, not job {name}.")
        times = placed[name] + out[name] + (counts != {0})
        if times != 1:
            yield self._times(name, times)

    def _times(self, name: str, times: int) -> Breach:
        return Breach("once", name, f"Job {name} is in the plan {times} times.")

    def zones(self) -> Iterator[Breach]:
        """No zone of a job done in parts is done twice, and none is missing."""
        placed = {p.job for p in self.plan.placements}
        for name, parts in self.shared.items():
            here = [job for job in [*parts, self.jobs.get(name)] if job and job.id in placed]
            done = Counter(zone for job in here for zone in job.zones)
            whole = self.jobs.get(name)
            wanted = whole.zones if whole else {zone for part in parts for zone in part.zones}
            if here and done != Counter(wanted):
                odd = {zone for zone in {*done, *wanted} if done[zone] != 1}
                text = f"Zones {', '.join(sorted(odd))} of job {name} are missing or done twice."
                yield Breach("zones", name, text)

    def in_order(self) -> Iterator[Breach]:
        """Each part is in a window that begins no earlier than the former part's is handed back."""
        window = {p.job: self.windows[p.window] for p, _, _, _ in self.placed()}
        for parts in self.shared.values():
            for one, two in pairwise(part.id for part in parts):
                if one in window and two in window and window[two].start_min < window[one].end_min:
                    text = f"Part {two} is in a window that begins before {one} is handed back."
                    yield Breach("parts", two, text)
