"""A plan laid open for changes by hand: the week as it is now, and where each job stands."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from planning.models import PlannedJob, WeekPlan
from planning.services.calendar import Week
from planning.services.holding import Held, held_in
from planning.services.spots import ByHand, Spot
from planning.services.week import week_problem
from planning.solver.plan import Change, LeftOut, Placement
from planning.solver.problem import Lock, Problem

NEW_SINCE = "It came in after this plan was made."
PUT_IN = "Put it in by hand, or plan the week again."


@dataclass(frozen=True, slots=True)
class Desk:
    """A plan's problem as of now, its placements as spots in the order of the day, the rest."""

    plan: WeekPlan
    week: Week
    held: Held
    problem: Problem
    spots: tuple[Spot, ...]
    known: tuple[Placement, ...]
    left_out: tuple[LeftOut, ...]

    def spot_of(self, job: str) -> Spot | None:
        return next((spot for spot in self.spots if spot.job == job), None)

    def others(self, job: str) -> tuple[Spot, ...]:
        return tuple(spot for spot in self.spots if spot.job != job)

    def whole_of(self, job: str) -> str:
        """The job that this one is a part of, or the job itself."""
        named = {one.id: one.part_of for one in self.problem.jobs}
        return named.get(job) or job

    def parts_of(self, whole: str) -> frozenset[str]:
        """The job and its parts, which stay or go together."""
        return frozenset(one.id for one in self.problem.jobs if one.part_of == whole) | {whole}

    def out_but(self, job: str) -> tuple[LeftOut, ...]:
        return tuple(left for left in self.left_out if left.job != job)

    def locked_at(self, spot: Spot) -> Problem:
        """The problem with the spot's job locked to it, so that its start is kept."""
        return with_lock(self.problem, spot.job, Lock(spot.crew, spot.window, spot.start_min))


def with_lock(problem: Problem, name: str, lock: Lock | None) -> Problem:
    """The problem with this job locked so, or free."""
    return replace(
        problem,
        jobs=tuple(replace(job, lock=lock) if job.id == name else job for job in problem.jobs),
    )


def open_desk(plan: WeekPlan) -> Desk:
    """The plan laid open; jobs that no longer wait are gone, those that came since are left out."""
    week = Week(plan.week)
    as_of = made_for(plan)
    held = held_in(plan.territory, week, plan, as_of)
    problem = week_problem(plan.territory, week, held)
    rows = _rows(plan, problem)
    spots = tuple(
        Spot(r.job.reference, r.crew.code, r.window.reference, week.minute(r.starts_at))
        for r in rows
    )
    return Desk(
        plan=plan,
        week=week,
        held=held,
        problem=problem,
        spots=spots,
        known=_known(problem, rows, spots),
        left_out=_left_out(plan, problem, spots),
    )


def made_for(plan: WeekPlan) -> datetime | None:
    """The moment the plan was made for; None of one made before plans kept it."""
    kept = plan.detail.get("as_of")
    return datetime.fromisoformat(kept) if kept else None


def _rows(plan: WeekPlan, problem: Problem) -> Sequence[PlannedJob]:
    waiting = [job.id for job in problem.jobs]
    rows = plan.placed.filter(job__reference__in=waiting).order_by("starts_at", "pk")
    found = rows.select_related("job", "crew", "window", "estimate").defer("estimate__detail")
    return list(found)


def _known(
    problem: Problem, rows: Sequence[PlannedJob], spots: Sequence[Spot]
) -> tuple[Placement, ...]:
    """The placements with the chances they were kept with, where the estimate is still the same."""
    week_plan = ByHand(problem)
    row_of = {row.job.reference: row for row in rows}
    days: dict[tuple[str, int], list[Spot]] = {}
    for spot in spots:
        days.setdefault(week_plan.day_of(spot), []).append(replace(spot, pinned=True))
    return tuple(
        replace(place, chance=row_of[place.job].chance)
        for day, here in days.items()
        for place in week_plan.timed(day, here)
        if _unchanged(place, row_of[place.job])
    )


def _unchanged(place: Placement, row: PlannedJob) -> bool:
    minutes = (row.ends_at - row.starts_at).total_seconds() / 60
    return place.end_min - place.start_min == minutes and _holds(row)


def _holds(row: PlannedJob) -> bool:
    return row.estimate.current or row.job.state in ("in_work", "done")


def _left_out(plan: WeekPlan, problem: Problem, spots: Sequence[Spot]) -> tuple[LeftOut, ...]:
    said = {left.job.reference: left for left in plan.left_out.select_related("job")}
    placed = {spot.job for spot in spots}
    found = []
    done = placed | {job.part_of for job in problem.jobs if job.id in placed}
    for name in dict.fromkeys(job.part_of or job.id for job in problem.jobs):
        if name in done:
            continue
        left = said.get(name)
        reason, change = (left.reason, left.change) if left else (NEW_SINCE, PUT_IN)
        found.append(LeftOut(name, reason, Change("none", change)))
    return tuple(found)
