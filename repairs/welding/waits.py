"""How long each bead must wait: the one place where the casting's temperature is worked out.

The piece being welded is taken as one lump that the arc heats and the air cools (lumped
capacitance, valid while Bi < 0.1, which is checked). A transient model of the casting can take
this module's place without a change elsewhere: it too turns beads and a day into waits.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log

from repairs.welding.beads import Layer
from repairs.welding.refusals import OutsideValidity
from repairs.welding.rows_toml import table_of
from turnouts.analysis.terms import ComponentKind, Steel


@dataclass(frozen=True, slots=True)
class HeatedBody:
    """A piece of steel of one temperature: heat in J/K, loss to the air in W/K."""

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

    def minutes_to_cool(self, start_degc: float, end_degc: float, air_degc: float) -> float:
        """Minutes to fall to a temperature; 0 when already there.

        Raises OutsideValidity when the air is not colder than that temperature.
        """
        if start_degc <= end_degc:
            return 0.0
        if end_degc <= air_degc:
            raise OutsideValidity(
                f"At {air_degc:g} degC air the steel never cools to {end_degc:g} degC; work in a "
                "cooler hour or by another procedure."
            )
        return self.time_constant_min * log((start_degc - air_degc) / (end_degc - air_degc))

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


@dataclass(frozen=True, slots=True)
class LayerHeat:
    """Waiting in one layer, and the hottest the lump becomes in it."""

    wait_min: float
    hottest_degc: float


def metal_key(steel: Steel) -> str:
    """The family a steel belongs to in metals.toml."""
    return "manganese" if steel is Steel.MANGANESE else "carbon"


def heated_body(
    component: ComponentKind, steel: Steel, zone_length_mm: float, cooling: str
) -> HeatedBody:
    """The lump that warms while one zone is welded.

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
    mass_kg = volume_m3 * metal.number("density_kg_per_m3")
    return HeatedBody(mass_kg * metal.number("heat_j_per_kg_k"), loss_w_per_m2_k * surface_m2)


def layer_waits(
    body: HeatedBody,
    layers: Sequence[Layer],
    *,
    handling_min: Sequence[float],
    arc_w: float,
    start_degc: float,
    limit_degc: float,
    air_degc: float,
) -> tuple[LayerHeat, ...]:
    """Waits in each layer so that no bead starts above the interpass limit.

    ``handling_min`` is the time between beads in each layer that is spent anyway and cools too.
    ``arc_w`` is the arc's power that enters the steel. Raises OutsideValidity when the air is not
    colder than the limit.
    """
    heats: list[LayerHeat] = []
    temperature = start_degc
    for layer, handling in zip(layers, handling_min, strict=True):
        waited, hottest = 0.0, temperature
        for _ in range(layer.beads):
            wait = body.minutes_to_cool(temperature, limit_degc, air_degc)
            waited += wait
            temperature = min(temperature, limit_degc)
            temperature = body.after(temperature, layer.bead_arc_min, air_degc, arc_w)
            hottest = max(hottest, temperature)
            temperature = body.after(temperature, handling, air_degc, 0)
        heats.append(LayerHeat(waited, hottest))
    return tuple(heats)
