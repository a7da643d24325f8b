"""The steel as a box of cells: heat goes in, spreads and leaves, and every joule is accounted for.

The box lies with its depth downwards from the running surface, across and along the part. Its two
ends are cut where no heat arrives, so they lose none; the other faces lose to the air.
"""

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from repairs.welding.heat import kernel
from repairs.welding.heat.box import Block, Box, Probe, Spot, probe, shares_of
from repairs.welding.heat.kernel import Fields, Floats
from repairs.welding.heat.steel import HeatTable, SteelCurves, heat_table
from repairs.welding.heat.surroundings import Surroundings, loss_coefficients
from repairs.welding.heat.young import RIPE, Young

# Of what has gone in, the part that may be missing before the answer is thrown away.
BALANCE = 0.005
# Where the steel is between beads, on the whole.
TYPICAL_DEGC = 200.0
# The surface where a bead was laid 5 to 30 s ago: of heat along a line, 850 J/mm in manganese
# steel, the closed form gives 1700 to 280 K over the rest, and half of that across its width.
YOUNG_DEGC = 500.0


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
    ripe_s: float
    young: tuple[Young, ...] = ()
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
        self._age(seconds, around)

    def _age(self, seconds: float, around: Surroundings) -> None:
        """Heat let go grows older, loses to the air and, once ripe, comes into the cells."""
        pull = _pull_of(self.steel, around, self.box.width_m)
        before = self.young
        older = [heat.older(seconds, self.box, self.typical, pull) for heat in before]
        self.lost_j += sum(heat.joules for heat in before) - sum(heat.joules for heat in older)
        self.young = tuple(heat for heat in older if heat.age_s < self.ripe_s)
        for heat in older:
            if heat.age_s >= self.ripe_s:
                self._put(heat)

    def let_go(self, block: Block, joules: float, age_s: float) -> None:
        """Heat that a block of metal was given some seconds ago; more than none."""
        self.young += (Young(block, joules, age_s),)
        self.heat_in_j += joules

    def _settle(self) -> None:
        """Bring all heat into the cells as it lies now, however young."""
        for heat in self.young:
            self._put(heat)
        self.young = ()

    def _put(self, heat: Young) -> None:
        shares = shares_of(self.box, heat.block, heat.variance(self.typical))
        (k, deep), (j, wide), (i, long) = shares
        share = (deep[:, None, None] * wide[None, :, None]) * long
        cells = self.enthalpy.reshape(self.box.shape)
        room = self.volumes.reshape(self.box.shape)
        at = slice(k, k + len(deep)), slice(j, j + len(wide)), slice(i, i + len(long))
        cells[at] += heat.joules * share / room[at]

    def warm(self, along: tuple[float, float], degc: float) -> None:
        """Bring every cell between two places along up to a temperature, as a torch does."""
        middles = np.array(self.box.along)
        middles = (middles[1:] + middles[:-1]) / 2
        reached = (along[0] <= middles) & (middles <= along[1])
        self._settle()
        cells = self.enthalpy.reshape(self.box.shape)
        before = self.held_j
        cells[:, :, reached] = np.maximum(cells[:, :, reached], self.steel.enthalpy_at(degc))
        self.heat_in_j += self.held_j - before

    def degc_at(self, spot: Spot, around: Surroundings | None = None) -> float:
        """Temperature of the running surface at a spot.

        From the two topmost cells, with the slope that the loss to the air sets at the surface,
        and what heat just let go adds.
        """
        around = around or self.around
        if spot not in self._probes:
            self._probes[spot] = probe(self.box, spot)
        place, steel = self._probes[spot], self.steel
        table = _loss_table(steel, around, self.box.width_m)
        top, under = kernel.read_at(
            self.enthalpy, place.cells, place.weights, table, steel.low, steel.pitch
        )
        slope = _slope_at(steel, around, self.box.width_m, round(top)) * (top - around.air_degc)
        near, far = place.depths
        straight = (top - slope * near) * far**2 - (under - slope * far) * near**2
        held = steel.heat_held_at(TYPICAL_DEGC)
        rise = sum(heat.rise_at(self.box, spot, self.typical, held) for heat in self.young)
        return float(straight / (far**2 - near**2)) + rise

    @property
    def held_j(self) -> float:
        """Heat held by all cells and let go just now, over 0 degC."""
        in_cells = float(np.sum(self.enthalpy * self.volumes))
        return in_cells + sum(heat.joules for heat in self.young)

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


def casting(
    box: Box, curves: SteelCurves, around: Surroundings, start_degc: float, pitch_m: float
) -> Casting:
    """A casting at one temperature throughout; ``pitch_m`` is the size of cells round the weld."""
    steel = heat_table(curves)
    depth, across, along = (np.diff(edges) for edges in (box.depth, box.across, box.along))
    volumes = (depth[:, None, None] * across[None, :, None] * along).ravel()
    typical = steel.diffusivity_at(TYPICAL_DEGC)
    enthalpy = np.full(box.cells, steel.enthalpy_at(start_degc))
    made = Casting(
        box,
        steel,
        around,
        enthalpy,
        volumes,
        fields=kernel.fields_for(box.shape),
        sizes=(depth, across, along),
        faces=np.array(box.faces),
        typical=typical,
        ripe_s=RIPE * pitch_m**2 / typical,
    )
    made.start_j = made.held_j
    return made


@lru_cache(maxsize=64)
def _loss_table(steel: HeatTable, around: Surroundings, width_m: float) -> Floats:
    losses = loss_coefficients(steel.degc, around, width_m)
    return np.vstack([steel.degc, steel.potential, losses])


@lru_cache(maxsize=64)
def _pull_of(steel: HeatTable, around: Surroundings, width_m: float) -> float:
    """Loss coefficient over heat held where a bead has just been laid, in m/s."""
    loss = loss_coefficients(np.array([YOUNG_DEGC]), around, width_m)[0]
    return float(loss) / steel.heat_held_at(TYPICAL_DEGC)


@lru_cache(maxsize=4096)
def _slope_at(steel: HeatTable, around: Surroundings, width_m: float, degc: int) -> float:
    """Fall of temperature under the surface, in K/m for each K over the air."""
    loss = loss_coefficients(np.array([float(degc)]), around, width_m)[0]
    return float(loss) / steel.conductivity_at(degc)
