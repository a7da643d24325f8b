"""What stays where it is when a week is planned again: started jobs, and those locked by hand."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from django.db.models import QuerySet

from planning.models import PlannedJob, WeekPlan
from planning.services.calendar import Week
from planning.solver.problem import Lock
from repairs.models import Estimate, RepairJob
from turnouts.models import Territory

STARTED = ("in_work", "done")


@dataclass(frozen=True, slots=True)
class Held:
    """Locks by job, and of the started jobs the rows and the estimates they were begun with."""

    locks: Mapping[str, Lock] = field(default_factory=dict)
    started: Mapping[str, RepairJob] = field(default_factory=dict)
    estimates: Mapping[str, Estimate] = field(default_factory=dict)


def held_in(territory: Territory, week: Week, base: WeekPlan | None) -> Held:
    """What the published plan has begun, and what ``base`` has locked.

    A job whose work has begun, or is done, stays where the published plan has it: it never moves.
    """
    begun = list(_begun(territory, week))
    locked = [] if base is None else list(_locked(base))
    return Held(
        locks={one.job.reference: _lock(one, week) for one in [*locked, *begun]},
        started={one.job.reference: one.job for one in begun},
        estimates={one.job.reference: one.estimate for one in begun},
    )


def _begun(territory: Territory, week: Week) -> QuerySet[PlannedJob]:
    rows = PlannedJob.objects.filter(
        live=True, plan__territory=territory, plan__week=week.monday, job__state__in=STARTED
    )
    return rows.select_related("job__turnout__track__line", "estimate", "crew", "window")


def _locked(base: WeekPlan) -> QuerySet[PlannedJob]:
    rows = base.placed.filter(locked=True, job__state__in=["estimated", "issued"])
    return rows.select_related("job", "crew", "window")


def _lock(one: PlannedJob, week: Week) -> Lock:
    return Lock(one.crew.code, one.window.reference, week.minute(one.starts_at))
