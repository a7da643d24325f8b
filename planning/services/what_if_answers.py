"""The answer to a question about a week: two plans beside each other, as plain data to keep."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import prod
from typing import Any

from planning.services.changes_said import Names, said_change
from planning.solver.plan import Placement, Plan
from planning.solver.problem import Problem


@dataclass(frozen=True, slots=True)
class Beside:
    """A plan and the week it was made for."""

    plan: Plan
    problem: Problem


def answer(
    question: str,
    present: Beside,
    then: Beside,
    alone: float,
    freed: tuple[str, ...],
    why_not: str,
    names: Names,
) -> dict[str, Any]:
    """What is kept of a question: figures of both plans, and each job that is elsewhere.

    ``alone`` is what planning again without the question would save, ``freed`` the jobs whose
    locks could not hold, ``why_not`` why it cannot be made a draft; empty where it can.
    """
    turnouts = {job.id: job.turnout for job in (*present.problem.jobs, *then.problem.jobs)}
    was, now = _places(present.plan), _places(then.plan)
    reasons = {left.job: left for left in then.plan.left_out}

    def row(job: str) -> dict[str, Any]:
        return {"job": job, "turnout": turnouts[job]}

    both = sorted(was.keys() & now.keys(), key=lambda job: now[job].start_min)
    moved = [(job, what) for job in both if (what := _what(was[job], now[job]))]
    return {
        "question": question,
        "present": _figures(present),
        "then": _figures(then) | {"gap": then.plan.gap},
        "alone": alone,
        "came_in": [row(j) | {"new": _said(names, now[j])} for j in now if j not in was],
        "fell_out": [
            row(j)
            | {"old": _said(names, was[j])}
            | ({"reason": reasons[j].reason} if j in reasons else {"reason": ""})
            for j in was
            if j not in now
        ],
        "moved": [
            row(j) | {"old": _said(names, was[j]), "new": _said(names, now[j]), "what": what}
            for j, what in moved
        ],
        "stayed": len(both) - len(moved),
        "freed": list(freed),
        "notes": list(then.plan.notes),
        "why_not": why_not,
        "spots": [[p.job, p.crew, p.window, p.start_min] for p in then.plan.placements],
        "left_out": [
            {"job": left.job, "reason": left.reason, "change": said_change(left.change, names)}
            for left in then.plan.left_out
        ],
    }


def _places(plan: Plan) -> Mapping[str, Placement]:
    return {p.job: p for p in plan.placements}


def _what(old: Placement, new: Placement) -> str:
    """What of a job's place is another: day, crew, window, begin."""
    pairs = (
        ("day", old.day, new.day),
        ("crew", old.crew, new.crew),
        ("window", old.window, new.window),
        ("begin", old.start_min, new.start_min),
    )
    return ", ".join(word for word, one, other in pairs if one != other)


def _said(names: Names, p: Placement) -> dict[str, Any]:
    return {
        "starts_at": names.week.moment(p.start_min).isoformat(),
        "ends_at": names.week.moment(p.end_min).isoformat(),
        "crew": p.crew,
        "crew_name": names.crews.get(p.crew, p.crew),
        "window": p.window,
        "chance": p.chance,
        "late": p.late,
    }


def _figures(one: Beside) -> dict[str, Any]:
    plan = one.plan
    chances = list(plan.window_chance.values())
    minutes = sum(p.end_min - p.start_min + p.travel_min for p in plan.placements)
    return {
        "value": plan.value,
        "placed": len(plan.placements),
        "left_out": len(plan.left_out),
        "late": sum(p.late for p in plan.placements),
        "crew_hours": minutes / 60,
        "least_chance": min(chances, default=None),
        "all_in_time": prod(chances),
    }
