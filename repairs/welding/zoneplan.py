"""One zone worked out: cavity, beads and what is taken off it."""

from dataclasses import dataclass
from math import ceil, pi

from repairs.welding.beads import BeadPlan, Layer, plan_beads
from repairs.welding.cavity import Cavity, cavity_for
from repairs.welding.deposit import mass_kg
from repairs.welding.lump import HeatedBody, heated_body, metal_key
from repairs.welding.procedures import Procedure
from repairs.welding.refusals import CavityRefusal
from repairs.welding.rows_toml import table_of
from repairs.welding.settings import Settings
from repairs.welding.work import RepairWork, ZoneWork
from turnouts.analysis.terms import FrogDesign, Steel, Zone


@dataclass(frozen=True, slots=True)
class LayerHeat:
    """Waiting in one layer, and the hottest the measuring place is as a bead could start."""

    wait_min: float
    hottest_degc: float


@dataclass(frozen=True, slots=True)
class ZonePlan:
    """One zone: what is gouged, what is laid, what is ground off."""

    key: str
    work: ZoneWork
    cavity: Cavity
    beads: BeadPlan
    blocks: int
    gouged_kg: float
    residue_kg: float
    over_fill_kg: float
    body: HeatedBody
    between_beads_min: tuple[float, ...]

    @property
    def label(self) -> str:
        """The zone in words."""
        return self.work.zone.label.lower()


def density_of(steel: Steel) -> float:
    """Density in kg/m3 of a steel and of the filler that matches it."""
    return table_of("metals", metal_key(steel)).number("density_kg_per_m3")


def ordered_zones(work: RepairWork) -> tuple[ZoneWork, ...]:
    """Zones in the order they are welded.

    On a self-guarded frog the guarding face comes before the point (49 CFR 213.141(b)); all else
    keeps the order it was given in.
    """
    if work.design is not FrogDesign.SELF_GUARDED_MANGANESE:
        return work.zones
    return tuple(sorted(work.zones, key=lambda zone: zone.zone is not Zone.GUARD_FACE))


def plan_zones(work: RepairWork, procedure: Procedure) -> tuple[ZonePlan, ...]:
    """Every zone worked out, in the order of welding; raises what ``plan_zone`` raises."""
    zones = enumerate(ordered_zones(work), start=1)
    return tuple(plan_zone(number, zone, work, procedure) for number, zone in zones)


def plan_zone(number: int, zone: ZoneWork, work: RepairWork, procedure: Procedure) -> ZonePlan:
    """Work one zone out; raises CavityRefusal where it must not or cannot be welded."""
    settings, density = procedure.settings, density_of(work.steel)
    open_sides = open_sides_of(zone.zone)
    cavity = cavity_for(zone, settings, closed_sides=2 - open_sides)
    beads = plan_beads(cavity, settings, density)
    length_mm = cavity.length_at(cavity.depth_mm)
    return ZonePlan(
        key=f"{number}-{zone.zone}",
        work=zone,
        cavity=cavity,
        beads=beads,
        blocks=open_sides
        * ceil(length_mm / table_of("materials", "dam_blocks").number("reach_mm")),
        gouged_kg=mass_kg(cavity.gouged_mm3, density),
        residue_kg=mass_kg(cavity.surface_mm2 * settings.residue_grind_mm, density),
        over_fill_kg=mass_kg(beads.over_fill_mm3, density),
        body=heated_body(work.component, work.steel, length_mm),
        between_beads_min=tuple(
            between_beads_min(layer, settings, density) for layer in beads.layers
        ),
    )


def open_sides_of(zone: Zone) -> int:
    """Sides of a patch open to a flangeway or edge; raises CavityRefusal where none is welded."""
    refused = table_of("zones", "refused")
    if zone in refused:
        raise CavityRefusal(refused[zone].text)
    return int(table_of("zones", "open_sides").number(zone))


def between_beads_min(layer: Layer, settings: Settings, density_kg_per_m3: float) -> float:
    """Minutes of cleaning, peening and changing rods that go with one bead of a layer."""
    rows = table_of("stages", "layer")
    peening_min = layer.bead_length_mm / 1e3 / rows.number("peening_m_per_min")
    rods = layer.deposit_kg / layer.beads * rods_per_kg(settings, density_kg_per_m3)
    return rows.number("per_bead_min") + peening_min + rods * rows.number("per_rod_min")


def rods_per_kg(settings: Settings, density_kg_per_m3: float) -> float:
    """Stick electrodes for a kilogram of deposit, by the core wire melted; 0 for a spooled wire."""
    if settings.rod_length_mm is None or settings.stub_mm is None:
        return 0.0
    core_mm2 = pi / 4 * settings.filler_diameter_mm**2
    return 1 / mass_kg(core_mm2 * (settings.rod_length_mm - settings.stub_mm), density_kg_per_m3)
