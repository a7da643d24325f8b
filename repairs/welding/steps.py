"""The job sheet's steps and hold points, in plain imperative sentences with settings and limits."""

from collections.abc import Iterator, Sequence

from repairs.welding.procedures import Procedure
from repairs.welding.stages import dwell_min
from repairs.welding.wording import minutes, size, temperature
from repairs.welding.work import Conditions, RepairWork
from repairs.welding.zoneplan import ZonePlan
from turnouts.analysis.terms import FrogDesign, Steel, Zone

OPENING_STEPS = (
    "Hold the job briefing. Put on-track safety in place and confirm it with the employee in "
    "charge.",
    "Bring machines, leads and bottles from the place of access to the frog, inside the protected "
    "limits.",
)


def weld_steps(
    plans: Sequence[ZonePlan], procedure: Procedure, conditions: Conditions
) -> tuple[str, ...]:
    """Every step of a weld repair, in order."""
    return (
        *OPENING_STEPS,
        "Measure and write down gages, wear, air and rail temperature. Mark out each zone.",
        *(step for plan in plans for step in _zone_steps(plan, procedure, conditions)),
        *_proof_steps(procedure, conditions),
        "Measure and write down every gage and the finished profile. Photograph each zone.",
        "Count tools, clear the track, and report to the employee in charge, who hands it back.",
    )


def _zone_steps(plan: ZonePlan, procedure: Procedure, conditions: Conditions) -> Iterator[str]:
    cavity, settings = plan.cavity, procedure.settings
    head = plan.work.zone.label
    yield (
        f"{head}: gouge to sound steel, {size(cavity.depth_mm)} deep from the original contour, "
        f"floor {size(cavity.floor_length_mm)} by {size(cavity.floor_width_mm)}. Slope closed "
        f"sides {settings.side_slope:g} to 1 and ramp both ends {settings.run_out:g} to 1. If the "
        f"flaw runs deeper than {size(settings.depth_max_mm)}, stop and ask."
    )
    yield (
        f"{head}: grind off all gouging residue with a one-inch wheel, at least "
        f"{settings.residue_grind_mm:g} mm, to bright steel. Look for cracks."
    )
    if plan.blocks:
        yield f"{head}: {_lower(settings.dam_blocks)}: {plan.blocks} in all."
    yield _preheat_step(head, procedure, conditions)
    yield from _bead_steps(head, plan, procedure)
    if settings.post_heat_degc is not None and settings.slow_cool_min is not None:
        yield (
            f"{head}: heat to {temperature(settings.post_heat_degc)} at once after the last bead, "
            f"cover with the blanket, and leave it {minutes(settings.slow_cool_min)}."
        )
    for step in settings.grinding:
        yield f"{head}: {_lower(step)}."


def _preheat_step(head: str, procedure: Procedure, conditions: Conditions) -> str:
    low, high = procedure.settings.preheat_min_degc, procedure.settings.preheat_max_degc
    if procedure.settings.after_weld == "slow_cool":
        return (
            f"{head}: preheat to {temperature(low)} or more, at most {temperature(high)}, 150 to "
            "200 mm each side. Reheat whenever it falls below."
        )
    if conditions.rail_degc < low:
        return (
            f"{head}: take the chill off to {temperature(low)}, no more than {temperature(high)}."
        )
    return f"{head}: no preheat. Dry the steel; do not warm it past {temperature(high)}."


def _bead_steps(head: str, plan: ZonePlan, procedure: Procedure) -> Iterator[str]:
    settings, rule, beads = procedure.settings, procedure.interpass, plan.beads
    yield (
        f"{head}: weld with {settings.filler}, {settings.filler_diameter_mm:g} mm, "
        f"{settings.current_a:g} A, {settings.voltage_v:g} V, {settings.polarity}"
        f"{_feed(procedure)}, travel about {settings.travel_mm_per_min:g} mm/min. Stringer beads, "
        "at most "
        f"{size(settings.bead_width_max_mm)} wide."
    )
    yield (
        f"{head}: about {beads.beads} beads in {len(beads.layers)} layers. Turn the direction "
        "round for each bead. Brush each bead clean."
    )
    yield f"{head}: {_lower(settings.peening)}. {settings.quench}."
    yield (
        f"{head}: before each bead measure {_place(rule.place_mm)}. Do not start above "
        f"{temperature(rule.limit_degc)}: wait until it is below."
    )
    if [layer for layer in beads.layers if layer.kind == "short"]:
        yield f"{head}: finish with the top pad of {', '.join(settings.top_layers)} layers."
    yield f"{head}: leave the weld about {size(settings.over_fill_mm)} proud for grinding."


