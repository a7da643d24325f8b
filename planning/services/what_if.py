"""What if: a question about a plan, answered by planning with it; nothing of it is kept.

Both weeks are planned with the price of each difference from the plan that stands, the one with
what is asked and the one without, so that what planning again alone would bring is not taken for
an effect of the question.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.conf import settings
from django.db import transaction

from planning.models import WeekPlan
from planning.services.asking import read_question
from planning.services.calendar import Week
from planning.services.changes_said import names_of
from planning.services.desk import open_desk
from planning.services.drafts import Origin, keep_plan
from planning.services.holding import Held, held_from
from planning.services.keeping import keeping
from planning.services.plans import not_over
from planning.services.questions import Question, asked_of, free
from planning.services.solving import solved
from planning.services.spots import ByHand, Spot
from planning.services.stopping import WHAT_IF, stop_of
from planning.services.week import week_problem
from planning.services.what_if_answers import Beside, answer
from planning.solver.check import check
from planning.solver.choices import choice
from planning.solver.plan import Change, LeftOut, Plan
from planning.solver.plan import Progress as Stage
from planning.solver.problem import Problem
from turnouts.access import Action, require
from turnouts.models import LongRun, Person
from turnouts.services.errors import Conflict, Refused
from turnouts.services.runs import Progress, start_run

TASK = "planning.what_if"
NOT_REAL = (
    "It cannot be made a draft: it rests on track time, people or hours that are not in the "
    "records. Enter them first, then plan the week again."
)


@dataclass(frozen=True, slots=True)
class _Asked:
    """A plan with the week as it is and as it would be."""

    plan: WeekPlan
    held: Held
    question: Question
    now: Problem
    then: Problem
    freed: tuple[str, ...]


def request_what_if(
    *, by: Person, plan: WeekPlan, question: Mapping[str, Any], request_key: str, at: datetime
) -> tuple[LongRun, bool]:
    """Queue a question about a plan; asking again with the same key gives the same run.

    Refused at once, with a sentence, when the question cannot be asked.
    """
    require(by, Action.PLAN, plan.territory)
    asked = {name: question[name] for name in sorted(question)}
    _open(plan, asked, at)
    return start_run(
        kind=WHAT_IF,
        request_key=request_key,
        by=by,
        asked={"plan": plan.pk, "territory": plan.territory.code, "question": asked},
        task=TASK,
    )


def carry_out_what_if(*, run: LongRun, progress: Progress, at: datetime) -> dict[str, Any]:
    """Plan the week with what is asked and without, and say what is different.

    Stopped meanwhile, it compares the best plans found by then; Refused where there is none yet.
    """
    plan = WeekPlan.objects.select_related("territory").get(pk=run.asked["plan"])
    require(run.requested_by, Action.PLAN, plan.territory)
    asked = _open(plan, run.asked["question"], at)
    stop = stop_of(run)
    if stop is not None:
        raise Refused(f"Stopped by {stop.by} before anything was worked out; ask once more.")
    seconds = choice("planning_seconds", plan.week) / 2
    then, _ = _solved(keeping(asked.then, plan), run, seconds, progress, 0)
    # Stopped in the first half, the second ends at once, with the present plan taken up again.
    alone, stopped_by = _solved(keeping(asked.now, plan), run, seconds, progress, 1)
    desk = open_desk(plan)
    present = ByHand(desk.problem, desk.known).plan(desk.spots, desk.left_out)
    real = keeping(free(asked.now, asked.freed, asked.held.since), plan)
    return answer(
        asked.question.words(Week(plan.week)),
        Beside(present, desk.problem),
        Beside(then, asked.then),
        alone.value,
        asked.freed,
        "" if not check(real, then) else NOT_REAL,
        names_of(asked.then, Week(plan.week)),
    ) | {"stopped_by": stopped_by}


def _open(plan: WeekPlan, asked: Mapping[str, Any], at: datetime) -> _Asked:
    if plan.state == "superseded":
        raise Conflict("A later plan took this one's place; ask about that one instead.")
    week = Week(plan.week)
    question = read_question(asked, plan.territory, week)
    held = held_from(plan.territory, week, plan, not_over(week, None, at))
    now = week_problem(plan.territory, week, held)
    then, freed = asked_of(question, now, held)
    return _Asked(plan, held, question, now, then, freed)


def _solved(
    problem: Problem,
    run: LongRun,
    seconds: float,
    progress: Progress,
    half: int,
) -> tuple[Plan, str]:
    """The first half of the run, which plans with what is asked, or the second, without it."""
    what = ("with what you ask", "without it, to compare")[half]

    def words(stage: Stage) -> str:
        return f"{what}: {settings.CURRENCY} {stage.value:,.0f} so far"

    part = (50 * half, 50 * half + 50)
    return solved(problem, run=run, seconds=seconds, progress=progress, words=words, part=part)


@transaction.atomic
def draft_what_if(*, by: Person, run: LongRun, at: datetime) -> WeekPlan:
    """Make the answer to a question a draft; asking twice gives the same one.

    Raises Refused where the week does not have what was asked about, Conflict where it has changed
    since the question.
    """
    row = LongRun.objects.select_for_update().get(pk=run.pk, kind=WHAT_IF)
    plan = WeekPlan.objects.select_related("territory").get(pk=row.asked["plan"])
    require(by, Action.PLAN, plan.territory)
    if row.state != "done":
        raise Conflict("The question is not answered yet; wait until it is.")
    if row.result["why_not"]:
        raise Refused(row.result["why_not"])
    if "draft" in row.result:
        return WeekPlan.objects.get(pk=row.result["draft"])
    made = _draft(by, plan, row.result, at)
    row.result["draft"] = made.pk
    row.save(update_fields=["result"])
    return made


def _draft(by: Person, plan: WeekPlan, result: Mapping[str, Any], at: datetime) -> WeekPlan:
    week = Week(plan.week)
    as_of = not_over(week, None, at)
    held = held_from(plan.territory, week, plan, as_of)
    problem = free(week_problem(plan.territory, week, held), result["freed"], held.since)
    spots = [Spot(*spot) for spot in result["spots"]]
    if {spot.job for spot in spots} - {job.id for job in problem.jobs}:
        raise Conflict("A job of this answer no longer waits for track time; ask once more.")
    made = ByHand(problem).plan(spots, _left_out(problem, spots, result))
    breaches = check(problem, made)
    if breaches:
        raise Conflict(
            f"The week has changed since the question: {breaches[0].sentence} Ask once more."
        )
    return keep_plan(
        origin=Origin(by=by, based_on=plan, change=f"As asked: if {result['question']}."),
        territory=plan.territory,
        week=week,
        problem=problem,
        plan=made,
        proof=None,
        at=at,
        held=held.estimates,
        as_of=as_of,
    )


def _left_out(
    problem: Problem, spots: list[Spot], result: Mapping[str, Any]
) -> tuple[LeftOut, ...]:
    said = {one["job"]: one for one in result["left_out"]}
    placed = {spot.job for spot in spots}
    new = {"reason": "It came in after the question.", "change": "Put it in by hand."}
    found = []
    for job in problem.jobs:
        if job.id not in placed:
            one = said.get(job.id, new)
            found.append(LeftOut(job.id, one["reason"], Change("none", one["change"])))
    return tuple(found)
