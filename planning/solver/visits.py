"""Visits with windows and prizes, as arrays: the one question the route search works on.

A *way* is one manner of doing one job: not before `release`, started by `start` and finished by
`end`, worth `prize`. Vehicles of one kind (a crew on a day; all routes of a public instance) have
the same ways. Every time is a whole number of one unit (minutes; tenths in public instances).

What a railway's week adds is data that may be empty: `mark` (ways with the same mark, one after
another, share one set-up), rows with room for so many vehicles, jobs that must follow others,
material, and the chance of being finished by `deadline`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

MOST_STARTS = 12  # a day with more is turned down by the search
FAR = 1 << 40  # a time no route reaches: no road between two jobs, no limit on a start


class Visits(NamedTuple):
    """What may be visited, how, and by whom. Ways are sorted by kind, then by job."""

    job: Ints
    release: Ints
    held: Ints  # before it nobody starts, however early they are there: at most `release`
    start: Ints
    end: Ints
    out: Ints
    home: Ints
    mark: Ints
    deadline: Ints
    prize: Floats
    first: Ints  # [kind, job]: the first way of the job; up to the next column's
    kind: Ints  # of each vehicle
    leaves: Ints  # when each vehicle may leave its base
    back: Ints  # when it must be back
    minutes: Ints  # [job, 0 without and 1 with set-up]
    travel: Ints  # [job, job]
    near: Ints  # [job, rank]: the jobs nearest to it
    kept: npt.NDArray[np.bool_]  # of each way: may not be taken out
    row_from: Ints  # the rows of way w: row_of[row_from[w] : row_from[w + 1]]
    row_of: Ints
    room: Ints
    after_from: Ints  # the jobs that must come before job j in its route, likewise
    after_of: Ints
    truck: Ints  # of each vehicle; -1: none
    use_of: Ints  # of each way: its row in `use`, for what is used may hang on the day
    use: Floats  # [row, item]
    own: Floats  # [truck, item]
    depot: Floats  # of each item
    unit_kg: Floats
    room_kg: Floats  # of each truck
    chance: float  # least chance of being finished by the deadline; 0: not asked for
    given: Floats  # [job (last: set-up), cumulant 1 to 3, value of the shared part]
    weight: Floats  # of each value of the shared part


class Standing(NamedTuple):
    """The routes as they stand, with what is needed to tell at once whether one more job fits."""

    ways: Ints  # [vehicle, position]
    size: Ints  # positions used by each vehicle
    begin: Ints
    done: Ints
    latest: Ints  # the latest end at this position that the rest of the route bears
    where: Ints  # the vehicle of each job; -1: none
    held: Ints  # [vehicle, row]: how many of its ways take the row
    taken: Ints  # of each row, by how many vehicles
    used: Floats  # [truck, item]
    drawn: Floats  # of each item, from the depot
    load_kg: Floats  # of each truck, drawn from the depot
    gone: Ints  # working space: positions to take out
    totals: Floats  # working space: for each start that may decide the end, the work after it
    fixed: Floats  # and the minutes up to it
    minutes: Floats  # and what is left of them for the work


def without_railway(
    *,
    release: Ints,
    latest_start: Ints,
    service: Ints,
    prize: Floats,
    travel: Ints,
    out: Ints,
    home: Ints,
    routes: int,
    closes: int,
) -> Visits:
    """Visits with one window each and `routes` equal vehicles: a team orienteering problem."""
    n = len(service)
    none, whole = np.zeros(0, dtype=np.int64), np.arange(n, dtype=np.int64)
    empty = np.zeros(n + 1, dtype=np.int64)
    return Visits(
        job=whole, release=release, held=release, start=latest_start, end=latest_start + service,
        out=out, home=home, mark=np.full(n, -1, dtype=np.int64), deadline=np.full(n, FAR),
        prize=prize, first=np.arange(n + 1, dtype=np.int64)[None, :].copy(),
        kind=np.zeros(routes, dtype=np.int64), leaves=np.zeros(routes, dtype=np.int64),
        back=np.full(routes, closes, dtype=np.int64),
        minutes=np.stack([service, service], axis=1), travel=travel, near=nearest(travel),
        kept=np.zeros(n, dtype=np.bool_), row_from=empty, row_of=none, room=none,
        after_from=empty, after_of=none, truck=np.full(routes, -1, dtype=np.int64),
        use_of=whole, use=np.zeros((n, 0)), own=np.zeros((0, 0)), depot=np.zeros(0),
        unit_kg=np.zeros(0), room_kg=np.zeros(0), chance=0.0, given=np.zeros((n + 1, 3, 1)),
        weight=np.ones(1),
    )  # fmt: skip


def one_visit() -> Visits:
    """One visit and one vehicle: enough to have the compiled code made ready."""
    one = np.ones(1, dtype=np.int64)
    return without_railway(
        release=0 * one, latest_start=9 * one, service=one, prize=np.ones(1),
        travel=np.zeros((1, 1), dtype=np.int64), out=one, home=one, routes=1, closes=20,
    )  # fmt: skip


def nearest(travel: Ints, most: int = 60) -> Ints:
    """The jobs in the order of travel from each, itself first."""
    order = np.argsort(travel + 1 - np.eye(len(travel), dtype=np.int64), axis=1, kind="stable")
    return np.ascontiguousarray(order[:, :most])


def nobody_out(visits: Visits, longest: int) -> Standing:
    """All vehicles at their bases; no route may be longer than `longest` visits."""
    v, rows = len(visits.kind), len(visits.room)
    trucks, items = visits.own.shape
    shape = (v, longest)
    return Standing(
        ways=np.full(shape, -1, dtype=np.int64),
        size=np.zeros(v, dtype=np.int64),
        begin=np.zeros(shape, dtype=np.int64),
        done=np.zeros(shape, dtype=np.int64),
        latest=np.zeros(shape, dtype=np.int64),
        where=np.full(len(visits.minutes), -1, dtype=np.int64),
        held=np.zeros((v, rows), dtype=np.int64),
        taken=np.zeros(rows, dtype=np.int64),
        used=np.zeros((trucks, items)),
        drawn=np.zeros(items),
        load_kg=np.zeros(trucks),
        gone=np.zeros(longest, dtype=np.int64),
        totals=np.zeros((MOST_STARTS, 3, len(visits.weight))),
        fixed=np.zeros(MOST_STARTS),
        minutes=np.zeros(MOST_STARTS),
    )


def longest_route(visits: Visits) -> int:
    """A number of visits no route can exceed, by the shortest jobs and the longest vehicle day."""
    span = int((visits.back - visits.leaves).max(initial=0))
    ends = np.cumsum(np.sort(visits.minutes[:, 0]))
    return max(1, int(np.searchsorted(ends, span, side="right")))
