"""A plan from the relaxation: take its most certain route for good, relax the rest, and again.

The usual diving of column generation (Joncour et al. 2010): good plans in a few dozen small steps
of the dual simplex, where a search from a cold start takes long. A step that leads nowhere is taken
back and its route left out for good.
"""

from __future__ import annotations

from collections.abc import Callable

import highspy
import numpy as np

from planning.solver.bound import Array, Model, Relaxed, add_columns, rows_and_draws
from planning.solver.quiet import quiet_solver
from planning.solver.visits import Ints

_CERTAIN = 1 - 1e-6
_MOST_COLUMNS = 4000


def dive(model: Model, relaxed: Relaxed, stop: Callable[[], bool]) -> list[int] | None:
    """The routes of a plan, by number; None when the dive ended where no plan is, or was stopped.

    Only the routes nearest to their prices are looked at.
    """
    kept = np.sort(np.argsort(-relaxed.reduced, kind="stable")[:_MOST_COLUMNS]).tolist()
    solver = quiet_solver(0)
    rows_and_draws(solver, model)
    add_columns(solver, model, kept)
    first = len(model.most)
    taken = np.zeros(len(kept), dtype=np.bool_)
    last = np.zeros(0, dtype=np.int64)
    while not stop():
        solver.run()
        if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            if not len(last):
                return None
            taken[last] = False
            _fix(solver, first + last, 0.0)
            last = last[:0]
            continue
        share: Array = np.asarray(solver.getSolution().col_value[first:], dtype=np.float64)
        share = np.where(taken, 0.0, share)
        if share.max(initial=0.0) <= 1 - _CERTAIN:
            return [kept[i] for i in np.flatnonzero(taken)]
        certain = np.flatnonzero(share >= _CERTAIN)
        last = certain if len(certain) else np.array([np.argmax(share)])
        taken[last] = True
        _fix(solver, first + last, 1.0)
    return None


def _fix(solver: highspy.Highs, columns: Ints, value: float) -> None:
    for column in columns:
        solver.changeColBounds(int(column), value, value)
