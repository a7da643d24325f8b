"""Drafts: a plan of the solver's kind written as rows, refused when it breaks a rule."""

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Max

from planning.models import Crew, LeftOut, PlannedJob, Truck, WeekPlan, WorkWindow
from planning.services.calendar import Week
from planning.services.changes_said import Names, names_of, said_change
from planning.solver.check import check
from planning.solver.plan import Plan
from planning.solver.problem import Problem
from repairs.models import Estimate, RepairJob
from turnouts.models import LongRun, Person, Territory
from turnouts.services.errors import Refused


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a draft comes from: a run of the planner, or a person's change to another plan."""

    by: Person
    run: LongRun | None = None
    based_on: WeekPlan | None = None
    change: str = ""


@transaction.atomic
def keep_plan(
    *,
    origin: Origin,
    territory: Territory,
    week: Week,
    problem: Problem,
    plan: Plan,
    proof: dict[str, Any] | None,
    at: datetime,
    held: Mapping[str, Estimate] | None = None,
    as_of: datetime | None = None,
    stability: dict[str, Any] | None = None,
) -> WeekPlan:
    """Write a plan as a draft. Refuses one that breaks a rule, whatever made it.

    ``proof`` tells for which plans the bound holds; ``held`` are the estimates of started jobs,
    which keep the one they were begun with. Every lock of the problem is kept with its job.
    ``as_of`` is the moment the plan was made for: nothing of it that is not held begins before.
    ``stability`` is what keeping to another plan costs against planning freely.
    """
    breaches = check(problem, plan)
    if breaches:
        said = " ".join(breach.sentence for breach in breaches[:3])
        raise Refused(f"The plan breaks {len(breaches)} rules and was not kept. {said}")
    row = WeekPlan.objects.create(
        territory=territory,
        week=week.monday,
        number=_next_number(territory, week),
        chance=problem.chance,
        value=plan.value,
        bound=plan.bound,
        detail=_detail(plan, proof)
        | {"as_of": as_of.isoformat() if as_of else None, "stability": stability},
        origin="edited" if origin.run is None else "planned",
        run=origin.run,
        based_on=origin.based_on,
        change=origin.change[:300],
        made_at=at,
        made_by=origin.by,
    )
    locked = {job.id for job in problem.jobs if job.lock is not None}
    _keep_placements(row, plan, week, locked, held or {})
    _keep_left_out(row, plan, names_of(problem, week))
    return row


def _next_number(territory: Territory, week: Week) -> int:
    Territory.objects.select_for_update().get(pk=territory.pk)  # one number at a time
    rows = WeekPlan.objects.filter(territory=territory, week=week.monday)
    return int(rows.aggregate(last=Max("number"))["last"] or 0) + 1


def _detail(plan: Plan, proof: dict[str, Any] | None) -> dict[str, Any]:
    return {
        "gap": plan.gap,
        "seconds": round(plan.seconds, 2),
        "window_chance": dict(plan.window_chance),
        "loads": [dataclasses.asdict(load) for load in plan.loads],
        "notes": list(plan.notes),
        "proof": proof,
    }


def _keep_placements(
    row: WeekPlan, plan: Plan, week: Week, locked: set[str], held: Mapping[str, Estimate]
) -> None:
    references = [placed.job for placed in plan.placements]
    jobs = {j.reference: j for j in RepairJob.objects.filter(reference__in=references)}
    current = Estimate.objects.filter(current=True, job__in=jobs.values())
    estimates = {e.job_id: e for e in current} | {e.job_id: e for e in held.values()}
    crews = {c.code: c for c in Crew.objects.all()}
    trucks = {t.code: t for t in Truck.objects.all()}
    names = {placed.window for placed in plan.placements}
    windows = {w.reference: w for w in WorkWindow.objects.filter(reference__in=names)}
    PlannedJob.objects.bulk_create(
        PlannedJob(
            plan=row,
            job=jobs[placed.job],
            estimate=estimates[jobs[placed.job].pk],
            turnout_id=jobs[placed.job].turnout_id,
            crew=crews[placed.crew],
            truck=trucks[placed.truck] if placed.truck else None,
            window=windows[placed.window],
            leaves_at=week.moment(placed.start_min - placed.travel_min),
            starts_at=week.moment(placed.start_min),
            ends_at=week.moment(placed.end_min),
            chance=placed.chance,
            locked=placed.job in locked,
        )
        for placed in plan.placements
    )


def _keep_left_out(row: WeekPlan, plan: Plan, names: Names) -> None:
    references = [left.job for left in plan.left_out]
    jobs = {j.reference: j for j in RepairJob.objects.filter(reference__in=references)}
    LeftOut.objects.bulk_create(
        LeftOut(
            plan=row,
            job=jobs[left.job],
            reason=left.reason[:500],
            change=said_change(left.change, names)[:300],
        )
        for left in plan.left_out
    )
