"""The way in: a repair, a procedure and a day give an estimate."""

from collections.abc import Sequence
from dataclasses import replace

from repairs.welding.consumables import Material, weld_materials
from repairs.welding.deposit import efficiency_with_stub, filler_kg, heat_input_kj_per_mm
from repairs.welding.figures import ROAD_NOT_COUNTED, loads, row_assumptions, times
from repairs.welding.grinding import estimate_grinding
from repairs.welding.heat.run_result import HeatRun
from repairs.welding.heat.t85 import cooling_advice
from repairs.welding.learning import NO_EXPERIENCE, Experience
from repairs.welding.preheat import COMPARED_THICKNESS_MM, preheat_advice
from repairs.welding.procedures import Procedure
from repairs.welding.refusals import NoProcedure
from repairs.welding.result import Estimate, LayerEstimate, ZoneEstimate
from repairs.welding.rows_toml import sources
from repairs.welding.safety import Caution, weld_cautions
from repairs.welding.settings import Settings
from repairs.welding.stages import (
    ENGINE_LOADED_KINDS,
    TORCH_KINDS,
    closing_stages,
    minutes_in,
    opening_stages,
    penetrant_stages,
    zone_stages,
)
from repairs.welding.steps import order_caution, weld_hold_points, weld_steps
from repairs.welding.timeline import Stage
from repairs.welding.waits import forecast_heat, heat_assumptions, layer_heats
from repairs.welding.work import Conditions, RepairWork, check_conditions, check_work
from repairs.welding.zoneplan import ZonePlan, plan_zones
from turnouts.analysis.terms import Steel

__all__ = ["deposit_efficiency", "estimate", "estimate_grinding"]

ROW_FILES = ("stages", "heating", "metals", "zones", "materials")
NOT_COUNTED = (
    ROAD_NOT_COUNTED,
    "Cooling is a forecast from heat flow in a simple shape; the measured temperature, not the "
    "forecast, says when the next bead may start.",
    "A closed side of a cavity is sloped, an open side stands square to the edge of the casting.",
)


def estimate(
    work: RepairWork,
    procedure: Procedure,
    conditions: Conditions,
    seed: int,
    known: Experience = NO_EXPERIENCE,
) -> Estimate:
    """What a weld repair takes, as ``known`` from records of work done moves its stage times.

    The same inputs and seed always give the same answer.

    Raises a WeldingRefusal with a sentence when the work, the procedure or the day does not allow
    an estimate: NoProcedure, CavityRefusal or OutsideValidity.
    """
    check_work(work)
    check_conditions(conditions)
    _check_procedure(work, procedure)
    conditions = with_lance(conditions, known)
    plans = plan_zones(work, procedure)
    heat = forecast_heat(work, plans, procedure, conditions)
    stages = _weld_stages(plans, heat, procedure, conditions)
    settings = procedure.settings
    deposit_kg = sum(plan.beads.deposit_kg for plan in plans)
    return Estimate(
        procedure_id=procedure.id,
        procedure_since=procedure.start,
        zones=tuple(_zone_estimate(plan, heat) for plan in plans),
        cavity_mm3=sum(plan.cavity.volume_mm3 for plan in plans),
        deposit_kg=deposit_kg,
        filler_kg=filler_kg(deposit_kg, deposit_efficiency(settings)),
        arc_min=sum(plan.beads.arc_min for plan in plans),
        beads=sum(plan.beads.beads for plan in plans),
        layers=sum(len(plan.beads.layers) for plan in plans),
        wait_min=sum(stage.wait_min for stage in stages),
        heat_input_kj_per_mm=_heat_input(settings),
        cautions=weld_cautions(procedure, work.steel, conditions) + _order_cautions(work),
        hold_points=weld_hold_points(work, procedure),
        steps=weld_steps(plans, procedure, conditions),
        assumptions=_weld_assumptions(work, procedure),
        heat=heat,
        **loads(_weld_materials(plans, procedure, stages, conditions)),
        **times(stages, conditions, seed, known),
    )


def with_lance(conditions: Conditions, known: Experience) -> Conditions:
    """The day with the cooling under the lance that records taught, unless one was asked for."""
    if conditions.quench_w_per_m2_k is not None:
        return conditions
    return replace(conditions, quench_w_per_m2_k=known.lance_w_per_m2_k)


def deposit_efficiency(settings: Settings) -> float:
    """Share of the filler that ends as weld metal, the stubs of sticks thrown away."""
    if settings.rod_length_mm is None or settings.stub_mm is None:
        return settings.deposit_efficiency
    return efficiency_with_stub(
        settings.deposit_efficiency, settings.rod_length_mm, settings.stub_mm
    )


