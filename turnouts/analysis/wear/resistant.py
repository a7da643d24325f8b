"""Lines that a few wrong readings cannot bend, and which readings those are.

A start that half the readings cannot spoil, the repeated median line (Siegel, Biometrika 69, 1982;
the median of slopes of Theil and Sen stands only 29 %); then least squares on the readings near it
(reweighted least squares: Rousseeuw and Leroy, Robust Regression and Outlier Detection, 1987), to
which the others come back one by one unless a t test says they do not belong (forward search:
Hadi and Simonoff, JASA 88, 1993). A gage misread by a quarter of an inch is common.

Weights are 0 or 1 on purpose: the inspector is told which readings were left out, and all that
follows (bands, pooling) is plain least squares on the others.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from turnouts.analysis.wear.runs import Flags, Floats, Table

NEAR_SDS = 2.5
"""The first fit takes the readings within this many standard deviations of the start; 2.5 is the
cut-off of Rousseeuw and Leroy."""

FALSE_FLAGS = 0.01
"""Chance that a run without a wrong reading gets a flag (assumed: one vain look at a record in a
hundred runs is bearable; the bound is Bonferroni's over the readings of the run)."""

FEWEST_TO_JUDGE = 6
"""Readings a run needs before one of them is judged by the others alone (assumed: with fewer, the
scatter of the rest is hardly known). Where like components say what the scatter is, three do."""

FEWEST_WITH_SCATTER = 3

CONSISTENT = 1.4826
"""Median absolute deviation to standard deviation for normal scatter: 1 / 0.6745."""


@dataclass(frozen=True, slots=True)
class Lines:
    """For each row of a table its level at the reset, rate, scatter, and the readings that fit."""

    levels: Floats
    rates: Floats
    sds: Floats
    kept: Flags


def repeated_median(table: Table) -> tuple[Floats, Floats]:
    """Level and rate of each row: the median over readings of their median slope to the others.

    Rows without two different tonnages get rate 0 and their median as level.
    """
    x, y, used = table.since_mgt, table.values, table.used
    apart = x[:, :, None] - x[:, None, :]
    both = used[:, :, None] & used[:, None, :] & (apart != 0)
    slopes = np.divide(y[:, :, None] - y[:, None, :], apart, out=np.zeros_like(apart), where=both)
    each = medians(slopes, both)
    rates = medians(each, both.any(axis=2))
    return medians(y - rates[:, None] * x, used), rates


def resistant(table: Table, least_sd: float, known: tuple[float, int] | None = None) -> Lines:
    """Least squares lines of the readings that fit, for each row of a table.

    ``least_sd`` is the scatter below which no reading is doubted (resolution of the gage, in the
    unit of the values); ``known`` a scatter known from like components with its degrees of
    freedom. Rows with too few readings to judge keep them all.
    """
    levels, rates = repeated_median(table)
    sds = _first_sds(table, levels, rates) if known is None else np.full(len(rates), known[0])
    fewest = FEWEST_TO_JUDGE if known is None else FEWEST_WITH_SCATTER
    judged = table.used.sum(axis=1) >= fewest
    near = np.abs(_left(table, levels, rates)) <= NEAR_SDS * np.maximum(sds, least_sd)[:, None]
    kept = table.used & (near | ~judged[:, None])
    for _ in range(table.used.shape[1]):
        again = kept | _belonging(table, kept, least_sd, known)
        if (again == kept).all():
            break
        kept = again
    return Lines(*fitted(table, kept), _sds(table, kept), kept)


def fitted(table: Table, kept: Flags) -> tuple[Floats, Floats]:
    """Level and rate of each row by least squares on the kept readings, about their mean.

    Rows at a single tonnage get rate 0.
    """
    w, mean_x, dx, squares = _spread(table, kept)
    n = np.maximum(w.sum(axis=1), 1)
    mean_y = (w * table.values).sum(axis=1) / n
    across = (w * dx * (table.values - mean_y[:, None])).sum(axis=1)
    rates = np.divide(across, squares, out=np.zeros_like(across), where=squares > 0)
    return mean_y - rates * mean_x, rates


def medians(values: Floats, used: Flags) -> Floats:
    """Medians along the last axis over the used places; 0 where there is none."""
    if values.shape[-1] == 0:  # a run just begun, with nothing read since
        return np.zeros(values.shape[:-1])
    ordered = np.sort(np.where(used, values, np.inf), axis=-1)
    n = used.sum(axis=-1)
    last = values.shape[-1] - 1
    at = np.stack([np.maximum((n - 1) // 2, 0), np.minimum(n // 2, last)], axis=-1)
    middle = np.take_along_axis(ordered, at, axis=-1).mean(axis=-1)
    return np.asarray(np.where(n > 0, middle, 0.0))


def _belonging(
    table: Table, kept: Flags, least_sd: float, known: tuple[float, int] | None
) -> Flags:
    """Readings left out that a t test of a new reading on the line of the kept ones takes back."""
    w, _, dx, squares = _spread(table, kept)
    n = w.sum(axis=1)
    sds = _sds(table, kept) if known is None else np.full(len(n), known[0])
    degrees = np.maximum(n - 2, 1) if known is None else np.full(len(n), float(known[1]))
    share = np.divide(1, n, out=np.ones_like(n), where=n > 0)[:, None]
    reach = np.divide(dx**2, squares[:, None], out=np.zeros_like(dx), where=squares[:, None] > 0)
    spread = np.maximum(sds, least_sd)[:, None] * np.sqrt(1 + share + reach)
    readings = np.maximum(table.used.sum(axis=1), 1)
    farthest = stdtrit(degrees, 1 - FALSE_FLAGS / (2 * readings))[:, None]
    near = np.abs(_left(table, *fitted(table, kept))) <= farthest * spread
    return np.asarray(table.used & ~kept & near, dtype=np.bool_)


def _first_sds(table: Table, levels: Floats, rates: Floats) -> Floats:
    """A first scatter about each line, widened for the two figures that the line took."""
    n = table.used.sum(axis=1)
    wider = np.sqrt(n / np.maximum(n - 2, 1))
    left = np.abs(_left(table, levels, rates))
    return np.asarray(CONSISTENT * medians(left, table.used) * wider)


def _sds(table: Table, kept: Flags) -> Floats:
    """Residual standard deviations of the kept readings about their own line."""
    left = np.where(kept, _left(table, *fitted(table, kept)), 0.0)
    degrees = np.maximum(kept.sum(axis=1) - 2, 1)
    return np.asarray(np.sqrt((left**2).sum(axis=1) / degrees))


def _left(table: Table, levels: Floats, rates: Floats) -> Floats:
    return np.asarray(table.values - levels[:, None] - rates[:, None] * table.since_mgt)


def _spread(table: Table, kept: Flags) -> tuple[Floats, Floats, Floats, Floats]:
    """Weights, mean tonnage, distance from it, and sum of squares, of the kept readings."""
    w = kept.astype(np.float64)
    mean_x = (w * table.since_mgt).sum(axis=1) / np.maximum(w.sum(axis=1), 1)
    dx = table.since_mgt - mean_x[:, None]
    return w, mean_x, dx, (w * dx * dx).sum(axis=1)
