"""Which components will reach a limit before anybody looks at them again, over a whole railway.

Families are fitted once for all their members and the chances are worked out as arrays, because
thousands of components are looked through every night.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import stdtr

from turnouts.analysis.evidence import NotEnough, said_chance
from turnouts.analysis.wear.family import (
    Family,
    family_of,
    posteriors,
    sums_of,
    usual_scatter,
)
from turnouts.analysis.wear.limits import Limit
from turnouts.analysis.wear.line import Line
from turnouts.analysis.wear.resistant import Lines, resistant
from turnouts.analysis.wear.runs import Flags, Floats, Run, Table, table_of

RAISED_FROM = 0.1
"""Chance of reaching the limit before the next inspection from which a warning is raised (assumed:
one in ten is worth a look; an early look costs minutes, a limit passed unseen a slow order)."""

FEWEST_ALONE = 4
"""Readings a run needs when its family is too small to lean on, as in ``wear``."""


@dataclass(frozen=True, slots=True)
class Watched:
    """A run under watch: its family (like components, one quantity), limit, and two tonnages.

    ``now_mgt`` and ``next_look_mgt`` are tonnages over the component, as in its readings.
    """

    run: Run
    family: str
    limit: Limit
    now_mgt: float
    next_look_mgt: float

    def __post_init__(self) -> None:
        if not self.run.began_mgt <= self.now_mgt <= self.next_look_mgt:
            raise ValueError(
                f"{self.run.key}: the tonnage now must lie between the reset and the next look."
            )


@dataclass(frozen=True, slots=True)
class Warned:
    """A component that may reach a limit before the next look, with its chance now and by then."""

    key: str
    family: str
    limit: Limit
    chance_now: float
    chance_by_next_look: float
    level_at_next_look: float
    readings: int
    sentence: str


@dataclass(frozen=True, slots=True)
class Foreseen:
    """What was foreseen of one run: its line, and the readings it rests on."""

    key: str
    line: Line
    readings: int


@dataclass(frozen=True, slots=True)
class Night:
    """One look through: the warnings, likeliest first, what was looked at, and what could not be.

    ``foreseen`` is of every run looked at, so that it can be held against what comes.
    ``expected`` is the sum of all chances: about so many will reach their limit, warned of or not.
    """

    warnings: tuple[Warned, ...]
    looked_at: int
    not_enough: tuple[str, ...]
    foreseen: tuple[Foreseen, ...]
    expected: float
    sentence: str


def look_ahead(
    watched: Iterable[Watched],
    past: Sequence[tuple[str, Run]] = (),
    *,
    least_sd: float,
    raised_from: float = RAISED_FROM,
) -> Night:
    """All runs that reach their limit before their next look with at least a chance.

    ``past`` are finished runs with the name of their family: they tell how such components wear.
    ``least_sd`` is the resolution of the gages as a standard deviation. ValueError when it is not
    above zero.
    """
    if least_sd <= 0:
        raise ValueError("Give the resolution of the gages: a standard deviation above zero.")
    present, gone = defaultdict(list), defaultdict(list)
    for one in watched:
        present[one.family].append(one)
    for name, run in past:
        gone[name].append(run)
    warnings: list[Warned] = []
    left_out: list[str] = []
    foreseen: list[Foreseen] = []
    expected = 0.0
    for name, members in present.items():
        chances, told, unknown, lines = _one_family(members, gone[name], least_sd, raised_from)
        warnings += told
        left_out += unknown
        foreseen += lines
        expected += chances
    ordered = sorted(warnings, key=lambda w: (-w.chance_by_next_look, w.key))
    looked = sum(len(members) for members in present.values()) - len(left_out)
    said = _sentence(ordered, looked)
    return Night(tuple(ordered), looked, tuple(left_out), tuple(foreseen), expected, said)


def _one_family(
    members: list[Watched], gone: list[Run], least_sd: float, raised_from: float
) -> tuple[float, list[Warned], list[str], list[Foreseen]]:
    table = table_of([*(m.run for m in members), *gone])
    known = usual_scatter(table, least_sd)
    kept = resistant(table, least_sd, known).kept
    family = family_of(table, kept, least_sd)
    if isinstance(family, NotEnough):
        own = resistant(table, least_sd)
        kept, lines = own.kept, _alone(table, own, least_sd)
        able = kept.sum(axis=1) >= FEWEST_ALONE
    else:
        kept = resistant(table, least_sd, (family.sd, family.degrees)).kept
        lines, able = _leaning(table, kept, family), np.ones(len(kept), dtype=np.bool_)
    rows = np.flatnonzero(able[: len(members)])
    unknown = [m.run.key for m, can in zip(members, able, strict=False) if not can]
    now, later, levels = _chances([members[r] for r in rows], lines, rows)
    told = [
        _warned(members[row], now[n], later[n], levels[n], int(kept[row].sum()))
        for n, row in enumerate(rows)
        if later[n] >= raised_from
    ]
    foreseen = [
        Foreseen(members[row].run.key, _line(lines, int(row)), int(kept[row].sum())) for row in rows
    ]
    return float(later.sum()), told, unknown, foreseen


_Rows = tuple[Floats, Floats, Floats, Floats]
"""Level and rate of each row, their covariances, degrees of freedom, and scatter of a reading."""


def _line(lines: _Rows, row: int) -> Line:
    means, covariances, degrees, sds = (each[row] for each in lines)
    (v00, v01), (_, v11) = covariances.tolist()
    return Line(
        float(means[0]), float(means[1]), ((v00, v01), (v01, v11)), float(sds), float(degrees)
    )


def _leaning(table: Table, kept: Flags, family: Family) -> _Rows:
    means, covariances = posteriors(family, table, kept)
    every = np.ones(len(means))
    return means, covariances, every * family.degrees, every * family.sd


def _alone(table: Table, own: Lines, least_sd: float) -> _Rows:
    """Each row by its own least squares line; rows at one tonnage keep an open rate."""
    precision = sums_of(table, own.kept, 1.0).xx / np.maximum(own.sds, least_sd)[:, None, None] ** 2
    covariances = np.linalg.inv(precision + np.eye(2) * 1e-9)
    means = np.stack([own.levels, own.rates], axis=-1)
    degrees = np.maximum(own.kept.sum(axis=1) - 2.0, 1.0)
    return means, covariances, degrees, np.maximum(own.sds, least_sd)


def _chances(
    members: list[Watched], lines: _Rows, rows: npt.NDArray[np.int64]
) -> tuple[Floats, Floats, Floats]:
    """Chances that the limit is reached now and by the next look, and the level then."""
    means, covariances, degrees, _ = (each[rows] for each in lines)
    limits = np.array([m.limit.value for m in members])
    sign = np.array([1.0 if m.limit.rising else -1.0 for m in members])
    chances, levels = [], np.zeros(len(members))
    for at in (
        np.array([m.now_mgt - m.run.began_mgt for m in members]),
        np.array([m.next_look_mgt - m.run.began_mgt for m in members]),
    ):
        weights = np.stack([np.ones_like(at), at], axis=-1)
        errors = np.sqrt(np.einsum("ni,nij,nj->n", weights, covariances, weights))
        levels = (weights * means).sum(axis=1)
        chances.append(stdtr(degrees, sign * (levels - limits) / np.maximum(errors, 1e-12)))
    now, later = chances
    return now, np.maximum(now, later), levels


def _warned(one: Watched, now: float, later: float, level: float, readings: int) -> Warned:
    named = f" {one.limit.name}" if one.limit.name else ""
    if now >= 0.5:
        said = f"Is past its limit{named} already with a chance of {said_chance(float(now))}."
    else:
        said = (
            f"Reaches its limit{named} before the next inspection with a chance of "
            f"{said_chance(float(later))}."
        )
    return Warned(
        one.run.key, one.family, one.limit, float(now), float(later), float(level), readings, said
    )


def _sentence(warnings: Sequence[Warned], looked: int) -> str:
    if not warnings:
        return f"Of {looked} looked at, none is likely to reach a limit before its next inspection."
    return (
        f"{len(warnings)} of {looked} looked at may reach a limit before their next inspection; "
        f"the likeliest is {warnings[0].key}."
    )
