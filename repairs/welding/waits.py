"""How long each bead must wait: the one place where the casting's temperature is worked out.

Two closed forms are put together. The heat of all beads warms the piece as one lump that the air
cools (lumped capacitance, valid while Bi < 0.1, which is checked). On top stands what each bead
still holds close by: an instantaneous line source on a thick body, q / (2 pi k t) exp(-r2 / 4 a t),
as far as it exceeds the bead's share in the lump, which is where the thick body stops being one.
A transient model of the casting can take this module's place without a change elsewhere: it too
turns beads and a day into waits.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import exp, log, pi

from repairs.welding.beads import Layer
from repairs.welding.refusals import OutsideValidity
from repairs.welding.rows_toml import table_of
from turnouts.analysis.terms import ComponentKind, Steel


@dataclass(frozen=True, slots=True)
class HeatedBody:
    """A piece of steel that warms as one: heat in J/K, loss to the air in W/K."""

    heat_j_per_k: float
    loss_w_per_k: float
    conductivity_w_per_m_k: float
    diffusivity_m2_per_s: float

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


@dataclass(frozen=True, slots=True)
class LayerHeat:
    """Waiting in one layer, and the hottest the measuring place is as a bead could start."""

    wait_min: float
    hottest_degc: float


@dataclass(frozen=True, slots=True)
class Arc:
    """The heat of the arc: power into the steel in W, travel in mm/min."""

    power_w: float
    travel_mm_per_min: float

    @property
    def line_j_per_m(self) -> float:
        """Heat left in each metre of bead."""
        return self.power_w / (self.travel_mm_per_min / 1e3 / 60)


@dataclass(frozen=True, slots=True)
class Limit:
    """The ceiling before the next bead, and how far from the weld it is measured."""

    degc: float
    place_mm: float


def line_source_rise(
    line_j_per_m: float, distance_m: float, seconds: float, body: HeatedBody
) -> float:
    """Rise in K of a thick body, some seconds after an instantaneous line of heat on its surface.

    Q / (2 pi k t) exp(-r2 / (4 a t)) (Rykalin; Carslaw and Jaeger for the whole body, half of it
    here). Its peak at r2 / 4a is 2 Q / (pi e rho c r2). Valid until the heat reaches a far side.
    """
    spreading = exp(-(distance_m**2) / (4 * body.diffusivity_m2_per_s * seconds))
    return line_j_per_m / (2 * pi * body.conductivity_w_per_m_k * seconds) * spreading


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
    heat_j_per_m3_k = metal.number("density_kg_per_m3") * metal.number("heat_j_per_kg_k")
    return HeatedBody(
        heat_j_per_k=volume_m3 * heat_j_per_m3_k,
        loss_w_per_k=loss_w_per_m2_k * surface_m2,
        conductivity_w_per_m_k=conductivity,
        diffusivity_m2_per_s=conductivity / heat_j_per_m3_k,
    )


def layer_waits(
    body: HeatedBody,
    layers: Sequence[Layer],
    *,
    handling_min: Sequence[float],
    arc: Arc,
    start_degc: float,
    limit: Limit,
    air_degc: float,
) -> tuple[LayerHeat, ...]:
    """Waits in each layer so that no bead starts with the measuring place above the limit.

    ``handling_min`` is the time after each bead of a layer that is spent anyway and cools too.
    Raises OutsideValidity when the air is not colder than the limit.
    """
    if air_degc >= limit.degc:
        raise OutsideValidity(
            f"At {air_degc:g} degC air the steel never cools to {limit.degc:g} degC; work in a "
            "cooler hour or by another procedure."
        )
    place = MeasuringPlace(body, arc, limit, air_degc, lump_degc=start_degc)
    heats: list[LayerHeat] = []
    for layer, handling in zip(layers, handling_min, strict=True):
        waited, hottest = 0.0, place.degc_after(0)
        for _ in range(layer.beads):
            hottest = max(hottest, place.degc_after(0))
            waited += place.wait()
            place.lay_bead(layer.bead_arc_min, layer.bead_length_mm)
            place.rest(handling)
        heats.append(LayerHeat(waited, hottest))
    return tuple(heats)


# Half a second, far finer than any wait is known.
WAIT_EXACT_MIN = 0.01


@dataclass(slots=True)
class MeasuringPlace:
    """The temperature where the interpass limit is measured, as beads are laid one by one."""

    body: HeatedBody
    arc: Arc
    limit: Limit
    air_degc: float
    lump_degc: float
    # Of each bead that still stands out: minutes since it was laid, and its share in the lump.
    fresh: list[tuple[float, float]] = field(default_factory=list)

    def degc_after(self, minutes: float) -> float:
        """Temperature there after some more minutes without arc."""
        lump = self.body.after(self.lump_degc, minutes, self.air_degc, 0)
        return lump + sum(self._stands_out(age + minutes, share) for age, share in self.fresh)

    def wait(self) -> float:
        """Pass the minutes until the next bead may start, and return them.

        The temperature only falls while waiting, so the moment is found by halving.
        """
        if self.degc_after(0) <= self.limit.degc:
            return 0.0
        low, high = 0.0, 1.0
        while self.degc_after(high) > self.limit.degc:
            low, high = high, 2 * high
        while high - low > WAIT_EXACT_MIN:
            middle = (low + high) / 2
            if self.degc_after(middle) > self.limit.degc:
                low = middle
            else:
                high = middle
        self.rest(high)
        return high

    def lay_bead(self, arc_min: float, length_mm: float) -> None:
        """Heat the lump by one bead and begin its line of heat."""
        self._age(arc_min)
        self.lump_degc = self.body.after(self.lump_degc, arc_min, self.air_degc, self.arc.power_w)
        share = self.arc.line_j_per_m * length_mm / 1e3 / self.body.heat_j_per_k
        self.fresh.append((0.0, share))

    def rest(self, minutes: float) -> None:
        """Let some minutes pass without arc."""
        self._age(minutes)
        self.lump_degc = self.body.after(self.lump_degc, minutes, self.air_degc, 0)

    def _age(self, minutes: float) -> None:
        older = [(age + minutes, share) for age, share in self.fresh]
        self.fresh = [bead for bead in older if self._stands_out(*bead) > 0]

    def _stands_out(self, age_min: float, share_k: float) -> float:
        """Rise from one bead over its share in the lump; its peak counts until that has passed."""
        distance_m = self.limit.place_mm / 1e3
        peak_s = distance_m**2 / (4 * self.body.diffusivity_m2_per_s)
        seconds = max(age_min * 60, peak_s, 1.0)
        rise = line_source_rise(self.arc.line_j_per_m, distance_m, seconds, self.body)
        return max(0.0, rise - share_k)
