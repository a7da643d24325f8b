"""Repair by grinding alone: metal flow, lips and shallow batter, with no metal laid."""

from collections.abc import Sequence

from repairs.welding.cavity import check_extents
from repairs.welding.consumables import grinding_materials
from repairs.welding.deposit import mass_kg
from repairs.welding.figures import ROAD_NOT_COUNTED, loads, row_assumptions, times
from repairs.welding.learning import NO_EXPERIENCE, Experience
from repairs.welding.refusals import CavityRefusal
from repairs.welding.result import Estimate, ZoneEstimate
from repairs.welding.rows_toml import in_force_since, table_of
from repairs.welding.safety import grinding_cautions
from repairs.welding.stages import (
    ENGINE_LOADED_KINDS,
    closing_stages,
    minutes_in,
    opening_stages,
    plain_stage,
    profile_stage,
)
from repairs.welding.steps import GRINDING_HOLD_POINTS, grinding_steps
from repairs.welding.timeline import HandBack, Stage
from repairs.welding.work import Conditions, RepairWork, ZoneWork, check_conditions, check_work
from repairs.welding.zoneplan import density_of


def estimate_grinding(
    work: RepairWork, conditions: Conditions, seed: int, known: Experience = NO_EXPERIENCE
) -> Estimate:
    """What a repair by grinding alone takes. The same inputs and seed give the same answer.

    Depths are the metal to take off; CavityRefusal where that is more than grinding may take.
    """
    check_work(work)
    check_conditions(conditions)
    density = density_of(work.steel)
    zones = tuple(
        _ground_zone(number, zone, density) for number, zone in enumerate(work.zones, start=1)
    )
    stages = _stages(zones)
    materials = grinding_materials(
        sum(zone.over_fill_kg for zone in zones),
        sum(zone.length_mm * zone.width_mm for zone in work.zones),
        work_h=sum(stage.work_min for stage in stages) / 60,
        loaded_h=minutes_in(stages, ENGINE_LOADED_KINDS) / 60,
        run_out_chance=conditions.run_out_chance,
    )
    return Estimate(
        procedure_id="grinding",
        procedure_since=in_force_since("stages"),
        zones=zones,
        cavity_mm3=0.0,
        deposit_kg=0.0,
        filler_kg=0.0,
        arc_min=0.0,
        beads=0,
        layers=0,
        wait_min=0.0,
        heat_input_kj_per_mm=None,
        cautions=grinding_cautions(work.steel),
        hold_points=GRINDING_HOLD_POINTS,
        steps=grinding_steps(work),
        assumptions=(
            ROAD_NOT_COUNTED,
            *row_assumptions("stages"),
            *row_assumptions("materials"),
        ),
        **loads(materials),
        **times(stages, conditions, seed, known),
    )


def _ground_zone(number: int, zone: ZoneWork, density_kg_per_m3: float) -> ZoneEstimate:
    """A block of the zone's length, width and depth: more than is ground, never less."""
    check_extents(zone)
    most_mm = table_of("stages", "grinding_only").number("depth_max_mm")
    if zone.depth_mm > most_mm:
        raise CavityRefusal(
            f"{zone.zone.label}: {zone.depth_mm:g} mm is more than the {most_mm:g} mm grinding "
            "alone may take off; repair it by welding or ask the engineer."
        )
    volume_mm3 = zone.length_mm * zone.width_mm * zone.depth_mm
    return ZoneEstimate(
        key=f"{number}-{zone.zone}",
        zone=zone.zone,
        floor_length_mm=zone.length_mm,
        floor_width_mm=zone.width_mm,
        depth_mm=zone.depth_mm,
        top_length_mm=zone.length_mm,
        top_width_mm=zone.width_mm,
        volume_mm3=volume_mm3,
        gouged_kg=0.0,
        deposit_kg=0.0,
        over_fill_kg=mass_kg(volume_mm3, density_kg_per_m3),
        beads=0,
        layers=(),
    )


def _stages(zones: Sequence[ZoneEstimate]) -> tuple[Stage, ...]:
    """Grinding takes off, never opens a cavity: after each zone the track is whole."""
    stages = [*opening_stages(len(zones))]
    per_min = table_of("stages", "rough_grinding").number("rate_kg_per_h") / 60
    for zone in zones:
        label = zone.zone.label.lower()
        stages.append(
            plain_stage(
                "rough_grinding",
                f"Rough grinding: {label}",
                extra_min=zone.over_fill_kg / per_min,
                prefix=f"{zone.key}.",
                hand_back=HandBack.CLOSED,
            )
        )
        stages.append(profile_stage(zone.key, label, zone.top_length_mm))
    return (*stages, *closing_stages(len(zones)))
