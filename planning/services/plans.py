"""Plans: made in the queue, kept as drafts, checked again by code that does not know the solver."""

from dataclasses import replace
from datetime import date, datetime
from typing import Any

from django.conf import settings

from planning.models import WeekPlan
from planning.services.calendar import Week
from planning.services.drafts import Origin, keep_plan
from planning.services.holding import Held, held_from
from planning.services.keeping import differences, keeping
from planning.services.parts import share_out
from planning.services.proof import proof_of, with_bound
from planning.services.solving import solved
from planning.services.stopping import KIND
from planning.services.week import jobs_to_place, week_problem
from planning.solver.choices import choice
from planning.solver.plan import Plan
from planning.solver.plan import Progress as Stage
from planning.solver.problem import Problem
from turnouts.access import Action, require
from turnouts.models import LongRun, Person, Territory
from turnouts.services.errors import Refused
from turnouts.services.runs import Progress, start_run

TASK = "planning.plan"


def request_plan(
    *,
    by: Person,
    territory: Territory,
    week: Week,
    request_key: str,
    base: WeekPlan | None = None,
    network: LongRun | None = None,
    seconds: float | None = None,
    as_of: datetime | None = None,
    keep: bool = False,
) -> tuple[LongRun, bool]:
    """Queue the planning of a week; asking again with the same key gives the same run.

    ``base`` is the plan whose locked jobs stay where they are; a plan of another week is refused.
    ``network`` is the run that plans all territories, of which this one is a part; ``seconds``
    is how long to plan instead of the railway's own choice. What is past ``as_of`` is not planned
    any more; without it, what is past when the planning begins. With ``keep`` the published plan,
    or without one the base, is kept as far as it pays, and the plan says what keeping it costs.
    """
    require(by, Action.PLAN, territory)
    if keep and to_keep(territory, week, base) is None:
        raise Refused("There is no plan of this week yet that could be kept; plan it freely.")
    if base is not None and (base.territory_id, base.week) != (territory.pk, week.monday):
        raise Refused(f"{base} is a plan of another week; its locks mean nothing in this one.")
    return start_run(
        kind=KIND,
        request_key=request_key,
        by=by,
        asked={
            "territory": territory.code,
            "week": week.monday.isoformat(),
            "base": base.pk if base else None,
            "network": network.pk if network else None,
            "seconds": seconds,
            "as_of": as_of.isoformat() if as_of else None,
            "keep": keep,
        },
        task=TASK,
    )


def plan_week(*, run: LongRun, progress: Progress, at: datetime) -> dict[str, Any]:
    """Solve the week a run asks for and keep the answer as a new draft.

    A run that a dying worker left with its plan made, but not told, gives that plan again.
    """
    made = WeekPlan.objects.filter(run=run).first()
    if made is not None:
        return _answer(made)
    territory = Territory.objects.get(code=run.asked["territory"])
    require(run.requested_by, Action.PLAN, territory)
    week = Week(date.fromisoformat(run.asked["week"]))
    base = WeekPlan.objects.filter(pk=run.asked.get("base")).first()
    as_of = not_over(week, run.asked.get("as_of"), at)
    held = held_from(territory, week, base, as_of)
    problem, unshared = _problem(run, territory, week, held, at)
    kept = to_keep(territory, week, base) if run.asked.get("keep") else None
    if kept is None:
        plan = _solved(problem, week, run, progress)
        proof, stability = proof_of(problem, plan.bound), None
    else:
        plan, proof, stability = _stable(problem, kept, week, run, progress)
    plan = replace(plan, notes=(*plan.notes, *unshared))
    row = keep_plan(
        origin=Origin(by=run.requested_by, run=run, based_on=base),
        territory=territory,
        week=week,
        problem=problem,
        plan=plan,
        proof=proof,
        at=at,
        held=held.estimates,
        as_of=as_of,
        stability=stability,
    )
    return _answer(row)


def _problem(
    run: LongRun, territory: Territory, week: Week, held: Held, at: datetime
) -> tuple[Problem, tuple[str, ...]]:
    """The week with the jobs that fit no track time whole shared out in parts."""
    problem = week_problem(territory, week, held)
    jobs = jobs_to_place(territory, week)
    shared, unshared = share_out(by=run.requested_by, problem=problem, jobs=jobs, at=at)
    return (week_problem(territory, week, held) if shared else problem), unshared


def to_keep(territory: Territory, week: Week, base: WeekPlan | None) -> WeekPlan | None:
    """The plan the crews know; while none is published, the one planned from."""
    published = WeekPlan.objects.filter(territory=territory, week=week.monday, state="published")
    return published.first() or base


def not_over(week: Week, asked: str | None, at: datetime) -> datetime:
    """The moment the plan is made for, which must not lie behind the week."""
    as_of = datetime.fromisoformat(asked) if asked else at
    if as_of >= week.end:
        raise Refused(
            f"The week of {week.monday:%Y-%m-%d} is over; nothing can be planned in it any more. "
            "Choose this week or a later one."
        )
    return as_of


def _answer(plan: WeekPlan) -> dict[str, Any]:
    return {
        "plan": plan.pk,
        "placed": plan.placed.count(),
        "left_out": plan.left_out.count(),
    }


def _stable(
    problem: Problem, kept: WeekPlan, week: Week, run: LongRun, progress: Progress
) -> tuple[Plan, dict[str, Any] | None, dict[str, Any]]:
    """The week planned freely and then so that ``kept`` stays as far as it pays.

    Gives the second plan, the proof of the first, which holds for every plan of the week, and what
    both save and move.
    """
    free = _solved(problem, week, run, progress, part=(0, 50))
    priced = keeping(problem, kept)
    plan = _solved(priced, week, run, progress, part=(50, 100))
    proof = proof_of(problem, free.bound)
    stability = {
        "plan": kept.number,
        "free_value": free.value,
        "free": differences(priced, free),
        "kept": differences(priced, plan),
    }
    # What the changes were priced at is no money: the plan is kept with what it saves.
    plan = replace(plan, seconds=free.seconds + plan.seconds, changed=0.0)
    return with_bound(plan, problem, proof), proof, stability


def _solved(
    problem: Problem,
    week: Week,
    run: LongRun,
    progress: Progress,
    part: tuple[int, int] = (0, 100),
) -> Plan:
    """Planned in so much of the time there is; ``part`` are percents of the whole run."""
    begin, end = part
    whole = run.asked.get("seconds") or choice("planning_seconds", week.monday)

    def words(stage: Stage) -> str:
        return f"{stage.stage}: {settings.CURRENCY} {stage.value:,.0f} saved so far"

    seconds = whole * (end - begin) / 100
    plan, _ = solved(problem, run=run, seconds=seconds, progress=progress, words=words, part=part)
    return plan
