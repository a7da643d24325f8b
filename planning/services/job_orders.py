"""Earlier-than relations between repairs: said by a supervisor, kept by every plan."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from django.db import transaction

from planning.models import JobOrder, PlannedJob
from planning.services.calendar import Week
from planning.services.holding import STARTED, WAITING
from planning.solver.problem import Job
from repairs.models import RepairJob
from turnouts.access import Action, require
from turnouts.models import Person
from turnouts.services.errors import Conflict, Refused


@transaction.atomic
def put_in_order(
    *, by: Person, first: RepairJob, then: RepairJob, reason: str, at: datetime
) -> JobOrder:
    """Say that ``then`` comes after ``first``; saying it twice changes nothing.

    Raises Refused where the two are one, in two territories or in a circle, or without a reason;
    Conflict when the work on either has begun or is over.
    """
    for job in (first, then):
        require(by, Action.PLAN, job.turnout.territory)
    if first == then:
        raise Refused(f"Job {then} cannot come after itself; choose another job.")
    if first.turnout.territory != then.turnout.territory:
        raise Refused(
            f"Job {first} lies in another territory than {then}; their plans do not know each "
            "other. Agree the days with its supervisor and lock the job to one."
        )
    if not reason.strip():
        raise Refused(f"Say why {then} comes after {first}; whoever plans next must know.")
    for job in (first, then):
        if job.state not in WAITING:
            raise Conflict(f"Job {job} does not wait for track time any more; look at it again.")
    if then.pk in _before({first.pk}):
        raise Refused(f"Job {first} comes after {then} already; the two would wait for each other.")
    row, _ = JobOrder.objects.get_or_create(
        first=first, then=then, defaults={"reason": reason.strip(), "by": by, "at": at}
    )
    return row


@transaction.atomic
def drop_order(*, by: Person, order: JobOrder) -> None:
    """Take the order of two jobs back; each then goes where it is best."""
    require(by, Action.PLAN, order.then.turnout.territory)
    order.delete()


def _before(jobs: set[int]) -> set[int]:
    """These jobs and all that come before any of them."""
    found, look = set(jobs), set(jobs)
    while look:
        rows = JobOrder.objects.filter(then__in=look).values_list("first", flat=True)
        look = set(rows) - found
        found |= look
    return found


def in_order(jobs: Iterable[Job], week: Week) -> tuple[Job, ...]:
    """A week's jobs with those each must come after.

    One whose first job is open and not in this week, nor published in an earlier one, has no
    window it may be done in. Work that has begun is not asked. A job in an order is offered whole
    only, because an order with parts is not defined.
    """
    given = tuple(jobs)
    names = {job.id for job in given}
    after: dict[str, list[str]] = defaultdict(list)
    shut: set[str] = set()
    for row in _rows(names):
        first = _now(row.first)
        if first.reference in names:
            after[row.then.reference].append(first.reference)
        elif not _is_over(first, week):
            shut.add(row.then.reference)
    tied = {*after, *(name for some in after.values() for name in some)}
    return tuple(
        replace(
            job,
            after=tuple(sorted(after[job.id])),
            windows=frozenset() if job.id in shut and job.lock is None else job.windows,
        )
        for job in given
        if job.part_of not in tied
    )


def _rows(names: set[str]) -> list[JobOrder]:
    rows = JobOrder.objects.filter(then__reference__in=names).exclude(then__state__in=STARTED)
    return list(rows.select_related("first", "then"))


def _now(job: RepairJob) -> RepairJob:
    """The job, or what does its rest when it was broken off."""
    while job.state == "broken_off":
        rest = job.rest.order_by("-pk").first()
        if rest is None:
            return job
        job = rest
    return job


def _is_over(first: RepairJob, week: Week) -> bool:
    """Whether the job is out of the way when the week begins."""
    if first.state in ("done", "cancelled"):
        return True
    earlier = PlannedJob.objects.filter(job=first, live=True, plan__week__lt=week.monday)
    return earlier.exists()
