"""From the events of one sheet to what is so.

The answer is a function of the set of events: the order in which they arrive, batches and
repetitions change nothing.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import timedelta
from decimal import Decimal

from repairs.field.corrected import counted
from repairs.field.events import (
    AtStage,
    Briefing,
    BrokenOff,
    Event,
    HandedBack,
    Kind,
    Material,
    Note,
    Photo,
    TrackState,
)
from repairs.field.holds import (
    briefing_faults,
    hold_faults,
    hold_points,
    order_faults,
    point_waits,
    temperature_faults,
)
from repairs.field.penetrant import rounds
from repairs.field.proof import (
    indications,
    last_cut,
    missing_readings,
    reading_conflicts,
    reading_faults,
    readings,
    verdict,
)
from repairs.field.sheet import FieldSheet
from repairs.field.stages import pass_readings, stage_states
from repairs.field.state import (
    About,
    FieldState,
    HoldPoint,
    Phase,
    Picture,
    Proof,
    Said,
    StageState,
)
from repairs.field.track import WORDS, finished_zones, open_zones, track_state
from repairs.welding.rows_toml import table_of
from turnouts.analysis.terms import Zone

AFTER_IS_FINE = (Kind.HANDED_BACK, Kind.BROKEN_OFF, Kind.NOTE, Kind.PHOTO, Kind.MATERIAL_USED)
"""What may be entered after the track was handed back without a word about it."""


def state_of(sheet: FieldSheet, events: Iterable[Event]) -> FieldState:
    """What follows from the events of a sheet, whatever their order."""
    every = tuple(events)
    count = counted(every)
    row = count.events
    stages = stage_states(sheet, row)
    holds, hot = hold_points(sheet, row), pass_readings(sheet, row)
    cut = last_cut(sheet, row)
    measured = readings(sheet, row, cut)
    missing = missing_readings(sheet, measured)
    tests = rounds(row, sheet.penetrant) if sheet.penetrant else ()
    shown = indications(sheet, row, tests, cut.begun)
    found = verdict(sheet, row, tests, shown, cut.begun)
    limit_faults = reading_faults(sheet, measured)
    proved = found.proof in (Proof.CLEAN, Proof.NOT_REQUIRED) and not (limit_faults or missing)
    track = track_state(sheet, stages, proved)
    back, broken = _first(row, HandedBack), _first(row, BrokenOff)
    started = next((event for event in row if _is_work(event)), None)
    ended = back or broken
    return FieldState(
        phase=_phase(started, back, broken),
        track=track,
        track_words=WORDS[track],
        started=any(event.kind is Kind.STARTED for event in row),
        started_at=started.at if started else None,
        started_by=started.by if started else "",
        ended_at=ended.at if ended else None,
        briefing=_briefed(row),
        stages=stages,
        hold_points=holds,
        next_zones=_next_zones(sheet, stages, holds),
        finished_zones=finished_zones(sheet, stages),
        pass_temperatures=hot,
        penetrant=tests,
        proof=found.proof,
        proof_words=found.words,
        indications=shown,
        measurements=measured,
        missing=missing,
        materials=_materials(row),
        photos=tuple(
            Picture(e.id, e.data.caption, e.at, e.by) for e in row if isinstance(e.data, Photo)
        ),
        notes=tuple(f"{e.by}: {e.data.text}" for e in row if isinstance(e.data, Note)),
        handed_back=back.data if back and isinstance(back.data, HandedBack) else None,
        handed_back_by=back.by if back else "",
        broken_off=broken.data if broken and isinstance(broken.data, BrokenOff) else None,
        corrections=count.corrections,
        deviations=(
            *_not_started(row, started),
            *(briefing_faults(sheet, _briefed(row)) if _is_briefed(row) else ()),
            *hold_faults(sheet, holds, stages),
            *order_faults(sheet, stages),
            *temperature_faults(sheet, stages, hot),
            *(Said(About.PENETRANT, fault) for test in tests[-1:] for fault in test.faults),
            *([Said(About.PENETRANT, found.words)] if found.proof is Proof.DOUBTFUL else []),
            *limit_faults,
            *_at_the_end(sheet, back, track, found.proof, missing),
            *_broken_off_as(broken, track),
            *_after_hand_back(row, back),
            *_clocks(every),
        ),
        conflicts=(
            *count.said,
            *reading_conflicts(measured),
            *_two_hands(row),
            *_unknown_stages(sheet, row),
        ),
    )


def _is_work(event: Event) -> bool:
    return event.kind in (Kind.STARTED, Kind.STAGE_STARTED)


def _not_started(row: Sequence[Event], begun: Event | None) -> Iterator[Said]:
    """Work that nobody qualified had started."""
    if begun is not None and begun.kind is not Kind.STARTED:
        late = any(event.kind is Kind.STARTED for event in row)
        when = "before" if late else "and it is not recorded that"
        yield Said(About.ORDER, f"Work began {when} somebody qualified had started the sheet.")


def _first(row: Sequence[Event], data: type) -> Event | None:
    return next((event for event in row if isinstance(event.data, data)), None)


def _phase(started: Event | None, back: Event | None, broken: Event | None) -> Phase:
    if broken:
        return Phase.BROKEN_OFF
    if back:
        return Phase.HANDED_BACK
    return Phase.IN_WORK if started else Phase.WAITING


def _is_briefed(row: Sequence[Event]) -> bool:
    return any(isinstance(event.data, Briefing) for event in row)


def _briefed(row: Sequence[Event]) -> tuple[int, ...]:
    points = {n for event in row if isinstance(event.data, Briefing) for n in event.data.points}
    return tuple(sorted(points))


def _next_zones(
    sheet: FieldSheet, stages: Sequence[StageState], holds: Sequence[HoldPoint]
) -> tuple[str, ...]:
    """Zones that may be begun: one cavity at a time, the point after the guarding face."""
    if open_zones(sheet, stages):
        return ()
    waits = sheet.zones_of(Zone.POINT) if point_waits(sheet, holds) else ()
    done = finished_zones(sheet, stages)
    return tuple(zone.key for zone in sheet.zones if zone.key not in (*done, *waits))


def _materials(row: Sequence[Event]) -> dict[str, Decimal]:
    """What was used, by material: entries of one material add up."""
    used: dict[str, Decimal] = defaultdict(Decimal)
    for event in row:
        if isinstance(event.data, Material):
            used[event.data.key] += event.data.quantity
    return dict(sorted(used.items()))


def _broken_off_as(broken: Event | None, track: TrackState) -> Iterator[Said]:
    """A job said to have been broken off in another state than the entries show."""
    if broken is not None and isinstance(broken.data, BrokenOff) and broken.data.state != track:
        yield Said(
            About.TRACK,
            f"The job was broken off with the track said to be {_word(broken.data.state)}; by the "
            f"entries it is {_word(track)}.",
        )


def _at_the_end(
    sheet: FieldSheet,
    back: Event | None,
    track: TrackState,
    proof: Proof,
    missing: Sequence[str],
) -> Iterator[Said]:
    """What is to be said of the hand back itself."""
    if back is None or not isinstance(back.data, HandedBack):
        return
    late = (back.at - sheet.hand_back_at) / timedelta(minutes=1)
    if late > 0:
        yield Said(About.TIME, f"The track was handed back {late:.0f} min late.")
    if track is TrackState.OPEN:
        yield Said(
            About.TRACK, "The track was handed back with a cavity open or a weld unfinished."
        )
    elif back.data.state is not track:
        yield Said(
            About.TRACK,
            f"The track was handed back as {_word(back.data.state)}; by the entries it is "
            f"{_word(track)}.",
        )
    if proof is Proof.OPEN and track is not TrackState.AS_FOUND:
        yield Said(About.PENETRANT, "The track was handed back before the penetrant was read.")
    if missing and track is not TrackState.AS_FOUND:
        yield Said(About.LIMIT, f"Not measured before hand back: {', '.join(missing).lower()}.")


def _word(state: TrackState) -> str:
    return state.label.lower()


def _after_hand_back(row: Sequence[Event], back: Event | None) -> Iterator[Said]:
    if back is None:
        return
    late = [e for e in row if e.at > back.at and e.kind not in AFTER_IS_FINE]
    if late:
        kinds = ", ".join(dict.fromkeys(event.kind.label.lower() for event in late))
        noun = "entry is" if len(late) == 1 else "entries are"
        yield Said(
            About.ENTRY, f"{len(late)} {noun} timed after the track was handed back: {kinds}."
        )


def _clocks(events: Sequence[Event]) -> Iterator[Said]:
    """Telephones whose clock was far off: their times were put right, and it is said."""
    most = table_of("field", "clock").number("wrong_clock_min")
    worst: dict[str, float] = {}
    for event in sorted(events, key=lambda event: event.order):
        if abs(event.clock_off_s) > abs(worst.get(event.device, 0.0)):
            worst[event.device] = event.clock_off_s
    for device, off_s in sorted(worst.items()):
        if abs(off_s) > most * 60:
            way = "slow" if off_s > 0 else "fast"
            yield Said(
                About.CLOCK,
                f"The clock of device {device[:8]} was {abs(off_s) / 60:.0f} min {way}; its times "
                "are put right by that.",
            )


def _two_hands(row: Sequence[Event]) -> Iterator[Said]:
    """The same thing entered on two telephones, where that changes what is so."""
    for key, devices in _devices(row).items():
        if len(devices) > 1:
            kind, name = key
            if kind is Kind.MATERIAL_USED:
                yield Said(
                    About.ENTRY,
                    f"{name} was entered on two telephones and is added up; strike one entry out "
                    "if both mean the same.",
                )
            else:
                yield Said(
                    About.TRACK,
                    f"{kind.label} was entered on two telephones with different words; the first "
                    "counts.",
                )


def _devices(row: Sequence[Event]) -> dict[tuple[Kind, str], set[str]]:
    found: dict[tuple[Kind, str], set[str]] = defaultdict(set)
    said: dict[Kind, set[str]] = defaultdict(set)
    for event in row:
        if isinstance(event.data, Material):
            found[(event.kind, event.data.key)].add(event.device)
        elif isinstance(event.data, HandedBack | BrokenOff):
            said[event.kind].add(repr(event.data))
            found[(event.kind, "")].add(event.device)
    return {
        key: devices
        for key, devices in sorted(found.items(), key=lambda item: (item[0][0].value, item[0][1]))
        if key[0] is Kind.MATERIAL_USED or len(said[key[0]]) > 1
    }


def _unknown_stages(sheet: FieldSheet, row: Sequence[Event]) -> Iterator[Said]:
    known = {stage.key for stage in sheet.stages}
    strange = {e.data.stage for e in row if isinstance(e.data, AtStage)} - known
    for stage in sorted(strange):
        yield Said(About.ENTRY, f"An entry names the stage {stage}, which the sheet has not.")
