"""A piece of steel under a torch: how long the preheat takes, by the lumped law.

A torch is moved over the piece until all of it is warm, so one temperature stands for it (lumped
capacitance, valid while Bi < 0.1, which is checked). What beads do is the matter of ``heat``.
"""

from dataclasses import dataclass
from math import exp, log

from repairs.welding.refusals import OutsideValidity
from repairs.welding.rows_toml import table_of
from turnouts.analysis.terms import ComponentKind, Steel


@dataclass(frozen=True, slots=True)
class HeatedBody:
    """A piece of steel that warms as one: heat in J/K, loss to the air in W/K."""

    heat_j_per_k: float
    loss_w_per_k: float

    @property
    def time_constant_min(self) -> float:
        """Minutes in which its excess over the air falls to 1/e."""
        return self.heat_j_per_k / self.loss_w_per_k / 60

    def after(self, start_degc: float, minutes: float, air_degc: float, power_w: float) -> float:
        """Temperature after some minutes under a steady power, by the exponential law."""
        settled_degc = air_degc + power_w / self.loss_w_per_k
        return settled_degc + (start_degc - settled_degc) * exp(-minutes / self.time_constant_min)

    def minutes_to_heat(
        self, start_degc: float, end_degc: float, air_degc: float, power_w: float
    ) -> float:
        """Minutes to reach a temperature under a steady power; 0 when already there.

        Raises OutsideValidity when the power cannot bring the steel that far.
        """
        if start_degc >= end_degc:
            return 0.0
        settled_degc = air_degc + power_w / self.loss_w_per_k
        if settled_degc <= end_degc:
            raise OutsideValidity(
                f"{power_w / 1000:g} kW at {air_degc:g} degC air cannot bring the steel to "
                f"{end_degc:g} degC; use a second torch and shelter the work from wind."
            )
        return self.time_constant_min * log((settled_degc - start_degc) / (settled_degc - end_degc))


def metal_key(steel: Steel) -> str:
    """The family a steel belongs to in metals.toml."""
    return "manganese" if steel is Steel.MANGANESE else "carbon"


def heated_body(
    component: ComponentKind, steel: Steel, zone_length_mm: float, cooling: str = "still_air"
) -> HeatedBody:
    """The lump a torch warms before one zone is welded, losing heat by a row of heating.toml.

    Raises OutsideValidity when its Biot number is not under 0.1: it then has no one temperature.
    """
    section = table_of("heating", "frog" if component is ComponentKind.FROG else "rail")
    rows, metal = table_of("heating", "cooling"), table_of("metals", metal_key(steel))
    length_m = (zone_length_mm + 2 * rows.number("reach_mm")) / 1e3
    volume_m3 = section.number("section_mm2") / 1e6 * length_m
    surface_m2 = section.number("perimeter_mm") / 1e3 * length_m
    loss_w_per_m2_k = rows.number(cooling)
    conductivity = metal.number("conductivity_w_per_m_k")
    biot = loss_w_per_m2_k * volume_m3 / surface_m2 / conductivity
    if biot >= rows.number("biot_limit"):
        raise OutsideValidity(
            f"Cooling of {loss_w_per_m2_k:g} W/m2K gives a Biot number of {biot:.2f}; the lumped "
            f"law holds under {rows.number('biot_limit'):g}. Lower the cooling row {cooling}."
        )
    heat_j_per_m3_k = metal.number("density_kg_per_m3") * metal.number("heat_j_per_kg_k")
    return HeatedBody(
        heat_j_per_k=volume_m3 * heat_j_per_m3_k, loss_w_per_k=loss_w_per_m2_k * surface_m2
    )
