"""Public instances of team orienteering, planned with the same search and the same master.

Routes there are equal and a route is only a set of visits with a prize, so the rows are the visits
and the number of routes; everything else is what a week uses.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from planning.solver.bound import Model, relax
from planning.solver.improve import Improver
from planning.solver.master import choose
from planning.solver.visits import Visits

_PACK_SHARE = 0.1  # of the time, at most, for one choice among the routes met
_MOST_MET = 30_000


@dataclass(frozen=True)
class Tours:
    """The routes (visits by number, in order) and what they are worth."""

    routes: tuple[tuple[int, ...], ...]
    score: float


def plan_tours(visits: Visits, *, seconds: float, seed: int, now: Callable[[], float]) -> Tours:
    """The best routes found within the time, by the caller's clock."""
    began = now()
    search = Improver(visits, seed)
    search.start(lambda: False)
    routes = len(visits.kind)
    stop_at = (1 - (_PACK_SHARE if routes > 1 else 0.0)) * seconds
    while now() - began < seconds:
        search.improve(_when(lambda: now() - began, stop_at))
        if routes > 1:
            _pack(search, lambda: min(_PACK_SHARE * seconds, seconds - (now() - began)), now)
        if now() - began >= stop_at:
            stop_at = seconds
    best = search.routes
    return Tours(tuple(ways for _, ways in best), search.value)


def _when(spent: Callable[[], float], limit: float) -> Callable[[], bool]:
    return lambda: spent() >= limit


def _pack(search: Improver, most: Callable[[], float], now: Callable[[], float]) -> None:
    """Choose among all routes met, and go on from the choice if it is better."""
    limit, began = most(), now()
    if limit <= 0:
        return
    best = search.routes
    orders = [ways for _, ways in best]
    numbers = {frozenset(ways): ways for ways in (*_best_of(search), *orders)}
    columns = list(numbers.values())
    at = {frozenset(ways): i for i, ways in enumerate(columns)}
    start = [at[frozenset(ways)] for ways in orders]
    model = _model(search.visits, columns)
    relaxed = relax(model, start, lambda: now() - began > limit)
    chosen = choose(
        model, relaxed, start, search.value, lambda: limit - (now() - began), search.seed
    )
    if chosen.numbers is not None:
        search.load((v, columns[j]) for v, j in enumerate(chosen.numbers))


def _best_of(search: Improver) -> list[tuple[int, ...]]:
    met = [ways for _, ways in search.met]
    return met[-_MOST_MET:]


def _model(visits: Visits, columns: Sequence[tuple[int, ...]]) -> Model:
    """At most so many routes, each visit at most once."""
    n, m = len(visits.minutes), len(columns)
    at = np.concatenate([np.array([0, *(1 + w for w in ways)]) for ways in columns])
    pointers = np.cumsum([0, *(1 + len(ways) for ways in columns)])
    shape = (n + 1, m)
    return Model(
        value=np.array([visits.prize[list(ways)].sum() for ways in columns]),
        day=np.zeros(m, dtype=np.int64),
        matrix=sparse.csc_array((np.ones(len(at)), at, pointers), shape=shape),
        draws=sparse.csc_array((n + 1, 0)),
        most=np.zeros(0),
        room=np.array([float(len(visits.kind)), *np.ones(n)]),
        crew_rows=np.zeros(1, dtype=np.int64),
        must=np.zeros(1, dtype=np.bool_),
    )
