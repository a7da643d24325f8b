"""A job done in parts: its zones shared out over work windows, each part a job of its own.

A part treats some of the job's defects and has its own estimate, sheet and record. The job itself
stands for all of them: it is under way while they are, and done when the last of them is signed.
"""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from zlib import crc32

from django.db import transaction

from repairs.models import JobDefect, RepairJob
from repairs.services.estimates import (
    GRINDING,
    Work,
    defects_in_order,
    edition_on,
    estimate_row,
    known_of,
    ordinary_day,
    repair_work,
    seed_of,
    worked_out,
)
from repairs.services.jobs import OPEN, work_of
from repairs.welding.estimate import with_lance
from repairs.welding.split import Split, splits
from turnouts.access import Action, require
from turnouts.analysis.terms import DefectState, Disposition, Zone
from turnouts.models import Person
from turnouts.services.errors import Conflict, Refused

WAITING = ("estimated", "issued")

REPAIRED = (DefectState.REPAIRED, DefectState.PROVED, DefectState.CLOSED)
"""Defects on which nothing is left to do."""


def splits_of(work: Work, procedure: str, on: date) -> tuple[Split, ...]:
    """Every way to share the zones out over windows, fewest first; none for grinding.

    Raises Refused or a WeldingRefusal with a sentence where no estimate can be made.
    """
    edition = edition_on(procedure, on)
    if edition is None:
        return ()
    known = known_of(procedure, None)
    day = with_lance(ordinary_day(), known)
    return splits(repair_work(work), edition, day, seed_of(work), known)


def may_be_split(job: RepairJob) -> bool:
    """Whether the job has zones to share out and nothing of it has begun."""
    whole = job.part_of_id is None and job.state in WAITING
    return whole and job.procedure != GRINDING and job.treats.count() > 1


def parts_waiting(job: RepairJob) -> list[RepairJob]:
    """The job's parts that wait for track time, in their order."""
    return list(job.parts.filter(state__in=WAITING).order_by("part_number"))


@transaction.atomic
def offer_parts(
    *, by: Person, job: RepairJob, zones: Sequence[int], on: date, at: datetime
) -> list[RepairJob]:
    """Share the job's zones out, in the order they are welded: so many in each part.

    Each part is estimated by itself. Parts that were offered before and are not begun are cut
    anew. Raises Refused where the numbers are not those of the job's zones, Conflict where work
    on the job has begun.
    """
    require(by, Action.PLAN, job.turnout.territory)
    row = RepairJob.objects.with_place().select_for_update(of=("self",)).get(pk=job.pk)
    treats = treated_in_order(row)
    if len(zones) < 2 or min(zones) < 1 or sum(zones) != len(treats):
        raise Refused(f"Job {row.reference} has {len(treats)} zones; {list(zones)} is no way.")
    if row.state not in WAITING or row.parts.exclude(state__in=("estimated", "cancelled")).exists():
        raise Conflict(f"Work on job {row.reference} is given out already; it is not split anew.")
    before = {part.part_number: part for part in row.parts.all()}
    first = 0
    made = []
    for number, count in enumerate(zones, start=1):
        part = before.pop(number, None) or RepairJob(part_of=row, part_number=number)
        _cut(part, row, treats[first : first + count], len(zones), on, at)
        made.append(part)
        first += count
    for part in before.values():
        part.state = "cancelled"
        part.save(update_fields=["state"])
    return made


def treated_in_order(job: RepairJob) -> list[JobDefect]:
    """The defects in the order their patches are worked, which is that of the estimate's zones."""
    rows = job.treats.select_related("defect__turnout", "defect__component", "decision")
    by_defect = {row.defect_id: row for row in rows}
    return [by_defect[defect.pk] for defect in defects_in_order(work_of(job))]


