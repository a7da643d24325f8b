"""The stages of a job in their order, each with its median minutes from sizes and rates."""

from collections.abc import Iterable, Iterator, Sequence

from repairs.welding.procedures import Procedure
from repairs.welding.rows_toml import table_of
from repairs.welding.timeline import HandBack, Spread, Stage
from repairs.welding.work import Conditions
from repairs.welding.zoneplan import LayerHeat, ZonePlan

TORCH_KINDS = ("preheat", "post_heat")
ENGINE_LOADED_KINDS = ("gouging", "carbon_grinding", "layer", "rough_grinding", "profile_grinding")


def spread() -> Spread:
    """How stages vary together, from stages.toml."""
    rows = table_of("stages", "spread")
    return Spread(shared=rows.number("shared"), wait_sigma=rows.number("wait_sigma"))


def plain_stage(
    kind: str,
    name: str,
    *,
    extra_min: float = 0.0,
    fixed_min: float = 0.0,
    prefix: str = "",
    hand_back: HandBack = HandBack.AS_FOUND,
    open_cavity: bool = False,
) -> Stage:
    """A stage of its set-up median and some extra minutes of work, without waiting."""
    rows = table_of("stages", kind)
    return Stage(
        key=f"{prefix}{kind}",
        name=name,
        fixed_min=fixed_min,
        work_min=rows.number("set_up_min") + extra_min,
        sigma=rows.number("sigma"),
        open_cavity=open_cavity,
        hand_back=hand_back,
    )


def opening_stages(zones: int) -> Iterator[Stage]:
    """Briefing, the way in and measuring: nothing has been changed yet.

    The way in is from the place of access to the frog, after the briefing, for nobody fouls
    the track before it; the road to the place of access belongs to the plan.
    """
    yield plain_stage("briefing", "Briefing and protection")
    way = table_of("stages", "travel_in")
    walked_min = way.number("way_m") / way.number("pace_m_per_min")
    yield plain_stage("travel_in", "Travel in to the frog", extra_min=walked_min)
    per_zone_min = table_of("stages", "measuring").number("per_zone_min")
    yield plain_stage("measuring", "Measuring and marking out", extra_min=zones * per_zone_min)


def closing_stages(zones: int) -> Iterator[Stage]:
    """Final measuring and clearing."""
    per_zone_min = table_of("stages", "final_measuring").number("per_zone_min")
    yield plain_stage(
        "final_measuring",
        "Final measuring",
        extra_min=zones * per_zone_min,
        hand_back=HandBack.RESTORED,
    )
    yield plain_stage("clearing", "Clearing and hand back", hand_back=HandBack.RESTORED)


def zone_stages(
    plan: ZonePlan, heats: Sequence[LayerHeat], procedure: Procedure, conditions: Conditions
) -> Iterator[Stage]:
    """Gouging to profile grinding of one zone; until it is filled the track cannot be handed back.

    ``heats`` gives the waiting in each layer.
    """
    yield from stages_before_welding(plan, procedure, conditions)
    yield from _layers(plan, heats)
    yield from stages_after_welding(plan, procedure, conditions)


def stages_before_welding(
    plan: ZonePlan, procedure: Procedure, conditions: Conditions
) -> Iterator[Stage]:
    """What opens one zone and makes it ready for its first bead."""
    for kind, name, extra_min in (
        ("gouging", "Gouging", plan.gouged_kg / _rate_kg_per_min("gouging")),
        (
            "carbon_grinding",
            "Carbon grinding",
            plan.residue_kg / _rate_kg_per_min("carbon_grinding"),
        ),
        *_dam_blocks(plan),
        *_preheat(plan, procedure, conditions),
    ):
        yield plain_stage(
            kind,
            f"{name}: {plan.label}",
            extra_min=extra_min,
            prefix=f"{plan.key}.",
            hand_back=HandBack.NEVER,
            open_cavity=True,
        )


def stages_after_welding(
    plan: ZonePlan, procedure: Procedure, conditions: Conditions
) -> Iterator[Stage]:
    """What follows the last bead of one zone, up to its finished profile."""
    yield from _after_weld(plan, procedure, conditions)
    yield plain_stage(
        "rough_grinding",
        f"Rough grinding: {plan.label}",
        extra_min=plan.over_fill_kg / _rate_kg_per_min("rough_grinding"),
        prefix=f"{plan.key}.",
        hand_back=HandBack.CLOSED,
    )
    yield profile_stage(plan.key, plan.label, plan.cavity.length_at(plan.cavity.depth_mm))


