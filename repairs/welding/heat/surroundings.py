"""What takes heat from the steel's surface: still air, wind, a compressed-air lance, radiation.

Convection of several kinds is joined as the cube root of the sum of cubes (Churchill; Incropera
section 9.9), radiation is added with its own temperature dependence.
"""

from dataclasses import dataclass

import numpy as np

from repairs.welding.heat.kernel import Floats
from repairs.welding.refusals import OutsideValidity
from repairs.welding.rows_toml import table_of

STEFAN_BOLTZMANN = 5.670374e-8
KELVIN = 273.15
LAMINAR_REYNOLDS = 5e5
# What the pool and the metal just laid lose beyond this is in the arc's efficiency already; and a
# cell that a bead has just filled is for seconds hotter than any metal, which must not radiate.
HOTTEST_COUNTED_DEGC = 700.0


@dataclass(frozen=True, slots=True)
class Surroundings:
    """Air, wind and the lance around one casting.

    ``quench_w_per_m2_k`` is convection under the lance, 0 without one. ``loss_w_per_m2_k``, where
    given, is the whole loss as one constant coefficient, fitted from records or asked for by a
    closed form; nothing else is then counted.
    """

    air_degc: float
    wind_m_per_s: float = 0.0
    quench_w_per_m2_k: float = 0.0
    loss_w_per_m2_k: float | None = None


def loss_coefficients(surface_degc: Floats, around: Surroundings, width_m: float) -> Floats:
    """Heat lost by a face in W/(m2 K) over the air, at some surface temperatures.

    Raises OutsideValidity for wind outside the range of the flat-plate law.
    """
    if around.loss_w_per_m2_k is not None:
        return np.full_like(surface_degc, around.loss_w_per_m2_k)
    counted_degc = np.minimum(surface_degc, HOTTEST_COUNTED_DEGC)
    natural = natural_coefficients(counted_degc, around.air_degc, width_m)
    wind = wind_coefficient(around.wind_m_per_s, width_m)
    joined = np.cbrt(natural**3 + wind**3 + around.quench_w_per_m2_k**3)
    whole = joined + radiation_coefficients(counted_degc, around.air_degc)
    over = np.maximum(surface_degc - around.air_degc, 1.0)
    share = (counted_degc - around.air_degc) / over
    return np.asarray(np.where(surface_degc > counted_degc, whole * share, whole))


def natural_coefficients(surface_degc: Floats, air_degc: float, width_m: float) -> Floats:
    """Natural convection 1.32 (dT/L)^(1/4) W/(m2 K) from a hot face (Incropera, from memory)."""
    rise = np.abs(surface_degc - air_degc)
    return np.asarray(table_of("heating", "air").number("natural") * (rise / width_m) ** 0.25)


def wind_coefficient(wind_m_per_s: float, width_m: float) -> float:
    """Forced convection over a flat plate, Nu = 0.664 Re^(1/2) Pr^(1/3), in W/(m2 K).

    Laminar, Re up to 5e5 (Incropera section 7.2); the wind blows across the track. Raises
    OutsideValidity above that, for negative wind and for a wind nobody works in.
    """
    air = table_of("heating", "air")
    if not 0 <= wind_m_per_s <= air.number("wind_max"):
        raise OutsideValidity(
            f"Wind of {wind_m_per_s:g} m/s is outside 0 to {air.number('wind_max'):g}; check that "
            "it is in metres a second."
        )
    reynolds = wind_m_per_s * width_m / air.number("viscosity")
    if reynolds > LAMINAR_REYNOLDS:
        raise OutsideValidity(
            f"Wind of {wind_m_per_s:g} m/s over {width_m:g} m gives a Reynolds number of "
            f"{reynolds:.0f}; the flat-plate law holds up to {LAMINAR_REYNOLDS:.0f}. Shelter the "
            "work, or enter a lower wind."
        )
    nusselt: float = 0.664 * reynolds**0.5 * air.number("prandtl") ** (1 / 3)
    return nusselt * air.number("conductivity") / width_m


def radiation_coefficients(surface_degc: Floats, air_degc: float) -> Floats:
    """Radiation to surroundings at air temperature, as a coefficient over the air, W/(m2 K)."""
    hot, cold = surface_degc + KELVIN, air_degc + KELVIN
    emissivity = table_of("heating", "air").number("emissivity")
    return np.asarray(emissivity * STEFAN_BOLTZMANN * (hot**2 + cold**2) * (hot + cold))
