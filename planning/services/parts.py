"""Jobs of a week that no track time holds whole: shared out in parts, and given to the planner so.

Only such jobs are shared out, so that a week has no more to choose from than it needs; once a job
has parts, the planner may do it whole or in them, whichever is better.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone

from planning.solver import problem as p
from planning.solver.too_long import Span, holds, too_long
from repairs.models import JobDefect, RepairJob
from repairs.services.jobs import work_of
from repairs.services.parts import WAITING, may_be_split, offer_parts, parts_waiting, splits_of
from repairs.welding.refusals import WeldingRefusal
from repairs.welding.split import Split
from turnouts.models import Person
from turnouts.services.errors import Refused


def share_out(
    *, by: Person, problem: p.Problem, jobs: Sequence[RepairJob], at: datetime
) -> tuple[int, tuple[str, ...]]:
    """Share out the jobs that no window of the problem holds whole.

    How many were, and a sentence for each that cannot be.
    """
    named = {job.reference: job for job in jobs}
    on = timezone.localdate(at)
    shared = 0
    said: list[str] = []
    for name, spans in too_long(problem).items():
        job = named.get(name)
        if job is None or not may_be_split(job) or parts_waiting(job):
            continue
        try:
            way = _chosen(splits_of(work_of(job), job.procedure, on), spans)
            zones = [len(part.zones) for part in way.parts]
            offer_parts(by=by, job=job, zones=zones, on=on, at=at)
        except (Refused, WeldingRefusal) as refusal:
            said.append(f"Job {name} fits no window whole and cannot be shared out: {refusal}")
        else:
            shared += 1
    return shared, tuple(said)


def _chosen(ways: Sequence[Split], spans: Sequence[Span]) -> Split:
    """The first way, fewest windows first, whose parts the track time holds at 95 %.

    Where none is, the one with the shortest longest part: the plan then says what it lacks.
    """
    several = [way for way in ways if len(way.parts) > 1]
    for way in several:
        if holds(spans, [part.p95_min for part in way.parts]):
            return way
    return min(several, key=lambda way: (way.longest_p95_min, len(way.parts)))


def not_elsewhere(rows: QuerySet[RepairJob], placed: QuerySet[Any, Any]) -> QuerySet[RepairJob]:
    """Without jobs of which something is placed already: they, their parts, or the whole."""
    return rows.exclude(pk__in=placed).exclude(parts__in=placed).exclude(part_of__in=placed)


def tied(
    rows: Sequence[RepairJob], jobs: Sequence[p.Job], windows: Sequence[p.Window]
) -> tuple[p.Job, ...]:
    """The jobs with the parts among them tied together, each beside its row.

    Parts of one job that wait are all done or none, or the job whole instead. What is left of a
    job begun waits until the track time of what was begun before it is handed back; a single part
    left is a job like any other.
    """
    waiting: dict[int, list[RepairJob]] = defaultdict(list)
    for row in rows:
        if row.part_of_id is not None and row.state in WAITING:
            waiting[row.part_of_id].append(row)
    for group in waiting.values():
        group.sort(key=lambda row: row.part_number or 0)
    zones, ends = _zones(rows, waiting), _ends_of_begun(rows, jobs, windows)
    found = []
    for row, job in zip(rows, jobs, strict=True):
        group = waiting.get(row.part_of_id or row.pk, [])
        told = job
        if row.state in WAITING and len(group) > 1:
            told = _in_group(row, job, group, zones)
        if row.part_of_id is not None and row.state in WAITING and job.lock is None:
            first = max(job.earliest_min, ends.get(row.part_of_id, 0))
            told = replace(told, earliest_min=first)
        found.append((row.part_number or 0, told))
    return tuple(job for _, job in sorted(found, key=lambda one: one[0]))


def _in_group(
    row: RepairJob, job: p.Job, group: Sequence[RepairJob], zones: dict[int, set[str]]
) -> p.Job:
    if row.part_of is None:
        return replace(job, zones=frozenset(zones[row.pk]))
    last = row == group[-1]
    return replace(
        job,
        part_of=row.part_of.reference,
        zones=frozenset(zones[row.pk]),
        value=job.value if last else tuple(0.0 for _ in job.value),
        due_min=job.due_min if last else None,
    )


def _zones(rows: Sequence[RepairJob], waiting: dict[int, list[RepairJob]]) -> dict[int, set[str]]:
    """The defects of each part, and of each job that has parts; a defect is one zone."""
    found: dict[int, set[str]] = defaultdict(set)
    if waiting:
        concerned = [row.pk for row in rows if (row.part_of_id or row.pk) in waiting]
        treats = JobDefect.objects.filter(job__in=concerned)
        for job, defect in treats.values_list("job", "defect__reference"):
            found[job].add(defect)
    return found


def _ends_of_begun(
    rows: Sequence[RepairJob], jobs: Sequence[p.Job], windows: Sequence[p.Window]
) -> dict[int, int]:
    """For each job of which parts have begun, when the last of their windows is handed back."""
    end_of = {window.id: window.end_min for window in windows}
    found: dict[int, int] = {}
    for row, job in zip(rows, jobs, strict=True):
        if row.part_of_id is not None and row.state not in WAITING and job.lock is not None:
            end = end_of.get(job.lock.window, 0)
            found[row.part_of_id] = max(end, found.get(row.part_of_id, 0))
    return found
