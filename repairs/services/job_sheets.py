"""Issuing and withdrawing job sheets. A sheet is written once; a change makes a new one."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from repairs.models import Estimate, JobSheet, Qualification, RepairJob
from repairs.services.parts import bring_whole_in_line
from repairs.services.sheet_content import Issue, TrackTime, content_of
from repairs.welding.rows_toml import table_of
from turnouts.access import Action, require
from turnouts.analysis.terms import DefectState
from turnouts.models import Person
from turnouts.services.errors import Conflict, Refused
from turnouts.services.history import advance_defect

__all__ = ["TrackTime", "issue_job_sheet", "withdraw_job_sheet"]


@transaction.atomic
def issue_job_sheet(
    *,
    by: Person,
    job: RepairJob,
    estimate: Estimate,
    crew: str,
    people: Sequence[Person],
    track_time: TrackTime,
    planned_start: datetime,
    chance: float,
    at: datetime,
    set_chance: float | None = None,
) -> JobSheet:
    """Issue the sheet of a job; its defects are planned from now on.

    ``set_chance`` is the chance of handing back in time that the plan keeps to, by the rows where
    there is none. The same crew, track time, start and estimate again give the sheet that stands.
    """
    require(by, Action.PUBLISH, job.turnout.territory)
    row = RepairJob.objects.with_place().select_for_update(of=("self",)).get(pk=job.pk)
    standing = row.sheets.filter(withdrawn_at__isnull=True).first()
    kept_to = table_of("field", "clock").number("set_chance") if set_chance is None else set_chance
    issue = Issue(row, estimate, crew, people, track_time, planned_start, chance, kept_to)
    if standing is not None:
        return _the_same(standing, issue)
    if row.state != "estimated":
        raise Conflict(
            f"Job {row.reference} is {row.get_state_display().lower()}; no sheet is due."
        )
    _check(issue)
    sheet = JobSheet.objects.create(
        number=_number(row),
        job=row,
        estimate=estimate,
        crew=crew,
        starts_at=track_time.starts_at,
        hand_back_at=track_time.hand_back_at,
        content=content_of(issue),
        issued_at=at,
        issued_by=by,
    )
    sheet.people.set(people)
    _move(row, "issued", DefectState.PLANNED, by, at, note=f"Job sheet {sheet.number}")
    return sheet


@transaction.atomic
def withdraw_job_sheet(*, by: Person, sheet: JobSheet, at: datetime) -> JobSheet:
    """Take a sheet back before work began; the job waits for track time again."""
    require(by, Action.PUBLISH, sheet.job.turnout.territory)
    job = RepairJob.objects.select_for_update().get(pk=sheet.job_id)
    if job.state in ("in_work", "done"):
        raise Conflict(f"Work on job {job.reference} has begun; its sheet stands.")
    row = JobSheet.objects.select_for_update().get(pk=sheet.pk)
    if row.withdrawn_at is None:
        row.withdrawn_at = at
        row.save(update_fields=["withdrawn_at"])
        _move(job, "estimated", DefectState.TRIAGED, by, at, note=f"Sheet {row.number} withdrawn")
    return row


def _the_same(standing: JobSheet, issue: Issue) -> JobSheet:
    """The standing sheet where it says the same; Conflict where it says something else."""
    present = (standing.estimate_id, standing.crew, standing.starts_at, standing.hand_back_at)
    track_time = issue.track_time
    wanted = (issue.estimate.pk, issue.crew, track_time.starts_at, track_time.hand_back_at)
    people = set(standing.people.values_list("pk", flat=True))
    begins = standing.content["track_time"]["planned_start"]
    if (present, people, begins) != (
        wanted,
        {person.pk for person in issue.people},
        issue.planned_start.isoformat(),
    ):
        raise Conflict(
            f"Job sheet {standing.number} stands for this job with other hours or another crew; "
            "withdraw it first."
        )
    return standing


def _check(issue: Issue) -> None:
    """Refuse a sheet for another job's estimate, a replaced one, or a gang not qualified."""
    job, estimate = issue.job, issue.estimate
    if estimate.job_id != job.pk or not estimate.current:
        raise Conflict(f"The estimate of job {job.reference} was made anew; plan it again.")
    day = timezone.localdate(issue.planned_start)
    held = Qualification.objects.filter(person__in=issue.people, procedure=job.procedure)
    if not any(row.valid_on(day) for row in held):
        raise Refused(
            f"Nobody in {issue.crew} is qualified for {job.procedure} on {day:%Y-%m-%d}, as job "
            f"{job.reference} needs. Give it to another crew."
        )


def _number(job: RepairJob) -> str:
    """``S-`` and the job's reference, and which sheet of it this is."""
    stem = job.reference.removeprefix("R-")
    return f"S-{stem}-{job.sheets.count() + 1}"


def _move(
    job: RepairJob, state: str, defects: DefectState, by: Person, at: datetime, note: str
) -> None:
    job.state = state
    job.version += 1
    job.save(update_fields=["state", "version"])
    for treated in job.treats.select_related("defect"):
        advance_defect(by=by, defect=treated.defect, state=defects, at=at, note=note)
    bring_whole_in_line(job)
