"""What stays where it is when a week is planned again: started jobs, those locked by hand, and what
crews are out for; and from which minute on something new may begin."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from math import ceil

from django.db.models import Q, QuerySet

from planning.models import PlannedJob, WeekPlan
from planning.services.calendar import Week
from planning.solver.problem import Lock
from repairs.models import Estimate, RepairJob
from turnouts.models import Territory

STARTED = ("in_work", "done")
WAITING = ("estimated", "issued")


@dataclass(frozen=True, slots=True)
class Held:
    """Locks by job, and of the started jobs the rows and the estimates they were begun with.

    ``since`` is the first minute of the week that is not past; ``out`` are the crews that had left
    their base by then, by code, each with the minute it left.
    """

    locks: Mapping[str, Lock] = field(default_factory=dict)
    started: Mapping[str, RepairJob] = field(default_factory=dict)
    estimates: Mapping[str, Estimate] = field(default_factory=dict)
    since: int = 0
    out: frozenset[tuple[str, int]] = frozenset()


def held_in(
    territory: Territory, week: Week, base: WeekPlan | None, as_of: datetime | None = None
) -> Held:
    """What the published plan has begun, what ``base`` has locked, and what is past ``as_of``.

    A job whose work has begun, or is done, stays where the published plan has it: it never moves.
    """
    begun = list(_begun(territory, week))
    locked = [] if base is None else list(_locked(base))
    since = 0 if as_of is None else first_minute(week, as_of)
    return Held(
        locks={one.job.reference: _lock(one, week) for one in [*locked, *begun]},
        started={one.job.reference: one.job for one in begun},
        estimates={one.job.reference: one.estimate for one in begun},
        since=since,
        out=_out(territory, week, base, since) if since else frozenset(),
    )


def held_from(territory: Territory, week: Week, base: WeekPlan | None, as_of: datetime) -> Held:
    """The same for planning again at ``as_of``: a job that a crew has left for stays as well.

    The crew may have begun without the office knowing yet, because a phone sends when it can. Where
    ``base`` has the job elsewhere, or no more, a supervisor has decided otherwise by hand.
    """
    held = held_in(territory, week, base, as_of)
    left_for = {one.job.reference: _lock(one, week) for one in _left_for(territory, week, as_of)}
    if base is not None:
        rows = base.placed.filter(job__reference__in=left_for).select_related(
            "job", "crew", "window"
        )
        there = {one.job.reference: _lock(one, week) for one in rows}
        left_for = {job: lock for job, lock in left_for.items() if there.get(job) == lock}
    return replace(held, locks={**left_for, **held.locks})


def first_minute(week: Week, as_of: datetime) -> int:
    """The first whole minute of the week that is not past; 0 before the week begins."""
    return max(0, ceil((as_of - week.start).total_seconds() / 60))


def _begun(territory: Territory, week: Week) -> QuerySet[PlannedJob]:
    rows = _live(territory, week).filter(job__state__in=STARTED)
    return rows.select_related("job__turnout__track__line", "estimate", "crew", "window")


def _left_for(territory: Territory, week: Week, as_of: datetime) -> QuerySet[PlannedJob]:
    """Published jobs whose crew is out for them, in track time that is not yet handed back."""
    rows = _live(territory, week).filter(
        job__state__in=WAITING, leaves_at__lte=as_of, window__ends_at__gt=as_of
    )
    return rows.select_related("job", "crew", "window")


def _live(territory: Territory, week: Week) -> QuerySet[PlannedJob]:
    return PlannedJob.objects.filter(live=True, plan__territory=territory, plan__week=week.monday)


def _locked(base: WeekPlan) -> QuerySet[PlannedJob]:
    rows = base.placed.filter(locked=True, job__state__in=WAITING)
    return rows.select_related("job", "crew", "window")


def _lock(one: PlannedJob, week: Week) -> Lock:
    return Lock(one.crew.code, one.window.reference, week.minute(one.starts_at))


def _out(
    territory: Territory, week: Week, base: WeekPlan | None, since: int
) -> frozenset[tuple[str, int]]:
    """When crews had left by then, as the published plan and the one planned from have it."""
    ours = Q(live=True, plan__territory=territory, plan__week=week.monday)
    rows = PlannedJob.objects.filter(
        ours | Q(plan=base) if base else ours, leaves_at__lt=week.moment(since)
    )
    left: Iterable[tuple[str, datetime]] = rows.values_list("crew__code", "leaves_at")
    return frozenset((crew, week.minute(at)) for crew, at in left)
