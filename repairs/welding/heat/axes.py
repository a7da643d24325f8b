"""The cells along one axis: fine where metal is laid and measured, wider with distance from it."""

from dataclasses import dataclass
from functools import lru_cache
from itertools import permutations
from math import pi, sqrt

import numpy as np
from scipy.special import ndtr

from repairs.welding.heat.kernel import Floats

# A span shorter than this is a point; a share of heat smaller than this is none.
POINT_M, NOTHING = 1e-6, 1e-9
# Of a cell's width: narrower than this, cells cannot hold the shape of heat just let go.
LEAST_SIGMA = 0.2


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


def reading_weights(edges: tuple[float, ...], at: float) -> tuple[int, Floats]:
    """First cell and weights that read a place on an axis by the cubic through four middles.

    At an end of the axis the cells are mirrored. The weights add up to 1.
    """
    rims = np.array(edges)
    middles = (rims[1:] + rims[:-1]) / 2
    last = len(middles) - 1
    ends = 2 * rims[0] - middles[1::-1], 2 * rims[-1] - middles[: last - 2 : -1]
    mirrored = np.concatenate((ends[0], middles, ends[1]))
    first = int(np.clip(np.searchsorted(mirrored, at) - 2, 0, len(mirrored) - 4))
    near = mirrored[first : first + 4]
    cubic = np.ones(4)
    for n, m in permutations(range(4), 2):
        cubic[n] *= (at - near[m]) / (near[n] - near[m])
    cells = np.arange(first - 2, first + 2)
    cells = np.where(cells < 0, -1 - cells, cells)
    cells = np.where(cells > last, 2 * last + 1 - cells, cells)
    total = np.zeros(last + 1)
    np.add.at(total, cells, cubic)
    used = np.flatnonzero(total)
    return int(used[0]), total[used[0] : used[-1] + 1]


@lru_cache(maxsize=4096)
def spread_weights(
    edges: tuple[float, ...], low: float, high: float, variance: float
) -> tuple[int, Floats]:
    """First cell and weights of heat that lay evenly on a span and has spread to a variance in m2.

    The closed form of an endless body, its ends mirrored, for no heat leaves there. A twelfth of
    the square of a cell's width is taken off, for laying heat evenly on whole cells adds as much.
    Spans lie on the axis; one of no length is a point. The weights add up to 1.
    """
    rims = np.array(edges)
    cell = int(np.clip(np.searchsorted(rims, (low + high) / 2) - 1, 0, len(rims) - 2))
    wide = rims[cell + 1] - rims[cell]
    sigma = np.sqrt(max(variance - wide**2 / 12, (LEAST_SIGMA * wide) ** 2))
    spans = mirrored_spans(edges, low, high)
    held = np.sum([np.diff(_below(rims, *span, sigma)) for span in spans], axis=0)
    used = np.flatnonzero(held > NOTHING)
    kept = held[used[0] : used[-1] + 1]
    return int(used[0]), kept / kept.sum()


def mirrored_spans(
    edges: tuple[float, ...], low: float, high: float
) -> tuple[tuple[float, float], ...]:
    """A span and its mirror images in the two ends of an axis."""
    near, far = 2 * edges[0], 2 * edges[-1]
    return (low, high), (near - high, near - low), (far - high, far - low)


def _below(at: Floats, low: float, high: float, sigma: float) -> Floats:
    """Share of the heat of a span that lies below some places, once it has spread by sigma."""
    if high - low < POINT_M:
        return np.asarray(ndtr((at - (low + high) / 2) / sigma))
    return np.asarray((_summed(at - low, sigma) - _summed(at - high, sigma)) / (high - low))


def _summed(over: Floats, sigma: float) -> Floats:
    """The integral of the normal distribution's sum function."""
    z = over / sigma
    return np.asarray(over * ndtr(z) + sigma * np.exp(-z * z / 2) / sqrt(2 * pi))
