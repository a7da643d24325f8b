"""Plans: made in the queue, kept as drafts, checked again by code that does not know the solver."""

import dataclasses
import time
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.db.models import Max

from planning.models import Crew, LeftOut, PlannedJob, Truck, WeekPlan, WorkWindow
from planning.services.calendar import Week
from planning.services.week import week_problem
from planning.solver.check import check
from planning.solver.choices import choice
from planning.solver.plan import Plan
from planning.solver.plan import Progress as Stage
from planning.solver.problem import Problem
from planning.solver.solve import Effort, solve
from repairs.models import RepairJob
from turnouts.access import Action, require
from turnouts.models import LongRun, Person, Territory
from turnouts.services.errors import Refused
from turnouts.services.runs import Progress, start_run

TASK = "planning.plan"
SEED = 7
"""Planning the same week twice gives the same plan, as long as the time does not run out."""


def request_plan(
    *, by: Person, territory: Territory, week: Week, request_key: str
) -> tuple[LongRun, bool]:
    """Queue the planning of a week; asking again with the same key gives the same run."""
    require(by, Action.PLAN, territory)
    return start_run(
        kind="plan",
        request_key=request_key,
        by=by,
        asked={"territory": territory.code, "week": week.monday.isoformat()},
        task=TASK,
    )


def plan_week(*, run: LongRun, progress: Progress, at: datetime) -> dict[str, Any]:
    """Solve the week a run asks for and keep the answer as a new draft."""
    territory = Territory.objects.get(code=run.asked["territory"])
    require(run.requested_by, Action.PLAN, territory)
    week = Week(date.fromisoformat(run.asked["week"]))
    problem = week_problem(territory, week)
    plan = _solved(problem, week, progress)
    row = keep_plan(run=run, territory=territory, week=week, problem=problem, plan=plan, at=at)
    return {"plan": row.pk, "placed": len(plan.placements), "left_out": len(plan.left_out)}


def _solved(problem: Problem, week: Week, progress: Progress) -> Plan:
    seconds = choice("planning_seconds", week.monday)

    def tell(stage: Stage) -> None:
        done = min(stage.seconds / seconds, 0.99)
        progress(round(100 * done), 100, f"{stage.stage}: {stage.value:,.0f} saved so far")

    return solve(
        problem, now=time.monotonic, effort=Effort(seconds=seconds, seed=SEED), progress=tell
    )


@transaction.atomic
def keep_plan(
    *,
    run: LongRun,
    territory: Territory,
    week: Week,
    problem: Problem,
    plan: Plan,
    at: datetime,
) -> WeekPlan:
    """Write a plan as a draft. Refuses one that breaks a rule, whatever made it."""
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
        detail=_detail(plan),
        run=run,
        made_at=at,
        made_by=run.requested_by,
    )
    _keep_placements(row, plan, week)
    _keep_left_out(row, plan)
    return row


def _next_number(territory: Territory, week: Week) -> int:
    Territory.objects.select_for_update().get(pk=territory.pk)  # one number at a time
    rows = WeekPlan.objects.filter(territory=territory, week=week.monday)
    return int(rows.aggregate(last=Max("number"))["last"] or 0) + 1


def _detail(plan: Plan) -> dict[str, Any]:
    return {
        "gap": plan.gap,
        "seconds": round(plan.seconds, 2),
        "window_chance": dict(plan.window_chance),
        "loads": [dataclasses.asdict(load) for load in plan.loads],
        "notes": list(plan.notes),
    }


def _keep_placements(row: WeekPlan, plan: Plan, week: Week) -> None:
    jobs = {j.reference: j for j in RepairJob.objects.filter(reference__in=_jobs(plan))}
    estimates = {e.job_id: e for job in jobs.values() for e in job.estimates.filter(current=True)}
    crews = {c.code: c for c in Crew.objects.all()}
    trucks = {t.code: t for t in Truck.objects.all()}
    windows = {w.reference: w for w in WorkWindow.objects.filter(reference__in=_windows(plan))}
    PlannedJob.objects.bulk_create(
        PlannedJob(
            plan=row,
            job=jobs[placed.job],
            estimate=estimates[jobs[placed.job].pk],
            turnout=jobs[placed.job].turnout,
            crew=crews[placed.crew],
            truck=trucks[placed.truck] if placed.truck else None,
            window=windows[placed.window],
            leaves_at=week.moment(placed.start_min - placed.travel_min),
            starts_at=week.moment(placed.start_min),
            ends_at=week.moment(placed.end_min),
            chance=placed.chance,
        )
        for placed in plan.placements
    )


def _jobs(plan: Plan) -> list[str]:
    return [placed.job for placed in plan.placements]


def _windows(plan: Plan) -> set[str]:
    return {placed.window for placed in plan.placements}


def _keep_left_out(row: WeekPlan, plan: Plan) -> None:
    references = [left.job for left in plan.left_out]
    jobs = {j.reference: j for j in RepairJob.objects.filter(reference__in=references)}
    LeftOut.objects.bulk_create(
        LeftOut(
            plan=row,
            job=jobs[left.job],
            reason=left.reason[:500],
            change=left.change.what[:300],
        )
        for left in plan.left_out
    )
