"""What like components have in common: usual level and rate, their differences, gage scatter.

The linear mixed model with random level and rate (Laird and Ware, Biometrics 38, 1982): in each
run y = (m0 + u0) + (m1 + u1) x + e, with (u0, u1) normal of covariance T, e normal of standard
deviation sd. Estimated by restricted maximum likelihood; each run's own line is then its posterior
mean (best linear unbiased prediction), which leans on the family the more the fewer its readings.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize
from scipy.special import chdtri

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.wear.resistant import fitted
from turnouts.analysis.wear.runs import Flags, Floats, Table

FEWEST_RUNS = 6
"""Runs with at least two readings each, below which their differences are not estimated (assumed:
a spread from fewer is itself too uncertain to lean on)."""


@dataclass(frozen=True, slots=True)
class Sums:
    """What a run's readings contribute: counts, X'X, X'y and y'y, one run a row, scaled."""

    n: Floats
    xx: Floats
    xy: Floats
    yy: Floats


@dataclass(frozen=True, slots=True)
class Family:
    """Usual level and rate (``mean``), covariance ``between`` components, scatter of a reading.

    ``mean_covariance`` is the error of ``mean``; ``degrees`` those behind ``sd``.
    """

    mean: Floats
    between: Floats
    sd: float
    mean_covariance: Floats
    degrees: int
    runs: int
    readings: int
    restricted_log_likelihood: float

    @property
    def sentence(self) -> str:
        """The family in words."""
        apart = self.between[1, 1] ** 0.5
        return (
            f"{self.runs} like runs with {self.readings} readings wear by {self.mean[1]:.3g} a MGT "
            f"on average; components differ by {apart:.2g} a MGT (standard deviation) and one "
            f"reading scatters by {self.sd:.2g}."
        )


def family_of(table: Table, kept: Flags, least_sd: float) -> Family | NotEnough:
    """The family of the runs in a table, from the kept readings.

    ``least_sd`` bounds the scatter from below, in the unit of the values.
    """
    counts = kept.sum(axis=1)
    rows = counts >= 2
    if rows.sum() < FEWEST_RUNS or (counts[rows] - 2).sum() < FEWEST_RUNS:
        have = int(rows.sum()) if rows.sum() < FEWEST_RUNS else int((counts[rows] - 2).sum())
        return NotEnough.of("like runs with readings enough to compare", have, FEWEST_RUNS)
    long = float(table.since_mgt[kept].max()) or 1.0
    sums = sums_of(table, kept, long)
    start = _start(sums, least_sd)
    found = minimize(
        _unlikely, start, args=(sums,), method="L-BFGS-B", bounds=_bounds(start, least_sd)
    )
    return _family(found.x, sums, long)


def usual_scatter(table: Table, least_sd: float) -> tuple[float, int] | None:
    """The scatter of a reading common to the rows, with its degrees of freedom, before any is left
    out; ``None`` without three readings in ``FEWEST_RUNS`` rows.

    The median over rows of their own residual variance, each over the median of its chi square
    distribution, so that rows with a wrong reading, up to half of them, do not carry it away.
    """
    counts = table.used.sum(axis=1)
    rows = counts >= 3
    if rows.sum() < FEWEST_RUNS:
        return None
    levels, rates = fitted(table, table.used)
    left = np.where(
        table.used, table.values - levels[:, None] - rates[:, None] * table.since_mgt, 0
    )
    degrees = counts[rows] - 2
    squares = (left[rows] ** 2).sum(axis=1) / chdtri(degrees, 0.5)
    return max(float(np.median(squares)) ** 0.5, least_sd), int(degrees.sum())


def sums_of(table: Table, kept: Flags, long: float) -> Sums:
    """The sums of each row; tonnage is divided by ``long`` so that all columns are of one size."""
    w = kept.astype(np.float64)
    x, y = table.since_mgt / long, table.values
    n, sx, sxx = w.sum(axis=1), (w * x).sum(axis=1), (w * x * x).sum(axis=1)
    xx = np.stack([np.stack([n, sx], -1), np.stack([sx, sxx], -1)], -2)
    xy = np.stack([(w * y).sum(axis=1), (w * x * y).sum(axis=1)], -1)
    return Sums(n, xx, xy, (w * y * y).sum(axis=1))


def posteriors(family: Family, table: Table, kept: Flags) -> tuple[Floats, Floats]:
    """Level and rate of each row, and their covariances (rows by 2 by 2), given its readings.

    A row without readings gets the family's own. The covariance counts that the family's mean is
    itself estimated (Kackar and Harville, JASA 79, 1984, first two terms).
    """
    sums = sums_of(table, kept, 1.0)
    precision, right = sums.xx / family.sd**2, sums.xy / family.sd**2
    shrink = np.linalg.inv(np.eye(2) + precision @ family.between)
    pull = family.between @ shrink
    own = np.einsum("nij,nj->ni", pull, right - precision @ family.mean)
    left = np.eye(2) - pull @ precision
    covariance = pull + left @ family.mean_covariance @ left.transpose(0, 2, 1)
    return family.mean + own, (covariance + covariance.transpose(0, 2, 1)) / 2


def _start(sums: Sums, least_sd: float) -> Floats:
    """Scatter from the runs' own lines, differences from how those lines differ."""
    enough = (sums.n >= 3) & (np.linalg.det(sums.xx) > 1e-9)
    own = np.linalg.solve(sums.xx[enough], sums.xy[enough][..., None])[..., 0]
    left = np.maximum(sums.yy[enough] - (own * sums.xy[enough]).sum(axis=1), 0).sum()
    degrees = max(float((sums.n[enough] - 2).sum()), 1.0)
    sd = max((left / degrees) ** 0.5, least_sd, 1e-6)
    spread = own.std(axis=0) if len(own) > 1 else np.ones(2)
    return np.array([max(spread[0], sd), 0.0, max(spread[1], sd), np.log(sd)])