def _feed(procedure: Procedure) -> str:
    feed = procedure.settings.wire_feed_m_per_min
    return "" if feed is None else f", wire feed {feed:g} m/min"


def _place(place_mm: float) -> str:
    return f"{size(place_mm)} from the weld" if place_mm else "on the weld"


def _proof_steps(procedure: Procedure, conditions: Conditions) -> Iterator[str]:
    settings = procedure.settings
    hot = temperature(settings.penetrant_hot_degc)
    if settings.penetrant_timing == "after_cooling":
        yield (
            f"Penetrant test once the steel is below {hot}, on a later visit if the track time "
            f"ends first: dwell {minutes(settings.penetrant_dwell_min)}, developing "
            f"{minutes(settings.developing_min)}. Until then run at the speed the local rules give."
        )
        return
    yield f"Cool the casting below {hot}. Clean it to bare steel."
    yield (
        f"Penetrant: dwell {minutes(dwell_min(procedure, conditions))}, wipe, developing "
        f"{minutes(settings.developing_min)}, then read. Any line: stop, mark it and ask."
    )


def weld_hold_points(work: RepairWork, procedure: Procedure) -> tuple[str, ...]:
    """Points where work stops until a named check is passed."""
    return tuple(_weld_hold_points(work, procedure))


def _weld_hold_points(work: RepairWork, procedure: Procedure) -> Iterator[str]:
    yield "Before anyone fouls the track: briefing held, on-track safety confirmed."
    yield "Before gouging: time left is more than the latest start allows; no gouging after it."
    yield "Before the first bead in a zone: cavity bright, free of cracks, looked over, signed."
    zones = {zone.zone for zone in work.zones}
    if _guard_before_point(work) and {Zone.GUARD_FACE, Zone.POINT} <= zones:
        yield "Before the point is touched: guarding face restored, ground and gaged."
    yield (
        f"Before each bead: below {temperature(procedure.interpass.limit_degc)} measured "
        f"{_place(procedure.interpass.place_mm)}."
    )
    if procedure.settings.penetrant_timing == "after_cooling":
        yield "After cooling: penetrant test clean, or the repair is not accepted."
    else:
        yield "Before hand back: penetrant test clean."
    yield "Before hand back: gages and flangeways measured, written down and within limits."


def _guard_before_point(work: RepairWork) -> bool:
    return work.design is FrogDesign.SELF_GUARDED_MANGANESE


def order_caution(work: RepairWork) -> str | None:
    """What the guarding face asks of this job, where the rule on self-guarded frogs applies."""
    zones = {zone.zone for zone in work.zones}
    if not _guard_before_point(work) or Zone.POINT not in zones:
        return None
    if Zone.GUARD_FACE in zones:
        return "Restore the guarding face before rebuilding the point."
    return (
        "Gage the raised guard before rebuilding the point: if it is worn, restore the guarding "
        "face first."
    )


def grinding_steps(work: RepairWork) -> tuple[str, ...]:
    """Every step of a grinding-only job, in order."""
    cool = (
        " Keep the wheel moving: a blue spot on manganese steel is damage."
        if work.steel is Steel.MANGANESE
        else " Keep the wheel moving: a blue spot has hardened and may crack."
    )
    return (
        *OPENING_STEPS,
        "Measure and write down gages and wear. Mark out each zone.",
        *(
            f"{zone.zone.label}: grind off {size(zone.depth_mm)} over {size(zone.length_mm)} by "
            f"{size(zone.width_mm)}, then profile to the straightedge and template.{cool}"
            for zone in work.zones
        ),
        "Look for cracks. Where one shows or is doubted, use penetrant, stop and report.",
        "Measure and write down every gage and the finished profile. Photograph each zone.",
        "Count tools, clear the track, and report to the employee in charge, who hands it back.",
    )


GRINDING_HOLD_POINTS = (
    "Before anyone fouls the track: briefing held, on-track safety confirmed.",
    "After grinding: no crack shows; if one does, stop and report before hand back.",
    "Before hand back: gages and flangeways measured, written down and within limits.",
)


def _lower(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]
