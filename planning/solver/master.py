"""The integer choice among the routes that may still be in a best plan."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import highspy
import numpy as np

from planning.solver.bound import Model, Relaxed, add_columns, rows_and_draws
from planning.solver.quiet import quiet_solver

_FIRST_COLUMNS = 2000
_CLOSE = 1e-6


@dataclass(frozen=True)
class Chosen:
    """The columns of the best plan found (None: none better than the start), worth and bound."""

    numbers: tuple[int, ...] | None
    value: float
    bound: float


def choose(
    model: Model,
    relaxed: Relaxed,
    start: Sequence[int],
    value: float,
    left_seconds: Callable[[], float],
    seed: int,
) -> Chosen:
    """Choose routes, knowing a plan (`start`, worth `value`; empty and minus infinity if none).

    A plan with route j in it is worth at most bound + reduced[j]; so routes for which that is
    below `value` are left out without loss, and what leaving out others costs is in the bound.
    More routes are let in, round by round, while that cost is what keeps the bound up.
    """
    now = Chosen(None, value, relaxed.bound)
    columns = list(start)
    most = _FIRST_COLUMNS
    while left_seconds() > 0:
        kept, outside = _keep(relaxed, columns, now.value, most)
        solver = _solver(model, kept, columns, left_seconds(), seed)
        solver.run()
        info = solver.getInfo()
        found = _columns(model, solver, kept, info)
        worth = float(model.value[found].sum()) if found else -np.inf
        if worth > now.value:
            columns = found
            now = Chosen(tuple(found), worth, now.bound)
        inside = -float(info.mip_dual_bound)
        now = replace(now, bound=min(now.bound, max(inside, outside, now.value)))
        if outside <= max(inside, now.value) + _CLOSE:
            break
        most *= 3
    return now


def _keep(
    relaxed: Relaxed, columns: Sequence[int], value: float, most: int
) -> tuple[list[int], float]:
    """The routes to choose among, and a bound for plans that use any of the others."""
    order = np.argsort(-relaxed.reduced, kind="stable")
    useful = order[relaxed.bound + relaxed.reduced[order] >= value - _CLOSE]
    left = useful[most:]
    outside = relaxed.bound + float(relaxed.reduced[left[0]]) if len(left) else -np.inf
    return sorted({*useful[:most].tolist(), *columns}), outside


def _solver(
    model: Model, kept: Sequence[int], start: Sequence[int], seconds: float, seed: int
) -> highspy.Highs:
    solver = quiet_solver(seed)
    solver.setOptionValue("time_limit", max(0.1, seconds))
    solver.setOptionValue("mip_rel_gap", 1e-6)
    rows_and_draws(solver, model)
    first = len(model.most)
    add_columns(solver, model, kept)
    columns = np.arange(first, first + len(kept), dtype=np.int32)
    integer = np.full(len(kept), highspy.HighsVarType.kInteger)
    solver.changeColsIntegrality(len(kept), columns, integer)
    if start:
        at = {j: i for i, j in enumerate(kept)}
        chosen = np.array([first + at[j] for j in start], dtype=np.int32)
        solver.setSolution(len(chosen), chosen, np.ones(len(chosen)))
    return solver


def _columns(
    model: Model, solver: highspy.Highs, kept: Sequence[int], info: highspy.HighsInfo
) -> list[int]:
    """The routes in the solver's best plan; empty when it has none."""
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return []
    values = solver.getSolution().col_value[len(model.most) :]
    return [j for j, x in zip(kept, values, strict=True) if x > 0.5]
