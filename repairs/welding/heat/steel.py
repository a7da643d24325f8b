"""How a steel holds and conducts heat at each temperature, and the tables the kernel reads.

Enthalpy is the integral of rho c over temperature, potential the integral of k (Kirchhoff), both
from 0 degC. Valid from -100 to 3000 degC, far past what any cell away from the arc reaches; heat of
fusion is left out, for it is given back before the metal cools to where a bead may be laid.
"""

from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import numpy as np

from repairs.welding.heat.kernel import Floats
from repairs.welding.refusals import RowRefusal
from repairs.welding.rows_toml import Rows, table_of

COLDEST_DEGC, HOTTEST_DEGC = -100.0, 3000.0
STEPS = 3100


@dataclass(frozen=True, slots=True)
class SteelCurves:
    """Conductivity in W/(m K) and heat held in J/(m3 K), each as (degC, value) in rising order."""

    name: str
    conductivity: tuple[tuple[float, float], ...]
    heat: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, eq=False)
class HeatTable:
    """Temperature and potential at equal steps of enthalpy, from ``low`` by ``pitch`` J/m3."""

    low: float
    pitch: float
    degc: Floats
    potential: Floats

    def enthalpy_at(self, degc: float) -> float:
        """Enthalpy in J/m3 at a temperature."""
        steps = np.arange(len(self.degc), dtype=float)
        return float(self.low + self.pitch * np.interp(degc, self.degc, steps))

    def conductivity_at(self, degc: float) -> float:
        """Conductivity in W/(m K) at a temperature: the slope of the potential."""
        n = self._step_at(degc)
        rise = self.degc[n + 1] - self.degc[n]
        return float((self.potential[n + 1] - self.potential[n]) / rise)

    def diffusivity_at(self, degc: float) -> float:
        """Diffusivity in m2/s at a temperature: the slope of potential over enthalpy."""
        n = self._step_at(degc)
        return float((self.potential[n + 1] - self.potential[n]) / self.pitch)

    def heat_held_at(self, degc: float) -> float:
        """Heat held in J/(m3 K) at a temperature: the slope of enthalpy."""
        n = self._step_at(degc)
        return float(self.pitch / (self.degc[n + 1] - self.degc[n]))

    def _step_at(self, degc: float) -> int:
        return min(max(int(np.searchsorted(self.degc, degc)) - 1, 0), len(self.degc) - 2)


def steel_curves(metal: str) -> SteelCurves:
    """The curves of ``manganese`` or ``carbon`` from steel_curves.toml, shares applied."""
    shares = table_of("steel_curves", metal)
    return SteelCurves(
        metal,
        _curve(f"{metal}_conductivity", shares.number("conductivity_share")),
        _curve(f"{metal}_heat", shares.number("heat_share") * 1e6),
    )


def constant_curves(conductivity: float, heat_j_per_m3_k: float) -> SteelCurves:
    """A steel whose properties do not change, as the closed forms suppose."""
    return SteelCurves("constant", ((0.0, conductivity),), ((0.0, heat_j_per_m3_k),))


@cache
def heat_table(curves: SteelCurves) -> HeatTable:
    """Tables of one steel, by the trapezoid rule over half-degree steps."""
    degc = np.linspace(COLDEST_DEGC, HOTTEST_DEGC, 2 * STEPS + 1)
    enthalpy, potential = _integral(degc, curves.heat), _integral(degc, curves.conductivity)
    even = np.linspace(enthalpy[0], enthalpy[-1], STEPS + 1)
    return HeatTable(
        low=float(even[0]),
        pitch=float(even[1] - even[0]),
        degc=np.interp(even, enthalpy, degc),
        potential=np.interp(even, enthalpy, potential),
    )


def _integral(degc: Floats, curve: tuple[tuple[float, float], ...]) -> Floats:
    values = np.interp(degc, [at for at, _ in curve], [value for _, value in curve])
    strips = np.diff(degc) * (values[1:] + values[:-1]) / 2
    summed = np.concatenate(([0.0], np.cumsum(strips)))
    return np.asarray(summed - np.interp(0.0, degc, summed))


def _curve(table: str, share: float) -> tuple[tuple[float, float], ...]:
    rows = table_of("steel_curves", table)
    curve = tuple((_degc_of(key, rows), rows.number(key) * share) for key in rows)
    if any(after <= before for (before, _), (after, _) in pairwise(curve)):
        raise RowRefusal(f"{rows.where}: temperatures must rise; put the rows in order.")
    if any(value <= 0 for _, value in curve):
        raise RowRefusal(f"{rows.where}: every value must be more than 0; correct it.")
    return curve


def _degc_of(key: str, rows: Rows) -> float:
    try:
        return float(key.removeprefix("at_"))
    except ValueError:
        raise RowRefusal(f"{rows.where}: name row {key} at_ and its degC, like at_200.") from None
