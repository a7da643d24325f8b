"""The cells along one axis: fine where metal is laid and measured, wider with distance from it."""

from dataclasses import dataclass
from functools import lru_cache
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from repairs.welding.heat.kernel import Floats

GAUSS = np.array([0.5 - 0.5 / 3**0.5, 0.5 + 0.5 / 3**0.5])


@dataclass(frozen=True, slots=True)
class Fine:
    """A stretch of an axis with cells of about one size; metres."""

    low: float
    high: float
    pitch: float


def graded_edges(low: float, high: float, stretches: tuple[Fine, ...], growth: float) -> Floats:
    """Edges of cells from ``low`` to ``high`` in metres.

    A cell is as wide as the nearest stretch asks for plus ``growth`` times its distance from it.
    Cell sizes are then evened out so that a whole number fits; no cell is wider than asked for.
    """
    marks = np.linspace(low, high, 4001)
    wanted = np.min([_wanted(marks, stretch, growth) for stretch in stretches], axis=0)
    passed = np.concatenate(([0.0], np.cumsum(np.diff(marks) / ((wanted[1:] + wanted[:-1]) / 2))))
    cells = max(2, int(np.ceil(passed[-1] - 1e-9)))
    edges = np.interp(np.linspace(0, passed[-1], cells + 1), passed, marks)
    edges[0], edges[-1] = low, high
    return np.asarray(edges)


def _wanted(marks: Floats, stretch: Fine, growth: float) -> Floats:
    beyond = np.maximum(np.maximum(stretch.low - marks, marks - stretch.high), 0.0)
    return np.asarray(stretch.pitch + growth * beyond)


@lru_cache(maxsize=1024)
def spread_weights(edges: tuple[float, ...], low: float, high: float) -> tuple[int, Floats]:
    """First cell and weights that spread a span evenly over cells; weights add up to 1.

    Each point of the span is shared out by the cubic through the middles of the four cells round
    it, points by two-point Gauss quadrature in pieces no longer than the cells met. A span of no
    length is a point. At an end of the axis the cells are mirrored. Spans lie on the axis.
    """
    rims = np.array(edges)
    met = (rims[1:] > low) & (rims[:-1] < high)
    pieces = max(1, int(np.ceil((high - low) / np.diff(rims)[met].min(initial=np.inf))))
    at = (np.arange(pieces)[:, None] + GAUSS) / pieces
    cells, weights = _cubics(rims, (low + (high - low) * at).ravel())
    total = np.bincount(cells.ravel(), weights.ravel(), len(rims) - 1) / len(weights)
    used = np.flatnonzero(total)
    return int(used[0]), total[used[0] : used[-1] + 1]


def _cubics(edges: Floats, at: Floats) -> tuple[NDArray[np.int64], Floats]:
    """For each place the four cells round it and their weights, mirrored cells folded back."""
    middles = (edges[1:] + edges[:-1]) / 2
    last = len(middles) - 1
    ends = 2 * edges[0] - middles[1::-1], 2 * edges[-1] - middles[: last - 2 : -1]
    mirrored = np.concatenate((ends[0], middles, ends[1]))
    first = np.clip(np.searchsorted(mirrored, at) - 2, 0, len(mirrored) - 4)
    places = first[:, None] + np.arange(4)
    near = mirrored[places]
    weights = np.ones_like(near)
    for n, m in permutations(range(4), 2):
        weights[:, n] *= (at - near[:, m]) / (near[:, n] - near[:, m])
    cells = places - 2
    cells = np.where(cells < 0, -1 - cells, cells)
    return np.where(cells > last, 2 * last + 1 - cells, cells), weights
