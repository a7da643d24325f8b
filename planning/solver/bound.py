"""The relaxation of choosing routes, and with it a value no plan can exceed.

Choosing at most one route a crew-day within the rows, fractions allowed, is a linear programme;
it is solved on a few routes, the rest are priced, the best are added, until none would help.
Whatever the prices, the bound stands: with every row but the crew-days' priced, no plan is worth
more than the prices of all room plus, for each crew-day, its best route after prices (Lagrange).
It holds over the routes given, so for the whole problem only when their listing is complete.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import highspy
import numpy as np
import numpy.typing as npt
from scipy import sparse

from planning.solver.quiet import quiet_solver
from planning.solver.ready import Ready
from planning.solver.routes import required
from planning.solver.rows import Row, Rows
from planning.solver.stock import at_depot, never_short, room_kg, unit_kg, uses
from planning.solver.timing import Route

Array = npt.NDArray[np.float64]
_ADDED_A_DAY = 40


@dataclass(frozen=True)
class Model:
    """Routes as columns over all rows; then the depot draws, each with its most.

    `day` names each route's crew-day, or its kind where the room of `crew_rows` is for many alike.
    """

    value: Array
    day: npt.NDArray[np.int64]
    matrix: sparse.csc_array
    draws: sparse.csc_array
    most: Array
    room: Array
    crew_rows: npt.NDArray[np.int64]
    must: npt.NDArray[np.bool_]
    rows: tuple[Row | tuple[str, str, str], ...] = ()


@dataclass(frozen=True)
class Relaxed:
    """The bound, how far below it a plan with each route must stay, and the prices of the rows."""

    bound: float
    reduced: Array
    prices: Array


def build(ready: Ready, rows: Rows, routes: Sequence[Route]) -> Model:
    """The columns and rows of the master problem over these routes."""
    material = Material(ready)
    index: dict[Row | tuple[str, str, str], int] = {
        ("crew", day.index, 0, 0): day.index for day in ready.crew_days
    }
    pointers, at, how_much = [0], list[int](), list[float]()
    for route in routes:
        taken: list[tuple[Row | tuple[str, str, str], float]] = list(rows.of(route).items())
        for row, n in [*taken, *material.of(route).items()]:
            at.append(index.setdefault(row, len(index)))
            how_much.append(float(n))
        pointers.append(len(at))
    draws = material.draws(index)
    room = [material.room(r) if len(r) == 3 else float(rows.room(r)) for r in index]
    shape = (len(index), len(routes))
    must = [required(ready, day) != 0 for day in ready.crew_days]
    return Model(
        np.array([r.value for r in routes], dtype=np.float64),
        np.array([r.day for r in routes], dtype=np.int64),
        sparse.csc_array((how_much, at, pointers), shape=shape, dtype=np.float64),
        *draws,
        np.array(room, dtype=np.float64),
        np.arange(len(ready.crew_days)),
        np.array(must, dtype=np.bool_),
        tuple(index),
    )


class Material:
    """Rows for material: what each truck uses over its own stock must be drawn from the depot."""

    def __init__(self, ready: Ready) -> None:
        self.problem = ready.problem
        self.ready = ready
        self.needless = never_short(ready)
        self.trucks = {truck.id: truck for truck in self.problem.trucks}

    def of(self, route: Route) -> dict[tuple[str, str, str], float]:
        total: dict[tuple[str, str, str], float] = {}
        for step in route.steps:
            for row, amount in self.of_job(route.day, step.job).items():
                total[row] = total.get(row, 0.0) + amount
        return total

    def of_job(self, day: int, job: int) -> dict[tuple[str, str, str], float]:
        """What the job takes of the rows of the truck of this crew-day."""
        crew_day = self.ready.crew_days[day]
        truck = crew_day.crew.truck
        if self.needless or truck is None:
            return {}
        amounts = uses(self.problem, crew_day.shift.day, self.ready.jobs[job])
        return {("use", truck, name): amount for name, amount in amounts.items()}

    def room(self, row: tuple[str, str, str]) -> float:
        kind, name, item = row
        if kind == "use":
            return self.trucks[name].stock.get(item, 0.0)
        if kind == "depot":
            return at_depot(self.problem, item)
        return room_kg(self.problem, self.trucks[name])

    def draws(self, index: dict[Row | tuple[str, str, str], int]) -> tuple[sparse.csc_array, Array]:
        """A column for each use row: it frees room there, takes from depot and truck."""
        rows = [row for row in index if len(row) == 3 and row[0] == "use"]
        at: list[int] = []
        how_much: list[float] = []
        for _, truck, item in rows:
            depot = index.setdefault(("depot", "", item), len(index))
            load = index.setdefault(("load", truck, ""), len(index))
            at += [index["use", truck, item], depot, load]
            how_much += [-1.0, 1.0, unit_kg(self.problem, item)]
        most = np.array([self.room(("depot", "", item)) for _, _, item in rows], dtype=np.float64)
        pointers = np.arange(0, 3 * len(rows) + 1, 3)
        shape = (len(index), len(rows))
        return sparse.csc_array((how_much, at, pointers), shape=shape, dtype=np.float64), most


def relax(model: Model, start: Sequence[int], stop: Callable[[], bool]) -> Relaxed:
    """Solve the relaxation, starting from the columns `start` (they must hold every lock)."""
    best = _priced(model, np.zeros(len(model.room)))
    chosen = set(start) | set(_most_priced(model, best.reduced))
    solver = _solver(model)
    add_columns(solver, model, sorted(chosen))
    while not stop():
        solver.run()
        if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return best
        prices = -np.array(solver.getSolution().row_dual)
        now = _priced(model, prices)
        if now.bound < best.bound:
            best = now
        over = _over(model, prices)
        new = [j for j in _most_priced(model, over) if over[j] > 1e-7 and j not in chosen]
        if not new:
            return best
        chosen.update(new)
        add_columns(solver, model, new)
    return best


def add_columns(solver: highspy.Highs, model: Model, columns: Sequence[int]) -> None:
    """Give the solver these routes as columns between 0 and 1, costs being values lost."""
    part = model.matrix[:, list(columns)].tocsc()
    n = len(columns)
    solver.addCols(
        n, -model.value[list(columns)], np.zeros(n), np.ones(n),
        part.nnz, part.indptr[:-1].astype(np.int32), part.indices.astype(np.int32), part.data,
    )  # fmt: skip


def rows_and_draws(solver: highspy.Highs, model: Model) -> None:
    """Give the solver the rows, then the depot draws as its first columns."""
    m, n = len(model.room), len(model.most)
    low = np.full(m, -highspy.kHighsInf)
    low[model.crew_rows[model.must]] = 1.0
    none = np.zeros(0, dtype=np.int32)
    solver.addRows(m, low, model.room, 0, np.zeros(m, dtype=np.int32), none, np.zeros(0))
    if n:
        part = model.draws
        solver.addCols(
            n, np.zeros(n), np.zeros(n), model.most,
            part.nnz, part.indptr[:-1].astype(np.int32), part.indices.astype(np.int32), part.data,
        )  # fmt: skip


def _solver(model: Model) -> highspy.Highs:
    solver = quiet_solver(0)
    rows_and_draws(solver, model)
    return solver


def _over(model: Model, prices: Array) -> Array:
    """What each route saves over all its prices, the crew-day's included."""
    return np.asarray(model.value - model.matrix.T @ prices)


def _priced(model: Model, prices: Array) -> Relaxed:
    """The bound these prices give; prices below 0 are taken as 0."""
    priced = np.maximum(prices, 0.0)
    priced[model.crew_rows] = 0.0
    net = np.asarray(model.value - model.matrix.T @ priced)
    best = np.where(model.must, -np.inf, 0.0)
    np.maximum.at(best, model.day, net)
    draws = np.maximum(0.0, -(model.draws.T @ priced)) @ model.most
    bound = float(priced @ model.room + best @ model.room[model.crew_rows] + draws)
    return Relaxed(bound, net - best[model.day], prices)


def _most_priced(model: Model, over: Array) -> list[int]:
    """For each crew-day, the few routes that save most over their prices."""
    found: list[int] = []
    for day in range(len(model.crew_rows)):
        here = np.flatnonzero(model.day == day)
        order = np.argsort(-over[here], kind="stable")[:_ADDED_A_DAY]
        found += here[order].tolist()
    return found
