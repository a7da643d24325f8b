"""How long each bead must wait: a job's zones put into the heat model, and its answer by layer."""

from collections.abc import Iterable, Iterator, Sequence

from repairs.welding.heat.job import HeatJob, Pass, Torch, ZoneHeat
from repairs.welding.heat.run import run_heat
from repairs.welding.heat.run_result import HeatRun
from repairs.welding.heat.steel import steel_curves
from repairs.welding.heat.surroundings import Surroundings
from repairs.welding.layout import Laid, laid_out, model_box, pitch_m
from repairs.welding.lump import metal_key
from repairs.welding.procedures import Procedure
from repairs.welding.rows_toml import table_of
from repairs.welding.stages import opening_stages, stages_after_welding, stages_before_welding
from repairs.welding.timeline import Stage
from repairs.welding.work import Conditions, RepairWork
from repairs.welding.zoneplan import LayerHeat, ZonePlan
from turnouts.analysis.terms import Steel

HEAT_ASSUMPTIONS = (
    "The casting is taken as a box of steel of the section and width given, its cavity as filled "
    "from the first bead; ribs and webs shed heat as a share more of the box's faces.",
    "Heat left from the zone before is counted; heat from gouging and grinding is not, nor the "
    "heat of melting, which is given back before the next bead.",
    "Between beads the air lance plays on all faces alike; ballast, plates and ties take no heat.",
)


def heat_assumptions(steel: Steel) -> tuple[str, ...]:
    """What the forecast of heat takes for granted, with how well the steel's properties stand."""
    shares = table_of("steel_curves", metal_key(steel))
    return (*HEAT_ASSUMPTIONS, *(row.assumption for row in shares.values() if row.assumption))


def heat_job(
    work: RepairWork,
    plans: Sequence[ZonePlan],
    procedure: Procedure,
    conditions: Conditions,
    *,
    by_turns: bool = False,
) -> HeatJob:
    """A repair as the heat model is asked it; nothing is run yet.

    Stages without arc count with their median minutes.
    """
    settings, interpass = procedure.settings, procedure.interpass
    laid = laid_out(plans, work.component, interpass.place_mm)
    model = table_of("heating", "model")
    return HeatJob(
        box=model_box(laid, work.component, interpass.place_mm),
        curves=steel_curves(metal_key(work.steel)),
        around=surroundings(conditions),
        quench_w_per_m2_k=quench_w_per_m2_k(procedure, conditions),
        start_degc=conditions.rail_degc,
        watts=settings.arc_efficiency * settings.voltage_v * settings.current_a,
        limit_degc=interpass.limit_degc,
        place_mm=interpass.place_mm,
        pitch_m=pitch_m(interpass.place_mm),
        opening_min=_minutes(opening_stages(len(plans))),
        swap_min=model.number("swap_min"),
        zones=tuple(_zone_heat(each, procedure, conditions) for each in laid),
        by_turns=by_turns,
        said=heat_assumptions(work.steel),
    )


def surroundings(conditions: Conditions) -> Surroundings:
    """The day as it takes heat from the steel, without the lance."""
    return Surroundings(conditions.air_degc, conditions.wind_m_per_s)


def layer_heats(run: HeatRun, plan: ZonePlan) -> tuple[LayerHeat, ...]:
    """Waiting and hottest reading of each layer of one zone."""
    beads = [run.layer_beads(plan.key, layer.number) for layer in plan.beads.layers]
    return tuple(
        LayerHeat(
            wait_min=sum(bead.wait_min for bead in layer),
            hottest_degc=max(bead.ready_degc for bead in layer),
        )
        for layer in beads
    )


def quench_w_per_m2_k(procedure: Procedure, conditions: Conditions) -> float:
    """Convection under the lance between beads; 0 where the procedure never quenches."""
    if procedure.settings.cooling == "still_air":
        return 0.0
    if conditions.quench_w_per_m2_k is not None:
        return conditions.quench_w_per_m2_k
    return table_of("heating", "cooling").number(procedure.settings.cooling)


def _zone_heat(laid: Laid, procedure: Procedure, conditions: Conditions) -> ZoneHeat:
    settings, plan = procedure.settings, laid.plan
    reach_m = table_of("heating", "model").number("preheat_reach_mm") / 1e3
    return ZoneHeat(
        key=plan.key,
        label=plan.work.zone.label,
        spot=laid.spot,
        spot_words=laid.spot_words,
        before_min=_minutes(stages_before_welding(plan, procedure, conditions)),
        after_min=_minutes(stages_after_welding(plan, procedure, conditions)),
        passes=tuple(_passes(laid)),
        torch=Torch(
            degc=settings.preheat_min_degc,
            along_m=(laid.low_m - reach_m, laid.high_m + reach_m),
            kept_up=settings.after_weld == "slow_cool",
        ),
        post_heat_degc=settings.post_heat_degc,
    )


def _minutes(stages: Iterable[Stage]) -> float:
    return sum(stage.fixed_min + stage.work_min for stage in stages)


def _passes(laid: Laid) -> Iterator[Pass]:
    set_up_min = table_of("stages", "layer").number("set_up_min")
    plan = laid.plan
    for layer, handling_min in zip(plan.beads.layers, plan.between_beads_min, strict=True):
        for bead, direction in enumerate(layer.directions()):
            near, far = laid.ends_m(layer)
            onward = direction == "toe to heel"
            yield Pass(
                layer=layer.number,
                bead=bead + 1,
                direction=direction,
                depth_m=laid.depths_m(layer),
                across_m=laid.bead_across_m(layer, bead),
                start_m=near if onward else far,
                end_m=far if onward else near,
                arc_min=layer.bead_arc_min,
                handling_min=handling_min,
                set_up_min=set_up_min,
            )


def forecast_heat(
    work: RepairWork, plans: Sequence[ZonePlan], procedure: Procedure, conditions: Conditions
) -> HeatRun:
    """Every bead of a repair laid in the model, zone after zone; every wait found.

    Raises OutsideValidity where the air never lets the steel cool to the limit.
    """
    return run_heat(heat_job(work, plans, procedure, conditions))