def _bounds(start: Floats, least_sd: float) -> list[tuple[float, float]]:
    """Wide ones about the start: a search that steps far out finds sums it cannot divide by."""
    far = 1e3 * float(max(start[0], start[2]))
    least = float(np.log(max(least_sd, 1e-9)))
    return [(0.0, far), (-far, far), (0.0, far), (least, float(start[3]) + float(np.log(1e2)))]


def _between(unknown: npt.NDArray[np.float64]) -> Floats:
    root = np.array([[unknown[0], 0.0], [unknown[1], unknown[2]]])
    return np.asarray(root @ root.T)


def _pieces(unknown: Floats, sums: Sums) -> tuple[float, Floats, Floats]:
    """Minus twice the restricted log likelihood, the mean, and its covariance."""
    between, variance = _between(unknown), float(np.exp(2 * unknown[3]))
    precision, right = sums.xx / variance, sums.xy / variance
    whole = np.eye(2) + precision @ between
    shrink = np.linalg.inv(whole)
    total = (shrink @ precision).sum(axis=0)
    pulled = np.einsum("nij,nj->ni", shrink, right)
    mean = np.linalg.solve(total, pulled.sum(axis=0))
    fit = (sums.yy / variance).sum() - np.einsum("ni,ij,nj->", right, between, pulled)
    unlikely = (
        sums.n.sum() * np.log(2 * np.pi * variance)
        - 2 * np.log(2 * np.pi)
        + np.linalg.slogdet(whole)[1].sum()
        + fit
        - mean @ pulled.sum(axis=0)
        + np.linalg.slogdet(total)[1]
    )
    return float(unlikely), mean, np.linalg.inv(total)


def _unlikely(unknown: Floats, sums: Sums) -> float:
    return _pieces(unknown, sums)[0]


def _family(unknown: Floats, sums: Sums, long: float) -> Family:
    unlikely, mean, covariance = _pieces(unknown, sums)
    scale = np.array([1.0, 1 / long])
    return Family(
        mean=mean * scale,
        between=_between(unknown) * np.outer(scale, scale),
        sd=float(np.exp(unknown[3])),
        mean_covariance=covariance * np.outer(scale, scale),
        degrees=int(np.maximum(sums.n - 2, 0).sum()),
        runs=int((sums.n > 0).sum()),
        readings=int(sums.n.sum()),
        restricted_log_likelihood=-unlikely / 2 - float(np.log(long)),  # back from scaled tonnage
    )
