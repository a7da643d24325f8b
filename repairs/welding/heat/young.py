"""Heat just let go, which cells cannot hold yet: it spreads by the closed form of an endless body.

A point or an edge of heat is far narrower than a cell, and no scheme of cells carries it truly. So
heat waits until it has spread about as wide as a cell, and only then comes into the cells, as the
closed form has it lie. Until then a reading adds what the closed form gives at its spot. The faces
of the box mirror it, and the air takes from it what it takes from such heat on an endless body, in
the first order. Properties are those of the steel between beads.
"""

from dataclasses import dataclass
from math import erf, erfc, exp, pi, sqrt

from repairs.welding.heat.axes import POINT_M, mirrored_spans
from repairs.welding.heat.box import Block, Box, Spot

# In units of cell size squared over diffusivity: how long heat waits.
RIPE = 1.5


@dataclass(frozen=True, slots=True)
class Young:
    """Heat that lay evenly in a block, and the seconds since."""

    block: Block
    joules: float
    age_s: float

    def older(self, seconds: float, box: Box, diffusivity: float, pull: float) -> "Young":
        """What is left of it some seconds later.

        ``pull`` is the loss coefficient over the heat held, in m/s: heat on the surface of an
        endless body has then lost 2 pull sqrt(t / (pi a)) of itself (Carslaw and Jaeger 2.7), and
        heat under it less.
        """
        before, after = self.age_s, self.age_s + seconds
        shed = sum(
            share * (_reach(away, after, diffusivity) - _reach(away, before, diffusivity))
            for share, away in self._faces(box)
        )
        return Young(self.block, self.joules * (1 - pull * shed), after)

    def _faces(self, box: Box) -> tuple[tuple[float, float], ...]:
        """Weight and distance of the running surface and of the two sides."""
        top, _, low, high = box.faces
        middle = sum(self.block.across) / 2
        return (
            (top, sum(self.block.depth) / 2 - box.depth[0]),
            (low, middle - box.across[0]),
            (high, box.across[-1] - middle),
        )

    def variance(self, diffusivity: float) -> float:
        """How far it has spread along each axis, in m2; rounded, so that like beads share work."""
        return round(2 * diffusivity * self.age_s, 12)

    def rise_at(self, box: Box, spot: Spot, diffusivity: float, held: float) -> float:
        """What it adds to the running surface at a spot, in K; ``held`` is J/(m3 K)."""
        sigma = sqrt(2 * diffusivity * self.age_s)
        density = (
            _density(box.depth, self.block.depth, box.depth[0], sigma)
            * _density(box.across, self.block.across, spot.across, sigma)
            * _density(box.along, self.block.along, spot.along, sigma)
        )
        return self.joules * density / held


def _reach(away: float, seconds: float, diffusivity: float) -> float:
    """The integral over time of a face's share of heat so far away, in s/m."""
    far = away / (2 * sqrt(diffusivity * seconds))
    near = 2 * sqrt(seconds / (pi * diffusivity)) * exp(-far * far)
    return near - away / diffusivity * erfc(far)


def _density(edges: tuple[float, ...], span: tuple[float, float], at: float, sigma: float) -> float:
    """Share of heat per metre at a place of one axis, its mirror images counted."""
    return sum(_of_span(low, high, at, sigma) for low, high in mirrored_spans(edges, *span))


def _of_span(low: float, high: float, at: float, sigma: float) -> float:
    if high - low < POINT_M:
        return exp(-(((at - (low + high) / 2) / sigma) ** 2) / 2) / (sigma * sqrt(2 * pi))
    root = sigma * sqrt(2)
    return (erf((at - low) / root) - erf((at - high) / root)) / (2 * (high - low))
