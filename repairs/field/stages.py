"""The stages as they went: begun, paused, ended, by whom, and the waits that were logged."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import Decimal

from repairs.field.events import AtStage, Event, Kind, PassTemperature
from repairs.field.sheet import FieldSheet, SheetStage
from repairs.field.state import PassReading, StageIs, StageState

MINUTE = timedelta(minutes=1)


def stage_states(sheet: FieldSheet, events: Sequence[Event]) -> tuple[StageState, ...]:
    """Each stage of the sheet, in its order."""
    marks: dict[str, list[Event]] = {stage.key: [] for stage in sheet.stages}
    for event in events:
        if isinstance(event.data, AtStage) and event.data.stage in marks:
            marks[event.data.stage].append(event)
    waits = _waits(sheet, events)
    return tuple(_state(stage, marks[stage.key], waits) for stage in sheet.stages)


def _state(
    stage: SheetStage,
    marks: Sequence[Event],
    waits: Sequence[tuple[str, datetime, datetime]],
) -> StageState:
    starts = [event for event in marks if event.kind is Kind.STAGE_STARTED]
    ends = [event for event in marks if event.kind is Kind.STAGE_ENDED]
    first, last = (starts[0] if starts else None), (ends[-1] if ends else None)
    return StageState(
        key=stage.key,
        name=stage.name,
        zone=stage.zone,
        state=_is(marks),
        started_at=first.at if first else None,
        started_by=first.by if first else "",
        ended_at=last.at if last else None,
        ended_by=last.by if last else "",
        took_min=_worked_min(marks) if first and last else None,
        waited_min=_waited_min(stage, first, last, waits),
        interrupted=any(isinstance(e.data, AtStage) and e.data.interrupted for e in ends),
        repeated=_repeated(marks),
    )


def _is(marks: Sequence[Event]) -> StageIs:
    if not marks:
        return StageIs.WAITING
    last = marks[-1]
    if last.kind is Kind.STAGE_STARTED:
        return StageIs.RUNNING
    interrupted = isinstance(last.data, AtStage) and last.data.interrupted
    return StageIs.INTERRUPTED if interrupted else StageIs.DONE


def _worked_min(marks: Sequence[Event]) -> float:
    """First start to last end, without the time between an end and the next start."""
    worked, since = timedelta(), None
    for event in marks:
        if event.kind is Kind.STAGE_STARTED:
            since = since or event.at
        elif since is not None:
            worked += event.at - since
            since = None
            ended = event.at
        elif worked:
            # Two telephones ended it: the last end counts.
            worked += event.at - ended
            ended = event.at
    return worked / MINUTE


def _repeated(marks: Sequence[Event]) -> bool:
    finished = False
    for event in marks:
        if event.kind is Kind.STAGE_STARTED and finished:
            return True
        if isinstance(event.data, AtStage) and event.kind is Kind.STAGE_ENDED:
            finished = not event.data.interrupted
    return False


def pass_readings(sheet: FieldSheet, events: Sequence[Event]) -> tuple[PassReading, ...]:
    """Every metal temperature, and whether it asked for waiting."""
    limit = sheet.interpass_degc
    return tuple(
        PassReading(
            event=event.id,
            zone=event.data.zone,
            degc=event.data.degc,
            place_mm=event.data.place_mm,
            at=event.at,
            by=event.by,
            above=is_above(event.data.degc, limit),
            note=event.data.note,
        )
        for event in events
        if isinstance(event.data, PassTemperature)
    )


def is_above(degc: Decimal, limit: Decimal | None) -> bool:
    """Above the interpass limit; at the limit itself the bead may start."""
    return limit is not None and degc > limit


def _waits(
    sheet: FieldSheet, events: Sequence[Event]
) -> tuple[tuple[str, datetime, datetime], ...]:
    """Zone, beginning and end of each wait: from a reading above the limit to one at or below."""
    since: dict[str, datetime] = {}
    found = []
    for reading in pass_readings(sheet, events):
        if reading.above:
            since.setdefault(reading.zone, reading.at)
        elif reading.zone in since:
            found.append((reading.zone, since.pop(reading.zone), reading.at))
    return tuple(found)


def _waited_min(
    stage: SheetStage,
    first: Event | None,
    last: Event | None,
    waits: Sequence[tuple[str, datetime, datetime]],
) -> float | None:
    if first is None or last is None:
        return None
    own = [
        (min(end, last.at) - begin) / MINUTE
        for zone, begin, end in waits
        if zone == stage.zone and first.at <= begin < last.at
    ]
    return sum(own) if own else None
