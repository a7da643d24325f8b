"""Whether the bound proved for one plan still holds for another plan of the same week.

A bound holds for every plan of the problem it was proved for, under the locks it was proved with.
A plan that breaks one of those locks, or a week whose facts have moved on, has no bound.
"""

import hashlib
import json
from collections.abc import Iterable
from dataclasses import asdict, replace
from typing import Any

from planning.solver.plan import Placement, Plan
from planning.solver.problem import Problem


def digest(problem: Problem) -> str:
    """A fingerprint of the week's facts without its locks; the same facts give the same one."""
    free = replace(problem, jobs=tuple(replace(job, lock=None) for job in problem.jobs))
    text = json.dumps(asdict(free), sort_keys=True, default=_plain)
    return hashlib.sha256(text.encode()).hexdigest()


def _plain(value: Any) -> Any:
    if isinstance(value, frozenset | set):
        return sorted(value)
    raise TypeError(f"A problem holds a {type(value).__name__}, which has no fingerprint.")


def locks_of(problem: Problem) -> dict[str, list[Any]]:
    """Where each locked job must stay: crew, window, minute."""
    return {
        job.id: [job.lock.crew, job.lock.window, job.lock.start_min]
        for job in problem.jobs
        if job.lock is not None
    }


def proof_of(problem: Problem, bound: float | None) -> dict[str, Any] | None:
    """What is kept with a plan, to tell later for which plans its bound holds."""
    if bound is None:
        return None
    return {"bound": bound, "problem": digest(problem), "locks": locks_of(problem)}


def with_bound(plan: Plan, problem: Problem, proof: dict[str, Any] | None) -> Plan:
    """The plan with the bound of the proof and its own gap to it; without, where it is not valid.

    A plan above a bound that is valid for it would show the proof to be wrong, so that is left to
    the checker, which refuses such a plan.
    """
    if proof is None or proof["problem"] != digest(problem):
        return replace(plan, bound=None, gap=None)
    if not _keeps(plan.placements, proof["locks"]):
        return replace(plan, bound=None, gap=None)
    bound = proof["bound"]
    return replace(plan, bound=bound, gap=(bound - plan.value) / bound if bound else 0.0)


def _keeps(placements: Iterable[Placement], locks: dict[str, list[Any]]) -> bool:
    where = {p.job: [p.crew, p.window, p.start_min] for p in placements}
    return all(where.get(job) == lock for job, lock in locks.items())
