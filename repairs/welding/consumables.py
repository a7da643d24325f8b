"""What to load: the quantity a job should use, and a load-out that seldom runs out."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, exp
from statistics import NormalDist

from repairs.welding.deposit import filler_kg
from repairs.welding.procedures import Procedure
from repairs.welding.refusals import OutsideValidity
from repairs.welding.rows_toml import table_of
from repairs.welding.zoneplan import ZonePlan


@dataclass(frozen=True, slots=True)
class Material:
    """One thing on the truck: median use, and what to load in whole packs."""

    key: str
    name: str
    quantity: float
    unit: str
    load_out: float
    pack: float
    mass_kg: float


def load_out(quantity: float, sigma: float, pack: float, run_out_chance: float) -> float:
    """Whole packs that are too few with at most the given chance.

    Use is log-normal with median ``quantity``: the (1 - chance) quantile is
    quantity exp(z sigma). Raises OutsideValidity unless 0 < chance < 1 and pack > 0.
    """
    if not 0 < run_out_chance < 1:
        raise OutsideValidity(f"A chance of {run_out_chance:g} to run out is not between 0 and 1.")
    if pack <= 0:
        raise OutsideValidity(f"A pack of {pack:g} is not possible; correct the row.")
    wanted = quantity * exp(NormalDist().inv_cdf(1 - run_out_chance) * sigma)
    return ceil(wanted / pack - 1e-9) * pack


def material(
    key: str,
    name: str,
    quantity: float,
    run_out_chance: float,
    *,
    kg_per_unit: float | None = None,
) -> Material:
    """One material by its row in materials.toml; the unit is the pack's."""
    rows = table_of("materials", key)
    sigma = rows.number("sigma") if "sigma" in rows else 0.0
    pack = rows["pack"]
    loaded = load_out(quantity, sigma, pack.number, run_out_chance)
    unit_kg = rows.number("unit_kg") if kg_per_unit is None else kg_per_unit
    return Material(key, name, quantity, pack.unit, loaded, pack.number, loaded * unit_kg)


def weld_materials(
    zones: Sequence[ZonePlan],
    procedure: Procedure,
    efficiency: float,
    *,
    work_h: float,
    loaded_h: float,
    torch_min: float,
    run_out_chance: float,
) -> tuple[Material, ...]:
    """Everything a weld repair uses up or needs at hand."""
    return tuple(
        _weld_materials(zones, procedure, efficiency, work_h, loaded_h, torch_min, run_out_chance)
    )


def _weld_materials(
    zones: Sequence[ZonePlan],
    procedure: Procedure,
    efficiency: float,
    work_h: float,
    loaded_h: float,
    torch_min: float,
    chance: float,
) -> Iterator[Material]:
    settings = procedure.settings
    burnt_kg = sum(filler_kg(zone.beads.deposit_kg, efficiency) for zone in zones)
    yield material(
        procedure.id,  # stock keeps each procedure's filler apart: one steel's never fills another
        f"{settings.filler}, {settings.filler_diameter_mm:g} mm",
        burnt_kg,
        chance,
        kg_per_unit=1.0,
    )
    yield _by_weight("carbons", "Gouging carbons", sum(z.gouged_kg for z in zones), chance)
    yield _by_weight(
        "cavity_wheels", "Grinding wheels, one inch", sum(z.residue_kg for z in zones), chance
    )
    yield _by_weight("profile_stones", "Cup stones", sum(z.over_fill_kg for z in zones), chance)
    if blocks := max(zone.blocks for zone in zones):
        yield material("dam_blocks", "Dam blocks", blocks, chance)
    yield penetrant_set(sum(z.cavity.area_at(z.cavity.depth_mm) for z in zones), chance)
    if torch_min > 0:
        yield material("propane", "Propane", _propane_kg(torch_min), chance, kg_per_unit=1.0)
    if settings.after_weld == "slow_cool":
        yield material("blanket", "Insulating blanket", len(zones), chance)
    yield material("temperature_sticks", "Temperature sticks or contact thermometer", 1, chance)
    yield fuel(work_h, loaded_h, chance)


def grinding_materials(
    ground_kg: float,
    area_mm2: float,
    *,
    work_h: float,
    loaded_h: float,
    run_out_chance: float,
) -> tuple[Material, ...]:
    """Stones, penetrant for a doubtful spot, and fuel for grinding without welding."""
    return (
        _by_weight("profile_stones", "Cup stones", ground_kg, run_out_chance),
        penetrant_set(area_mm2, run_out_chance),
        fuel(work_h, loaded_h, run_out_chance),
    )


def penetrant_set(area_mm2: float, chance: float) -> Material:
    """Cleaner, penetrant and developer for a surface."""
    each = table_of("materials", "penetrant_set").number("mm2_each")
    return material("penetrant_set", "Penetrant set", area_mm2 / each, chance)


def fuel(work_h: float, loaded_h: float, chance: float) -> Material:
    """Diesel for the welder and hydraulic unit, idling and under load."""
    rows = table_of("materials", "fuel")
    idle_h = max(0.0, work_h - loaded_h)
    litres = rows.number("idle_l_per_h") * idle_h + rows.number("work_l_per_h") * loaded_h
    density = rows.number("density_kg_per_l")
    return material("fuel", "Diesel fuel", litres, chance, kg_per_unit=density)


def _by_weight(key: str, name: str, removed_kg: float, chance: float) -> Material:
    """Carbons, wheels and stones, by the steel each takes off."""
    each_kg = table_of("materials", key).number("kg_removed_each")
    return material(key, name, removed_kg / each_kg, chance)


def _propane_kg(torch_min: float) -> float:
    """Gas burnt for the torch minutes at the burner's heat and efficiency."""
    rows = table_of("heating", "cooling")
    into_steel_mj = rows.number("burner_kw") / 1e3 * torch_min * 60
    burnt_mj = into_steel_mj / rows.number("burner_efficiency")
    return burnt_mj / table_of("heating", "gas").number("propane_mj_per_kg")
