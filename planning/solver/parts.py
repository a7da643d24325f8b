"""Jobs that may be done in parts, each in a work window of its own, instead of whole.

A part is a job like any other: its own time, material and qualifications. What ties parts together
is here: all of them or none; never beside the whole job; and in their order, each in a window that
begins no earlier than the one before was handed back. Only the last part saves money, because the
repair is done when it is.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from planning.solver.problem import Job, Problem


@dataclass(frozen=True, slots=True)
class Group:
    """The parts of one job, by number and in order; `whole` is the job itself, if it is offered."""

    name: str
    whole: int | None
    parts: tuple[int, ...]


def groups_of(jobs: Sequence[Job]) -> tuple[Group, ...]:
    """The jobs that are offered in parts, in the order of their first parts."""
    number = {job.id: j for j, job in enumerate(jobs)}
    found: dict[str, list[int]] = {}
    for j, job in enumerate(jobs):
        if job.part_of is not None:
            found.setdefault(job.part_of, []).append(j)
    return tuple(Group(name, number.get(name), tuple(parts)) for name, parts in found.items())


def faults_of_parts(problem: Problem) -> Iterator[str]:
    """What is wrong with the parts of a problem's jobs, as sentences."""
    jobs = problem.jobs
    groups = groups_of(jobs)
    shared = {group.name for group in groups} | {jobs[j].id for g in groups for j in g.parts}
    for job in jobs:
        for first in job.after:
            if first in shared:
                yield (
                    f"Job {job.id} comes after {first}, but no job can wait for one that may be "
                    "done in parts."
                )
    for group in groups:
        yield from _faults(group.name, [jobs[j] for j in group.parts])
        if group.whole is not None:
            yield from _faults_beside(jobs[group.whole], [jobs[j] for j in group.parts])


def _faults(name: str, parts: list[Job]) -> Iterator[str]:
    if len(parts) < 2:
        yield f"Job {name} is offered in one part; give at least two, or the job as it is."
    if len({(part.turnout, part.track) for part in parts}) > 1:
        yield f"The parts of job {name} are at different turnouts; they must be at one."
    for part in parts[:-1]:
        if any(part.value) or part.due_min is not None:
            yield (
                f"Part {part.id} has a value or a due date; only the last part of a job saves "
                "money or meets a date."
            )
    zones = [zone for part in parts for zone in part.zones]
    for zone in sorted({zone for zone in zones if zones.count(zone) > 1}):
        yield f"Zone {zone} of job {name} is in two of its parts; each zone is done once."


def _faults_beside(whole: Job, parts: list[Job]) -> Iterator[str]:
    if whole.part_of is not None:
        yield f"Job {whole.id} is a part and offered in parts itself; give its parts as one row."
    if (whole.turnout, whole.track) != (parts[0].turnout, parts[0].track):
        yield f"The parts of job {whole.id} are at another turnout than the job."
    lacking = whole.zones ^ frozenset(zone for part in parts for zone in part.zones)
    if lacking:
        yield (
            f"The parts of job {whole.id} and the job differ in the zones they do: "
            f"{', '.join(sorted(lacking))}."
        )
