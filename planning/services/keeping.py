"""A plan as what planning again should keep: where its jobs are, and what each difference costs."""

from collections.abc import Collection
from dataclasses import replace
from datetime import date

from planning.models import WeekPlan
from planning.services.calendar import Week
from planning.solver.choices import choice
from planning.solver.plan import Plan
from planning.solver.problem import Former, Keep, Problem

WHAT = ("day", "crew", "window", "begin")


def prices(on: date) -> dict[str, float]:
    """What the railway counts for another day, crew, window and begin of a job, in money."""
    return {what: choice(f"keep_{what}", on) for what in WHAT}


def keeping(problem: Problem, plan: WeekPlan, besides: Collection[str] = ()) -> Problem:
    """The problem in which each difference from the plan has its price; jobs ``besides`` have none.

    Jobs that no longer wait are not in the problem, and jobs that came since are free.
    """
    week = Week(plan.week)
    known = {job.id for job in problem.jobs} - set(besides)
    rows = plan.placed.filter(job__reference__in=known).select_related("job", "crew", "window")
    places = {}
    for one in rows:
        start = week.minute(one.starts_at)
        places[one.job.reference] = Former(
            crew=one.crew.code,
            day=_day(problem, one.crew.code, start, week.day_of(one.starts_at)),
            window=one.window.reference,
            start_min=start,
        )
    return replace(problem, keep=Keep(places, **prices(plan.week)))


def differences(problem: Problem, plan: Plan) -> dict[str, int]:
    """How many jobs of the plan that is kept are elsewhere now, out of the plan, or new in it."""
    former = problem.keep.places if problem.keep else {}
    now = {p.job: Former(p.crew, p.day, p.window, p.start_min) for p in plan.placements}
    return {
        "moved": sum(job in now and now[job] != place for job, place in former.items()),
        "out": sum(job not in now for job in former),
        "new": sum(job not in former for job in now),
    }


def _day(problem: Problem, code: str, start: int, calendar_day: int) -> int:
    """The day of the crew's shift, which a night shift carries past midnight."""
    crew = next((crew for crew in problem.crews if crew.id == code), None)
    shifts = crew.shifts if crew else ()
    found = next((s.day for s in shifts if s.start_min <= start < s.end_min), None)
    return calendar_day if found is None else found
