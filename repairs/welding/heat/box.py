"""The box of cells, the blocks of metal heat is put into, and the spots it is read at.

Heat comes into the cells once it has spread somewhat (``young``), as the closed form has it spread,
so that it lies where the block lies and not where the nearest cell does. At a face of the box the
cells are mirrored, for no heat passes there at once.
"""

from dataclasses import dataclass
from math import prod

import numpy as np
from numpy.typing import NDArray

from repairs.welding.heat.axes import reading_weights, spread_weights
from repairs.welding.heat.kernel import Floats

Shares = tuple[int, Floats]
BlockShares = tuple[Shares, Shares, Shares]


@dataclass(frozen=True, slots=True)
class Box:
    """Edges of the cells in metres, and how much more than its own outline each face sheds.

    ``faces`` weighs the loss of top, bottom, low side and high side: 1 for a plain face, more for
    one that stands for ribs and webs, 0 for one that loses nothing.
    """

    depth: tuple[float, ...]
    across: tuple[float, ...]
    along: tuple[float, ...]
    faces: tuple[float, float, float, float] = (1.0, 1.0, 1.0, 1.0)

    @property
    def shape(self) -> tuple[int, int, int]:
        """Cells in depth, across and along."""
        return len(self.depth) - 1, len(self.across) - 1, len(self.along) - 1

    @property
    def cells(self) -> int:
        """Number of cells."""
        return prod(self.shape)

    @property
    def words(self) -> str:
        """The box in words, for whoever asks what an answer stands on."""
        deep, wide, long = self.shape
        return f"{deep} x {wide} x {long} cells in depth, across and along"

    @property
    def width_m(self) -> float:
        """From side to side."""
        return self.across[-1] - self.across[0]


@dataclass(frozen=True, slots=True)
class Block:
    """A block of metal in metres; each pair is where it begins and ends."""

    depth: tuple[float, float]
    across: tuple[float, float]
    along: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on the running surface, in metres."""

    across: float
    along: float


@dataclass(frozen=True, slots=True, eq=False)
class Probe:
    """The cells of the two topmost layers round a spot, their weights and their depths in m.

    The first half of the cells are those of the topmost layer.
    """

    cells: NDArray[np.int64]
    weights: Floats
    depths: tuple[float, float]


def probe(box: Box, spot: Spot) -> Probe:
    """How to read a spot of the running surface."""
    _, rows, columns = box.shape
    first_row, wide = reading_weights(box.across, spot.across)
    first_column, long = reading_weights(box.along, spot.along)
    near_rows = first_row + np.arange(len(wide))
    near_columns = first_column + np.arange(len(long))
    plane = (near_rows[:, None] * columns + near_columns).ravel()
    weights = (wide[:, None] * long).ravel()
    top, middle, under = box.depth[:3]
    return Probe(
        cells=np.concatenate([plane, plane + rows * columns]),
        weights=np.concatenate([weights, weights]),
        depths=((top + middle) / 2, (middle + under) / 2),
    )


def shares_of(box: Box, block: Block, variance: float) -> BlockShares:
    """How heat that lay in a block and has spread since is shared out over the cells.

    Axis by axis; each adds up to 1. ``variance`` is 2 a t, in m2.
    """
    return (
        spread_weights(box.depth, *block.depth, variance),
        spread_weights(box.across, *block.across, variance),
        spread_weights(box.along, *block.along, variance),
    )
