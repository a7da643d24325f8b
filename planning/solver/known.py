"""What is known of the minutes that jobs of one crew's day need to be done with the set chance.

Whether a sum of working times stays within its minutes depends on which jobs and how many set-ups
are in it, not on their order, the crew or the prices; so each answer is kept, and asked for again
most of the time. A sum is named by the numbers its jobs drew by lot (64 bits, combined by
exclusive or; that two sums of a week get the same name has odds below one in a million million).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from planning.solver.compiled import compiled
from planning.solver.sums import alone_in_time, any_merged_in_time
from planning.solver.visits import MOST_STARTS, Floats, Ints, Visits

_SLOTS = 1 << 20
_TRIES = 8
_NEVER = 1 << 40
_APART = 1_000_003  # more than any minutes of a week: sums of other minutes have other names
_YES, _NO = 1, 0  # of several sums together, for the very minutes they are named with


class Known(NamedTuple):
    """Answers by sum: it is late in `late` minutes, in time in `done`; and working space."""

    lot: Ints  # of each job, and of a set-up
    name: Ints
    late: Ints
    done: Ints
    totals: Floats  # [start, cumulant, value of the shared part]
    minutes: Floats


def nothing_known(visits: Visits) -> Known:
    """No answers yet for these visits."""
    draw = np.random.default_rng(1)
    return Known(
        lot=draw.integers(1, 1 << 62, len(visits.minutes) + 1, dtype=np.int64),
        name=np.zeros(_SLOTS, dtype=np.int64), late=np.full(_SLOTS, -_NEVER),
        done=np.full(_SLOTS, _NEVER), totals=np.zeros((MOST_STARTS, 3, len(visits.weight))),
        minutes=np.zeros(MOST_STARTS),
    )  # fmt: skip


@compiled
def _slot(known: Known, name: int) -> int:
    """Where the answer for the sum is or may be put; -1: no room near its place."""
    for step in range(_TRIES):
        at = (name + step) & (_SLOTS - 1)
        if known.name[at] == 0:
            known.name[at] = name
        if known.name[at] == name:
            return int(at)
    return -1


@compiled
def _add_up(d: Visits, total: Floats, path: Ints, first: int, depth: int, setups: int) -> None:
    """The cumulants of the path's work from `first` to `depth` into `total`."""
    setup = len(d.given) - 1
    for c in range(3):
        for z in range(len(d.weight)):
            total[c, z] = setups * d.given[setup, c, z]
            for p in range(first, depth + 1):
                total[c, z] += d.given[d.job[path[p]], c, z]


@compiled
def _enough(
    d: Visits, known: Known, path: Ints, first: int, depth: int, setups: int, name: int,
    minutes: int,
) -> bool:  # fmt: skip
    """Whether the path's work from `first` to `depth` stays within its minutes."""
    name += setups * known.lot[-1]
    at = _slot(known, name)
    if at >= 0 and minutes >= known.done[at]:
        return True
    if at >= 0 and minutes <= known.late[at]:
        return False
    _add_up(d, known.totals[0], path, first, depth, setups)
    answer = alone_in_time(d, known.totals[0], minutes)
    if at >= 0 and answer:
        known.done[at] = minutes
    elif at >= 0:
        known.late[at] = minutes
    return answer


@compiled
def may_be_in_time(
    d: Visits, known: Known, path: Ints, depth: int, count: int, deadline: int,
    fixed: Ints, first: Ints, setups: Ints, names: Ints,
) -> bool:  # fmt: skip
    """The answer of `timing.in_time` for the path up to `depth`; never no where that says yes.

    `count` starts may decide its end: each with its `fixed` minute, the `first` visit counted on
    from it, and the set-ups and the name of its sum.
    """
    for i in range(count):
        minutes = deadline - fixed[i]
        if not _enough(d, known, path, first[i], depth, setups[i], names[i], minutes):
            return False
    # All work as if it followed the last of the starts: never less than what it takes.
    merged = deadline - fixed[count - 1]
    if count == 1 or _enough(d, known, path, first[0], depth, setups[0], names[0], merged):
        return True
    together = 0
    for i in range(count):
        together = _APART * together + names[i] + setups[i] * known.lot[-1]
        together = _APART * together + deadline - fixed[i]
    at = _slot(known, together)
    if at >= 0 and known.done[at] == known.late[at]:
        return bool(known.done[at] == _YES)
    for i in range(count):
        _add_up(d, known.totals[i], path, first[i], depth, setups[i])
        known.minutes[i] = deadline - fixed[i]
    answer = any_merged_in_time(d, known.totals, known.minutes, count)
    if at >= 0:
        known.done[at] = known.late[at] = _YES if answer else _NO
    return answer