def _check_procedure(work: RepairWork, procedure: Procedure) -> None:
    if work.steel not in procedure.steels or work.component not in procedure.components:
        raise NoProcedure(
            f"{procedure.title} does not cover a {work.component.label.lower()} of "
            f"{work.steel.label.lower()} steel; choose a procedure that does."
        )


def _weld_stages(
    plans: Sequence[ZonePlan], heat: HeatRun, procedure: Procedure, conditions: Conditions
) -> tuple[Stage, ...]:
    """All stages in order. Zones are done one by one, so one cavity at most is ever open."""
    stages = [*opening_stages(len(plans))]
    for plan in plans:
        stages += zone_stages(plan, layer_heats(heat, plan), procedure, conditions)
    return (*stages, *penetrant_stages(procedure, conditions), *closing_stages(len(plans)))


def _zone_estimate(plan: ZonePlan, heat: HeatRun) -> ZoneEstimate:
    cavity, beads = plan.cavity, plan.beads
    return ZoneEstimate(
        key=plan.key,
        zone=plan.work.zone,
        floor_length_mm=cavity.floor_length_mm,
        floor_width_mm=cavity.floor_width_mm,
        depth_mm=cavity.depth_mm,
        top_length_mm=cavity.length_at(cavity.depth_mm),
        top_width_mm=cavity.width_at(cavity.depth_mm),
        volume_mm3=cavity.volume_mm3,
        gouged_kg=plan.gouged_kg,
        deposit_kg=beads.deposit_kg,
        over_fill_kg=plan.over_fill_kg,
        beads=beads.beads,
        layers=_layer_estimates(plan, heat),
    )


def _layer_estimates(plan: ZonePlan, run: HeatRun) -> tuple[LayerEstimate, ...]:
    return tuple(
        LayerEstimate(
            number=layer.number,
            kind=layer.kind,
            beads=layer.beads,
            bead_length_mm=layer.bead_length_mm,
            first_direction=next(layer.directions()),
            deposit_kg=layer.deposit_kg,
            arc_min=layer.arc_min,
            wait_min=heat.wait_min,
            hottest_degc=heat.hottest_degc,
        )
        for layer, heat in zip(plan.beads.layers, layer_heats(run, plan), strict=True)
    )


def _weld_materials(
    plans: Sequence[ZonePlan],
    procedure: Procedure,
    stages: Sequence[Stage],
    conditions: Conditions,
) -> tuple[Material, ...]:
    return weld_materials(
        plans,
        procedure,
        deposit_efficiency(procedure.settings),
        work_h=sum(stage.fixed_min + stage.work_min + stage.wait_min for stage in stages) / 60,
        loaded_h=minutes_in(stages, ENGINE_LOADED_KINDS) / 60,
        torch_min=minutes_in(stages, TORCH_KINDS),
        run_out_chance=conditions.run_out_chance,
    )


def _order_cautions(work: RepairWork) -> tuple[Caution, ...]:
    text = order_caution(work)
    if text is None:
        return ()
    return (Caution(text, "49 CFR 213.141(b)", sources()["cfr-213-141"].title),)


def _interpass_disagreement(procedure: Procedure) -> tuple[str, ...]:
    """What other sources give as the interpass ceiling, beside the one that is kept to."""
    return tuple(
        f"Interpass ceiling, {'kept to here' if rule == procedure.interpass else 'not used'}: "
        f"{rule.limit_degc:g} degC at {rule.place_mm:g} mm from the weld ({rule.mark}). {rule.note}"
        for rule in procedure.interpass_rules
    )


def _cooling_time(work: RepairWork, procedure: Procedure) -> tuple[str, ...]:
    """The time from 800 to 500 degC beside the preheat; manganese steel has none."""
    if work.steel is Steel.MANGANESE:
        return ()
    heat = _heat_input(procedure.settings)
    low = procedure.settings.preheat_min_degc
    return (cooling_advice(work.steel, heat, COMPARED_THICKNESS_MM, low),)


def _heat_input(settings: Settings) -> float:
    return heat_input_kj_per_mm(
        settings.arc_efficiency, settings.voltage_v, settings.current_a, settings.travel_mm_per_min
    )


def _weld_assumptions(work: RepairWork, procedure: Procedure) -> tuple[str, ...]:
    return (
        *NOT_COUNTED,
        *heat_assumptions(work.steel),
        *preheat_advice(work.steel, procedure.settings.preheat_min_degc),
        *_cooling_time(work, procedure),
        *_interpass_disagreement(procedure),
        *procedure.assumptions(),
        *(said for name in ROW_FILES for said in row_assumptions(name)),
    )
