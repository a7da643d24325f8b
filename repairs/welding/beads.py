"""The bead plan: layers from the floor up, stringer beads in alternating directions.

A bead's cross-section follows from deposit rate and travel speed. Each layer's beads together hold
exactly that layer's metal, so the deposit is exactly cavity plus over-fill.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import ceil

from repairs.welding.cavity import Cavity
from repairs.welding.deposit import mass_kg
from repairs.welding.refusals import OutsideValidity
from repairs.welding.settings import Settings

# A layer this small a share of the next is rounding, not metal: without it 9.6 mm in layers of
# 3.2 mm would come out as four.
ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of equal beads. Beads alternate: odd ones toe to heel, even ones heel to toe.

    ``low_mm`` and ``high_mm`` are its bottom and top over the cavity's floor.
    """

    number: int
    kind: str
    low_mm: float
    high_mm: float
    bead_length_mm: float
    beads: int
    volume_mm3: float
    deposit_kg: float
    arc_min: float

    @property
    def bead_arc_min(self) -> float:
        """Minutes of arc for one bead."""
        return self.arc_min / self.beads

    def directions(self) -> Iterator[str]:
        """Direction of each bead in turn; layers start from opposite ends."""
        ways = ("toe to heel", "heel to toe")
        for bead in range(self.beads):
            yield ways[(bead + self.number - 1) % 2]


@dataclass(frozen=True, slots=True)
class BeadPlan:
    """All layers for one cavity, floor first."""

    layers: tuple[Layer, ...]
    over_fill_mm3: float

    @property
    def beads(self) -> int:
        """Number of beads."""
        return sum(layer.beads for layer in self.layers)

    @property
    def volume_mm3(self) -> float:
        """Weld metal laid, over-fill included."""
        return sum(layer.volume_mm3 for layer in self.layers)

    @property
    def deposit_kg(self) -> float:
        """Weld metal laid, over-fill included."""
        return sum(layer.deposit_kg for layer in self.layers)

    @property
    def arc_min(self) -> float:
        """Minutes the arc burns."""
        return sum(layer.arc_min for layer in self.layers)


def bead_area_mm2(settings: Settings, density_kg_per_m3: float) -> float:
    """Cross-section of a bead in mm2: deposit rate over density and travel speed."""
    mm3_per_min = settings.deposit_rate_kg_per_h / 60 / density_kg_per_m3 * 1e9
    return mm3_per_min / settings.travel_mm_per_min


def plan_beads(cavity: Cavity, settings: Settings, density_kg_per_m3: float) -> BeadPlan:
    """Layers and beads that fill a cavity and stand proud by the over-fill."""
    slices = _slices(cavity, settings)
    kinds = _kinds(len(slices), settings.top_layers)
    area_mm2 = bead_area_mm2(settings, density_kg_per_m3)
    _check_width(area_mm2, settings)
    layers: list[Layer] = []
    carried_mm3 = 0.0
    for number, ((low, high), kind) in enumerate(zip(slices, kinds, strict=True), start=1):
        whole_mm3 = cavity.volume_between(low, high) + carried_mm3
        length_mm = cavity.length_at((low + high) / 2)
        set_back_mm = min(settings.top_layer_set_back_mm, length_mm / 6) if kind == "short" else 0
        # The ends a short layer leaves open are filled by the long layer over it.
        carried_mm3 = whole_mm3 * 2 * set_back_mm / length_mm
        layers.append(
            Layer(
                number=number,
                kind=kind,
                low_mm=low,
                high_mm=high,
                bead_length_mm=length_mm - 2 * set_back_mm,
                beads=0,
                volume_mm3=whole_mm3 - carried_mm3,
                deposit_kg=mass_kg(whole_mm3 - carried_mm3, density_kg_per_m3),
                arc_min=(whole_mm3 - carried_mm3) / (area_mm2 * settings.travel_mm_per_min),
            )
        )
    over_fill_mm3 = cavity.volume_between(cavity.depth_mm, cavity.depth_mm + settings.over_fill_mm)
    return BeadPlan(tuple(_with_beads(layer, area_mm2) for layer in layers), over_fill_mm3)


def _check_width(area_mm2: float, settings: Settings) -> None:
    width_mm = area_mm2 / settings.layer_height_mm
    if width_mm > settings.bead_width_max_mm:
        raise OutsideValidity(
            f"These settings lay a bead {width_mm:.1f} mm wide, more than the "
            f"{settings.bead_width_max_mm:g} mm allowed; travel faster or lower the deposit rate."
        )


def _with_beads(layer: Layer, area_mm2: float) -> Layer:
    """Round up to whole beads; each is then a little lighter than the full cross-section."""
    beads = layer.volume_mm3 / (area_mm2 * layer.bead_length_mm)
    return replace(layer, beads=max(1, ceil(beads - ROUNDING)))


def _slices(cavity: Cavity, settings: Settings) -> list[tuple[float, float]]:
    """Heights between which each layer lies, full layers from the floor, the rest on top."""
    total_mm = cavity.depth_mm + settings.over_fill_mm
    height_mm = min(settings.layer_height_mm, total_mm / settings.layers_min)
    count = ceil(total_mm / height_mm - ROUNDING)
    return [(n * height_mm, min((n + 1) * height_mm, total_mm)) for n in range(count)]


def _kinds(count: int, top_layers: tuple[str, ...]) -> list[str]:
    """Fill layers below, the top pad's pattern above; too few layers for the pad are all long."""
    if count < len(top_layers):
        return ["long"] * count
    return ["fill"] * (count - len(top_layers)) + list(top_layers)