def _cut(
    part: RepairJob, job: RepairJob, treats: list[JobDefect], count: int, on: date, at: datetime
) -> None:
    """Write one part with what it treats and its estimate. Only the last one saves money."""
    last = part.part_number == count
    part.reference = part.reference or _reference(job, part.part_number or 0)
    part.turnout, part.component, part.procedure = job.turnout, job.component, job.procedure
    part.disposition, part.state, part.part_count = job.disposition, "estimated", count
    part.due_on = job.due_on if last else None
    part.value_per_day = job.value_per_day if last else Decimal(0)
    part.value_reason = (
        job.value_reason if last else f"Nothing until the last part of job {job.reference} is done."
    )
    part.version += 1 if part.pk else 0
    part.save()
    part.treats.all().delete()
    JobDefect.objects.bulk_create(
        JobDefect(job=part, defect=row.defect, decision=row.decision) for row in treats
    )
    work = Work(job.component, Disposition(job.disposition), tuple(row.defect for row in treats))
    part.estimates.filter(current=True).update(current=False)
    estimate_row(job=part, answer=worked_out(work, part.procedure, on), at=at).save()


def _reference(job: RepairJob, number: int) -> str:
    """The job's reference and ``-P`` with the part's number, within what a reference may hold."""
    stem = job.reference
    if len(stem) > 36:
        stem = f"{stem[:27]}-{crc32(stem.encode()):08x}"
    return f"{stem}-P{number}"


def share_of(job: RepairJob) -> dict[str, Any] | None:
    """Which part of which job this is, the zones of the parts before and after it, and what is
    to be heeded, in sentences. None for a whole job. A zone is named with its defect.
    """
    if job.part_of is None or job.part_number is None:
        return None
    ours = set(job.treats.values_list("defect", flat=True))
    rows = JobDefect.objects.filter(job__part_of=job.part_of).exclude(job__state="cancelled")
    others = rows.exclude(defect__in=ours).select_related("job", "defect").order_by("pk")
    before: dict[str, str] = {}
    after: dict[str, str] = {}
    for row in others:
        side = before if (row.job.part_number or 0) <= job.part_number else after
        side[row.defect.reference] = row.defect.zone
    return {
        "words": f"Part {job.part_number} of {job.part_count}",
        "says": _heed(job.part_of.reference, before, after),
        "job": job.part_of.reference,
        "number": job.part_number,
        "of": job.part_count,
        "before": [{"defect": name, "zone": zone} for name, zone in before.items()],
        "after": [{"defect": name, "zone": zone} for name, zone in after.items()],
    }


def _heed(whole: str, before: Mapping[str, str], after: Mapping[str, str]) -> list[str]:
    said = [f"Of job {whole}: work only the zones on this sheet."]
    if before:
        said.append(
            f"Done by an earlier part: {_named(before)}. Look at its record before you begin; "
            "where it was not finished, call before you gouge."
        )
    if after:
        said.append(
            f"Left for a later part: {_named(after)}. It stays as found, under the speed its own "
            "decision gives; do not open it."
        )
    return said


def _named(zones: Mapping[str, str]) -> str:
    return ", ".join(f"{Zone(zone).label.lower()} ({name})" for name, zone in zones.items())


def bring_whole_in_line(part: RepairJob) -> None:
    """Move the job that this is a part of to where its parts are.

    It is done when no part is open and every defect is repaired; a part broken off lives on in the
    part that does its rest, and where none could be made the job is broken off with it. A job begun
    whole is not done in parts any more, so those offered are dropped.
    """
    if part.part_of_id is None:
        if part.state not in WAITING:
            part.parts.filter(state="estimated").update(state="cancelled")
        return
    whole = RepairJob.objects.select_for_update().get(pk=part.part_of_id)
    state = _state_of(whole)
    if whole.state != state:
        whole.state = state
        whole.version += 1
        whole.save(update_fields=["state", "version"])


def _state_of(whole: RepairJob) -> str:
    states = set(whole.parts.exclude(state="cancelled").values_list("state", flat=True))
    if states & set(OPEN):
        if states & {"in_work", "done", "broken_off"}:
            return "in_work"
        return "issued" if "issued" in states else "estimated"
    left = whole.treats.exclude(defect__state__in=REPAIRED)
    return "broken_off" if left.exists() else "done"
