"""The steel as a box of cells: heat goes in, spreads and leaves, and every joule is accounted for.

The box lies with its depth downwards from the running surface, across and along the part. Its two
ends are cut where no heat arrives, so they lose none; the other faces lose to the air.
"""

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from repairs.welding.heat import kernel
from repairs.welding.heat.box import BlockShares, Box, Probe, Spot, probe
from repairs.welding.heat.kernel import Fields, Floats
from repairs.welding.heat.steel import HeatTable, SteelCurves, heat_table
from repairs.welding.heat.surroundings import Surroundings, loss_coefficients

# Of what has gone in, the part that may be missing before the answer is thrown away.
BALANCE = 0.005
# Where the steel is between beads, on the whole.
TYPICAL_DEGC = 200.0


class HeatNotConserved(ArithmeticError):
    """The model has lost or made heat; its answer must not be used."""


@dataclass(slots=True, eq=False)
class Casting:
    """The state of the steel; build it with ``casting``."""

    box: Box
    steel: HeatTable
    around: Surroundings
    enthalpy: Floats
    volumes: Floats
    fields: Fields
    sizes: tuple[Floats, Floats, Floats]
    faces: Floats
    typical: float
    heat_in_j: float = 0.0
    lost_j: float = 0.0
    steps: int = 0
    start_j: float = 0.0
    _probes: dict[Spot, Probe] = field(default_factory=dict)

    def rest(self, seconds: float, around: Surroundings | None = None) -> None:
        """Let the heat spread for one time step, in these surroundings."""
        around = around or self.around
        self.lost_j += kernel.step(
            self.enthalpy,
            self.fields,
            self.sizes,
            self.faces,
            _loss_table(self.steel, around, self.box.width_m),
            self.steel.low,
            self.steel.pitch,
            # Whole numbers would have the kernel compiled a second time.
            float(around.air_degc),
            float(seconds),
            self.typical,
            self.steps % 2 == 0,
        )
        self.steps += 1

    def put(self, block: BlockShares, joules: float) -> None:
        """Put heat into a block of metal."""
        (k, deep), (j, wide), (i, long) = block
        share = (deep[:, None, None] * wide[None, :, None]) * long
        cells = self.enthalpy.reshape(self.box.shape)
        room = self.volumes.reshape(self.box.shape)
        at = slice(k, k + len(deep)), slice(j, j + len(wide)), slice(i, i + len(long))
        cells[at] += joules * share / room[at]
        self.heat_in_j += joules

    def warm(self, along: tuple[float, float], degc: float) -> None:
        """Bring every cell between two places along up to a temperature, as a torch does."""
        middles = np.array(self.box.along)
        middles = (middles[1:] + middles[:-1]) / 2
        reached = (along[0] <= middles) & (middles <= along[1])
        cells = self.enthalpy.reshape(self.box.shape)
        before = self.held_j
        cells[:, :, reached] = np.maximum(cells[:, :, reached], self.steel.enthalpy_at(degc))
        self.heat_in_j += self.held_j - before

    def degc_at(self, spot: Spot, around: Surroundings | None = None) -> float:
        """Temperature of the running surface at a spot.

        From the two topmost cells, with the slope that the loss to the air sets at the surface.
        """
        around = around or self.around
        if spot not in self._probes:
            self._probes[spot] = probe(self.box, spot)
        place = self._probes[spot]
        top, under = place.read(self.steel.degc_at(self.enthalpy[place.cells]))
        loss = _loss_at(self.steel, around, self.box.width_m, round(top))
        slope = loss * (top - around.air_degc) / self.steel.conductivity_at(top)
        near, far = place.depths
        straight = (top - slope * near) * far**2 - (under - slope * far) * near**2
        return float(straight / (far**2 - near**2))

    @property
    def held_j(self) -> float:
        """Heat held by all cells, over 0 degC."""
        return float(np.sum(self.enthalpy * self.volumes))

    @property
    def stored_j(self) -> float:
        """Heat held over what the steel began with."""
        return self.held_j - self.start_j

    def check_balance(self) -> None:
        """Raise HeatNotConserved unless heat in is heat stored and heat lost, within 0.5 %."""
        missing = self.heat_in_j - self.stored_j - self.lost_j
        if abs(missing) > BALANCE * max(self.heat_in_j, abs(self.lost_j)):
            raise HeatNotConserved(
                f"Of {self.heat_in_j / 1e3:.1f} kJ put into the steel {missing / 1e3:.1f} kJ are "
                "not accounted for, more than 0.5 %; do not use this forecast, and report it."
            )


def casting(box: Box, curves: SteelCurves, around: Surroundings, start_degc: float) -> Casting:
    """A casting at one temperature throughout."""
    steel = heat_table(curves)
    depth, across, along = (np.diff(edges) for edges in (box.depth, box.across, box.along))
    volumes = (depth[:, None, None] * across[None, :, None] * along).ravel()
    enthalpy = np.full(box.cells, steel.enthalpy_at(start_degc))
    a, b, c, d, e, f, g = (np.zeros(box.cells) for _ in range(7))
    made = Casting(
        box,
        steel,
        around,
        enthalpy,
        volumes,
        fields=(a, b, c, d, e, f, g),
        sizes=(depth, across, along),
        faces=np.array(box.faces),
        typical=steel.diffusivity_at(TYPICAL_DEGC),
    )
    made.start_j = made.held_j
    return made


@lru_cache(maxsize=64)
def _loss_table(steel: HeatTable, around: Surroundings, width_m: float) -> Floats:
    losses = loss_coefficients(steel.degc, around, width_m)
    return np.vstack([steel.degc, steel.potential, losses])


@lru_cache(maxsize=4096)
def _loss_at(steel: HeatTable, around: Surroundings, width_m: float, degc: int) -> float:
    return float(loss_coefficients(np.array([float(degc)]), around, width_m)[0])
