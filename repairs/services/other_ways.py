"""Other ways to do a job: its zones in windows of their own, and what would change the waits."""

from datetime import date
from typing import Any

from repairs.models import RepairJob
from repairs.services.estimates import (
    GRINDING,
    edition_on,
    known_of,
    ordinary_day,
    repair_work,
)
from repairs.services.jobs import work_of
from repairs.services.parts import splits_of
from repairs.services.plain import as_json
from repairs.welding.changes import what_it_changes
from repairs.welding.estimate import with_lance
from repairs.welding.refusals import WeldingRefusal
from turnouts.access import Action, require
from turnouts.models import LongRun, Person
from turnouts.services.errors import Refused
from turnouts.services.runs import Progress, newest_run, start_run

KIND = "other ways"
TASK = "repairs.other_ways"


def request_other_ways(*, by: Person, job: RepairJob, on: date, request_key: str) -> LongRun:
    """Queue the working out of a job in one window and in several. Grinding opens no cavity."""
    require(by, Action.ESTIMATE, job.turnout.territory)
    if job.procedure == GRINDING:
        raise Refused(f"Job {job.reference} is ground only: there is no heat and nothing to split.")
    asked = {"job": job.reference, "on": on.isoformat()}
    run, _ = start_run(kind=KIND, request_key=request_key, by=by, asked=asked, task=TASK)
    return run


def carry_out_other_ways(run: LongRun, progress: Progress) -> dict[str, Any]:
    """Work the ways out and write nothing but the run's own result."""
    job = RepairJob.objects.with_place().get(reference=run.asked["job"])
    on = date.fromisoformat(run.asked["on"])
    work, edition = work_of(job), edition_on(job.procedure, on)
    if edition is None:
        raise Refused(f"Job {job.reference} is ground only: there is nothing to split.")
    try:
        patches = repair_work(work)
        progress(0, 2, "Working out what would change the waits")
        known = known_of(job.procedure, None)
        day = with_lance(ordinary_day(), known)
        changes = what_it_changes(patches, edition, day)
        progress(1, 2, "Working out the windows")
        ways = splits_of(work, job.procedure, on)
    except WeldingRefusal as refusal:
        raise Refused(str(refusal)) from refusal
    progress(2, 2, "Worked out")
    return {
        "changes": [as_json(change) for change in changes],
        "splits": [
            as_json(way) | {"windows": len(way.parts), "longest_p95_min": way.longest_p95_min}
            for way in ways
        ],
    }


def newest_ways(job: RepairJob) -> LongRun | None:
    """The last time anybody asked for the other ways of a job."""
    return newest_run(KIND, {"job": job.reference})
