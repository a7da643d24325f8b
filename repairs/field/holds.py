"""Hold points, the order of zones where law sets it, and whatever else went another way."""

from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import pairwise

from repairs.field.events import AtZone, Briefing, Event, Kind, Measured
from repairs.field.sheet import FieldSheet, SheetStage
from repairs.field.state import About, HoldPoint, PassReading, Said, StageIs, StageState
from turnouts.analysis.terms import Quantity, Zone

GUARD_FIRST = "49 CFR 213.141(b)"


def hold_points(sheet: FieldSheet, events: Sequence[Event]) -> tuple[HoldPoint, ...]:
    """Every hold point of the sheet with who passed it, the earliest moment counting."""
    return tuple(_hold_points(sheet, events))


def _hold_points(sheet: FieldSheet, events: Sequence[Event]) -> Iterator[HoldPoint]:
    briefed = [event for event in events if isinstance(event.data, Briefing)]
    yield _hold("briefing", "", "Briefing held, on-track safety confirmed", briefed)
    for zone in sheet.zones:
        if any(stage.kind == "layer" for stage in sheet.of_zone(zone.key)):
            removed = _at(events, Kind.CARBON_REMOVED, zone.key)
            words = "Cavity bright, free of cracks, all gouging residue ground off"
            yield _hold("carbon_removed", zone.key, words, removed)
    yield from _guard_first(sheet, events)


def _guard_first(sheet: FieldSheet, events: Sequence[Event]) -> Iterator[HoldPoint]:
    """The guarding face before the point (49 CFR 213.141(b)): restored, or gaged where it is well.

    Where the guarding face is no part of the job, its reading says that it need not be.
    """
    if not sheet.guard_before_point or not sheet.zones_of(Zone.POINT):
        return
    faces = sheet.zones_of(Zone.GUARD_FACE)
    for zone in faces:
        restored = _at(events, Kind.GUARD_FACE_RESTORED, zone)
        yield _hold(
            "guard_face_restored", zone, "Guarding face restored, before the point", restored
        )
    if sheet.guard_is_gaged:
        gaged = [
            event
            for event in events
            if isinstance(event.data, Measured)
            and event.data.quantity is Quantity.RAISED_GUARD_WEAR
        ]
        yield _hold("guard_gaged", "", "Raised guard gaged, before the point", gaged)


def _hold(key: str, zone: str, words: str, events: Sequence[Event]) -> HoldPoint:
    by = tuple(dict.fromkeys(event.by for event in events))
    return HoldPoint(key, zone, words, min((e.at for e in events), default=None), by)


def _at(events: Sequence[Event], kind: Kind, zone: str) -> list[Event]:
    return [
        event
        for event in events
        if event.kind is kind and isinstance(event.data, AtZone) and event.data.zone == zone
    ]


def briefing_faults(sheet: FieldSheet, briefed: Sequence[int]) -> Iterator[Said]:
    """A sentence where a briefing left points out; without any briefing the hold point says so."""
    left = [str(n) for n in range(1, sheet.briefing_points + 1) if n not in briefed]
    if left:
        yield Said(
            About.HOLD_POINT,
            f"The briefing is recorded without {'point' if len(left) == 1 else 'points'} "
            f"{', '.join(left)} of {sheet.briefing_points}.",
        )


def hold_faults(
    sheet: FieldSheet, holds: Sequence[HoldPoint], stages: Sequence[StageState]
) -> Iterator[Said]:
    """A sentence for each hold point that work did not wait for."""
    begun = {stage.key: stage for stage in stages if stage.started_at is not None}
    for hold in holds:
        for stage in _waits_for(sheet, hold):
            state = begun.get(stage.key)
            if state is not None and _before(state.started_at, hold.passed_at):
                yield Said(About.HOLD_POINT, _broken(hold, stage))
                break


def _waits_for(sheet: FieldSheet, hold: HoldPoint) -> Sequence[SheetStage]:
    """The stages that may not begin before a hold point, in their order."""
    if hold.key == "briefing":
        return [stage for stage in sheet.stages if stage.kind != "briefing"]
    if hold.key == "carbon_removed":
        return [stage for stage in sheet.of_zone(hold.zone) if stage.kind == "layer"][:1]
    return [stage for zone in sheet.zones_of(Zone.POINT) for stage in sheet.of_zone(zone)]


def _before(started_at: datetime, passed_at: datetime | None) -> bool:
    return passed_at is None or started_at < passed_at


def _broken(hold: HoldPoint, stage: SheetStage) -> str:
    law = f" ({GUARD_FIRST})" if hold.key.startswith("guard") else ""
    if hold.passed_at is None:
        return f"{stage.name} began, and it was never recorded: {_lower(hold.words)}{law}."
    return f"{stage.name} began before it was recorded: {_lower(hold.words)}{law}."


def order_faults(sheet: FieldSheet, stages: Sequence[StageState]) -> Iterator[Said]:
    """Stages of one zone begun the wrong way round, and stages without a beginning or an end."""
    for stage in stages:
        if stage.started_at is None and stage.ended_at is not None:
            yield Said(About.ENTRY, f"{stage.name}: an end is recorded, but no start.")
        elif stage.took_min is not None and stage.ended_at < stage.started_at:
            yield Said(About.ENTRY, f"{stage.name}: it ends before it starts; correct one of both.")
    for zone in sheet.zones:
        begun = [s for s in stages if s.zone == zone.key and s.started_at is not None]
        for earlier, later in pairwise(begun):
            if later.started_at < earlier.started_at:
                yield Said(About.ORDER, f"{later.name} began before {_lower(earlier.name)}.")
    yield from _not_recorded(stages)


def _not_recorded(stages: Sequence[StageState]) -> Iterator[Said]:
    """Stages that nobody recorded although a later one of the same part of the work is done."""
    for place, stage in enumerate(stages):
        later = [s for s in stages[place + 1 :] if s.zone == stage.zone]
        if stage.state is StageIs.WAITING and any(s.started_at is not None for s in later):
            yield Said(About.ENTRY, f"{stage.name}: nothing is recorded of it.")


def temperature_faults(
    sheet: FieldSheet, stages: Sequence[StageState], readings: Sequence[PassReading]
) -> Iterator[Said]:
    """Layers begun on metal that was too hot, or without a reading since the layer before."""
    for zone in sheet.zones:
        layers = [
            s
            for s in stages
            if s.zone == zone.key and s.started_at is not None and ".layer-" in s.key
        ]
        own = [reading for reading in readings if reading.zone == zone.key]
        for layer in layers:
            before = [reading for reading in own if reading.at <= layer.started_at]
            if before and before[-1].above:
                yield Said(
                    About.TEMPERATURE,
                    f"{layer.name} began at {before[-1].degc:f} degC; the limit before a bead is "
                    f"{sheet.interpass_degc:f} degC.",
                )
        yield from _without_reading(layers, own)


def _without_reading(
    layers: Sequence[StageState], readings: Sequence[PassReading]
) -> Iterator[Said]:
    unread = [
        later.name
        for earlier, later in pairwise(layers)
        if not any(earlier.started_at <= r.at <= later.started_at for r in readings)
    ]
    if unread:
        yield Said(
            About.TEMPERATURE, f"No metal temperature is recorded before: {'; '.join(unread)}."
        )


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:]


def point_waits(sheet: FieldSheet, holds: Sequence[HoldPoint]) -> bool:
    """Whether the point may not be touched yet, because the guarding face comes first."""
    return any(hold.key.startswith("guard") and hold.passed_at is None for hold in holds)
