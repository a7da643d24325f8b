"""The cells along one axis: fine where metal is laid and measured, wider with distance from it."""

from dataclasses import dataclass

import numpy as np

from repairs.welding.heat.kernel import Floats


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


def cubic_weights(edges: Floats, at: float) -> tuple[int, Floats]:
    """First cell and weights of the four cells round a place, for the cubic through their middles.

    At an end of the axis the cells are mirrored. Weights add up to 1.
    """
    middles = (edges[1:] + edges[:-1]) / 2
    mirrored = np.concatenate(
        (2 * edges[0] - middles[1::-1], middles, 2 * edges[-1] - middles[:-3:-1])
    )
    first = int(np.clip(np.searchsorted(mirrored, at) - 2, 0, len(mirrored) - 4))
    near = mirrored[first : first + 4]
    weights = np.array(
        [
            np.prod([(at - near[m]) / (near[n] - near[m]) for m in range(4) if m != n])
            for n in range(4)
        ]
    )
    return _folded(first - 2, weights, len(middles))


def spread_weights(edges: Floats, span: tuple[float, float]) -> tuple[int, Floats]:
    """First cell and weights that spread a span evenly over cells; weights add up to 1.

    By two-point Gauss quadrature in pieces no longer than the cells there. Spans lie on the axis.
    """
    low, high = span
    met = (edges[1:] > low) & (edges[:-1] < high)
    pieces = max(1, int(np.ceil((high - low) / np.diff(edges)[met].min(initial=high - low))))
    total = np.zeros(len(edges) - 1)
    for piece in range(pieces):
        for gauss in (0.5 - 0.5 / 3**0.5, 0.5 + 0.5 / 3**0.5):
            first, weights = cubic_weights(edges, low + (high - low) * (piece + gauss) / pieces)
            total[first : first + len(weights)] += weights / (2 * pieces)
    used = np.flatnonzero(total)
    return int(used[0]), total[used[0] : used[-1] + 1]


def _folded(first: int, weights: Floats, cells: int) -> tuple[int, Floats]:
    """Weights of mirrored cells beyond an end added to the cells they mirror."""
    places = first + np.arange(len(weights))
    places = np.where(places < 0, -1 - places, places)
    places = np.where(places >= cells, 2 * cells - 1 - places, places)
    start, end = int(places.min()), int(places.max())
    return start, np.bincount(places - start, weights, end - start + 1)