def profile_stage(key: str, label: str, length_mm: float) -> Stage:
    """Profile grinding along one zone."""
    per_metre_min = table_of("stages", "profile_grinding").number("per_metre_min")
    return plain_stage(
        "profile_grinding",
        f"Profile grinding: {label}",
        extra_min=per_metre_min * length_mm / 1e3,
        prefix=f"{key}.",
        hand_back=HandBack.CLOSED,
    )


def penetrant_stages(procedure: Procedure, conditions: Conditions) -> Iterator[Stage]:
    """Cooling down and the penetrant test, when the procedure has it in the same window.

    Dwell doubles on steel colder than the table's range (ASME V Table T-672 note 1).
    """
    settings = procedure.settings
    if settings.penetrant_timing != "same_window":
        return
    if settings.after_weld == "cool_to_touch":
        minutes = table_of("heating", "cooling").number("cool_to_touch_min")
        yield plain_stage(
            "cooling_down", "Cooling down", extra_min=minutes, hand_back=HandBack.CLOSED
        )
    yield plain_stage(
        "penetrant",
        "Penetrant, dwell and developing",
        fixed_min=dwell_min(procedure, conditions) + settings.developing_min,
        hand_back=HandBack.CLOSED,
    )


def dwell_min(procedure: Procedure, conditions: Conditions) -> float:
    """Penetrant dwell: doubled when the air is under 10 degC, for the steel cools towards it."""
    settings = procedure.settings
    cold = conditions.air_degc < settings.penetrant_cold_degc
    return settings.penetrant_dwell_min * (2 if cold else 1)


def _rate_kg_per_min(kind: str) -> float:
    return table_of("stages", kind).number("rate_kg_per_h") / 60


def _dam_blocks(plan: ZonePlan) -> Iterator[tuple[str, str, float]]:
    if plan.blocks:
        per_block_min = table_of("stages", "dam_blocks").number("per_block_min")
        yield "dam_blocks", "Fitting dam blocks", plan.blocks * per_block_min


def _preheat(
    plan: ZonePlan, procedure: Procedure, conditions: Conditions
) -> Iterator[tuple[str, str, float]]:
    """Preheat, or for manganese steel taking the chill off, when the steel is too cold."""
    target_degc = procedure.settings.preheat_min_degc
    if conditions.rail_degc < target_degc:
        name = "Preheat" if procedure.settings.after_weld == "slow_cool" else "Taking the chill off"
        yield "preheat", name, _torch_min(plan, conditions.rail_degc, target_degc, conditions)


def _torch_min(plan: ZonePlan, start: float, end: float, conditions: Conditions) -> float:
    burner_w = table_of("heating", "cooling").number("burner_kw") * 1e3
    return plan.body.minutes_to_heat(start, end, conditions.air_degc, burner_w)


def _layers(plan: ZonePlan, heats: Sequence[LayerHeat]) -> Iterator[Stage]:
    rows, layers = table_of("stages", "layer"), plan.beads.layers
    for layer, heat, between_min in zip(layers, heats, plan.between_beads_min, strict=True):
        yield Stage(
            key=f"{plan.key}.layer-{layer.number:02d}",
            name=f"Layer {layer.number} of {len(layers)}: {plan.label}",
            fixed_min=0.0,
            work_min=rows.number("set_up_min") + layer.arc_min + layer.beads * between_min,
            sigma=rows.number("sigma"),
            wait_min=heat.wait_min,
            open_cavity=True,
            hand_back=HandBack.NEVER,
        )


def _after_weld(plan: ZonePlan, procedure: Procedure, conditions: Conditions) -> Iterator[Stage]:
    """Post-heat and slow cooling where the procedure asks for them."""
    settings = procedure.settings
    if settings.post_heat_degc is None or settings.slow_cool_min is None:
        return
    start_degc = max(conditions.rail_degc, settings.preheat_min_degc)
    heating_min = _torch_min(plan, start_degc, settings.post_heat_degc, conditions)
    for kind, name, extra_min, fixed_min in (
        ("post_heat", "Post-heat", heating_min, 0.0),
        ("slow_cooling", "Slow cooling", 0.0, settings.slow_cool_min),
    ):
        yield plain_stage(
            kind,
            f"{name}: {plan.label}",
            extra_min=extra_min,
            fixed_min=fixed_min,
            prefix=f"{plan.key}.",
            hand_back=HandBack.NEVER,
        )


def minutes_in(stages: Iterable[Stage], kinds: tuple[str, ...]) -> float:
    """Median minutes of work in stages of some kinds, for gas and fuel."""
    return sum(stage.work_min for stage in stages if kind_of(stage) in kinds)


def kind_of(stage: Stage) -> str:
    """The kind of a stage, from its key: ``1-point.layer-02`` is a ``layer``."""
    return stage.key.rsplit(".", 1)[-1].split("-", 1)[0]
