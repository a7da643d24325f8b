"""The clock of a job under way: what is left, how likely it is to end in time, and what still can.

What is left from each stage stands on the sheet as quantiles of the minutes to the end. The
difference of two rows is what one stage takes at a probability, all moving together; what is left
of any set of stages is the sum of their differences, which for the stages that follow one another
to the end is exactly the row of the first. A stage under way has taken some of its minutes; never
less than nothing of it is left.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from repairs.field.events import TrackState
from repairs.field.sheet import FieldSheet, SheetStage
from repairs.field.state import FieldState, Phase, StageIs
from repairs.field.track import open_zones
from repairs.welding.rows_toml import table_of

MINUTE = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class StageClock:
    """When a stage begins by what is known now, and the last moment at which it may.

    ``too_late``: it has not begun and the last moment is over, or will be when it begins.
    """

    key: str
    name: str
    begins_at: datetime | None
    last_start_at: datetime
    left_min: float
    too_late: bool


@dataclass(frozen=True, slots=True)
class Way:
    """One way to end: which zones are finished, the chance, and how the track goes back."""

    sentence: str
    zones: tuple[str, ...]
    minutes: float
    chance: float
    state: TrackState


@dataclass(frozen=True, slots=True)
class Clock:
    """The clock at one moment. Minutes left may be below 0; the chance is of handing back in time.

    ``shift_min`` is by how much the real times run after the planned ones. ``advice`` is empty
    while the chance is at the set level; else it says what can still be finished and handed back.
    """

    now: datetime
    hand_back_at: datetime
    minutes_left: float
    shift_min: float
    expected_end: datetime
    chance: float
    set_chance: float
    under: bool
    stages: tuple[StageClock, ...]
    ways: tuple[Way, ...]
    advice: str


def clock(sheet: FieldSheet, state: FieldState, now: datetime) -> Clock:
    """The clock of a job at a moment; ``now`` carries its offset.

    Before work begins everything is reckoned from the later of now and the planned start.
    """
    begins = now if state.phase is not Phase.WAITING else max(now, sheet.starts_at)
    left = left_stages(sheet, state)
    minutes = (sheet.hand_back_at - begins) / MINUTE
    own = _own_minutes(sheet, state, begins)
    chance = _chance(sheet, own, left, minutes)
    ways = _ways(sheet, state, own, left, minutes)
    stages = _stage_clocks(sheet, state, own, left, begins)
    median = _at(sheet, _sum(own, left), 0.5)
    done = state.is_over
    under = not done and chance < sheet.set_chance
    return Clock(
        now=now,
        hand_back_at=sheet.hand_back_at,
        minutes_left=(sheet.hand_back_at - now) / MINUTE,
        shift_min=_shift_min(sheet, state, begins),
        expected_end=begins + median * MINUTE,
        chance=1.0 if done else chance,
        set_chance=sheet.set_chance,
        under=under,
        stages=stages,
        ways=ways,
        advice=_advice(sheet, state, ways, chance) if under else "",
    )


def left_stages(sheet: FieldSheet, state: FieldState) -> tuple[SheetStage, ...]:
    """The stages not done yet, in the order of the sheet.

    One that nobody recorded counts as done when a later one of the same zone is done.
    """
    done = {stage.key for stage in state.stages if stage.state is StageIs.DONE}
    return tuple(
        stage
        for place, stage in enumerate(sheet.stages)
        if stage.key not in done
        and not (
            state.stage(stage.key).state is StageIs.WAITING
            and any(
                later.key in done and (later.zone == stage.zone or not stage.zone)
                for later in sheet.stages[place + 1 :]
            )
        )
    )


Minutes = np.ndarray[tuple[int], np.dtype[np.float64]]


def _own_minutes(sheet: FieldSheet, state: FieldState, now: datetime) -> dict[str, Minutes]:
    """What is left of each stage by itself, at the sheet's probabilities."""
    rows = [np.array(stage.remaining) for stage in sheet.stages]
    rows.append(np.zeros(len(sheet.probabilities)))
    own = {}
    for stage, row, following in zip(sheet.stages, rows, rows[1:], strict=False):
        taken = _taken_min(state, stage.key, now)
        own[stage.key] = np.maximum(row - following - taken, 0.0)
    return own


def _taken_min(state: FieldState, key: str, now: datetime) -> float:
    """Minutes a stage under way has taken; of one that was broken off, what it took."""
    stage = state.stage(key)
    if stage.state is StageIs.RUNNING and not stage.repeated:
        return max(float((now - stage.started_at) / MINUTE), 0.0)
    if stage.state is StageIs.INTERRUPTED:
        return stage.took_min or 0.0
    return 0.0


def _sum(own: dict[str, Minutes], stages: Sequence[SheetStage]) -> Minutes:
    total: Minutes = np.sum([own[stage.key] for stage in stages], axis=0)
    return total


def _at(sheet: FieldSheet, minutes: Minutes, probability: float) -> float:
    if not minutes.shape:
        return 0.0
    return float(np.interp(probability, sheet.probabilities, minutes))


def _chance(
    sheet: FieldSheet, own: dict[str, Minutes], stages: Sequence[SheetStage], available_min: float
) -> float:
    """Chance that some stages are done within some minutes; as far as the sheet's rows reach."""
    if not stages:
        return 1.0 if available_min >= 0 else 0.0
    minutes = _sum(own, stages)
    if available_min < minutes[0]:
        return 0.0
    return float(np.interp(available_min, minutes, sheet.probabilities))


def _shift_min(sheet: FieldSheet, state: FieldState, begins: datetime) -> float:
    started = state.started_at or begins
    shift: float = (started - sheet.starts_at) / MINUTE
    return shift


def _stage_clocks(
    sheet: FieldSheet,
    state: FieldState,
    own: dict[str, Minutes],
    left: Sequence[SheetStage],
    begins: datetime,
) -> tuple[StageClock, ...]:
    level = table_of("field", "clock").number("last_start_chance")
    found = []
    at = begins
    for place, stage in enumerate(left):
        rest = _at(sheet, _sum(own, left[place:]), level)
        last = sheet.hand_back_at - rest * MINUTE
        waiting = state.stage(stage.key).state is StageIs.WAITING
        minutes = _at(sheet, own[stage.key], 0.5)
        found.append(
            StageClock(
                stage.key, stage.name, at if waiting else None, last, minutes, waiting and at > last
            )
        )
        at += minutes * MINUTE
    return tuple(found)


def _ways(
    sheet: FieldSheet,
    state: FieldState,
    own: dict[str, Minutes],
    left: Sequence[SheetStage],
    minutes: float,
) -> tuple[Way, ...]:
    """Ways to end, the most work first: every zone, fewer zones, none; never with an open cavity.

    Whatever is begun is finished; what closes the job (proof, measuring, clearing) is part of
    each, and where nothing was cut the track only has to be cleared.
    """
    still_open = open_zones(sheet, state.stages)
    begun = {s.zone for s in state.stages if s.zone and s.state is not StageIs.WAITING}
    waiting = [z.key for z in sheet.zones if any(s.zone == z.key for s in left)]
    untouched = [key for key in waiting if key not in begun]
    return tuple(
        _way(sheet, state, own, left, minutes, untouched[:count], bool(still_open))
        for count in range(len(untouched), -1, -1)
    )


def _way(
    sheet: FieldSheet,
    state: FieldState,
    own: dict[str, Minutes],
    left: Sequence[SheetStage],
    minutes: float,
    more: Sequence[str],
    still_open: bool,
) -> Way:
    begun = {s.zone for s in state.stages if s.zone and s.state is not StageIs.WAITING}
    cut = bool(begun or more)
    stages = [
        stage
        for stage in left
        if (stage.zone and (stage.zone in begun or stage.zone in more))
        or (not stage.zone and (cut or stage.kind == "clearing"))
    ]
    whole = {stage.zone for stage in left if stage.zone} <= begun | set(more)
    zones = tuple(dict.fromkeys(stage.zone for stage in stages if stage.zone))
    needed = _at(sheet, _sum(own, stages), 0.5) if stages else 0.0
    part = TrackState.CLOSED if cut else TrackState.AS_FOUND
    return Way(
        sentence=_sentence(sheet, zones, whole, cut, still_open),
        zones=zones,
        minutes=needed,
        chance=_chance(sheet, own, stages, minutes),
        state=TrackState.RESTORED if whole else part,
    )


def _sentence(
    sheet: FieldSheet, zones: Sequence[str], whole: bool, cut: bool, still_open: bool
) -> str:
    names = {zone.key: zone.zone.replace("_", " ") for zone in sheet.zones}
    if not cut:
        return "Cut nothing, clear up and hand the track back as it was found."
    said = " and ".join(names[zone] for zone in zones)
    if whole:
        return (
            f"Finish {said}, prove, measure and hand back."
            if said
            else "Prove, measure, hand back."
        )
    first = "Close the cavity first: finish" if still_open else "Finish"
    if not said:
        return (
            "Begin no further zone: prove and measure what is done, and hand back at the speed a "
            "qualified person sets."
        )
    return (
        f"{first} {said} only; begin no further zone, prove and measure, and hand back at the "
        "speed a qualified person sets. The rest becomes a new job."
    )


def _advice(sheet: FieldSheet, state: FieldState, ways: Sequence[Way], chance: float) -> str:
    """What can still be done at the set level, the most work first; or that nothing can."""
    level = _percent(sheet.set_chance)
    head = f"The chance to hand back in time is {_percent(chance)}, under the {level} set. "
    able = [way for way in ways if way.chance >= sheet.set_chance]
    if able:
        return f"{head}{able[0].sentence} Chance {_percent(able[0].chance)}. Tell the supervisor."
    if state.track is TrackState.OPEN:
        return (
            f"{head}A cavity is open and cannot be closed in time for sure. Finish it and tell the "
            "employee in charge and the dispatcher now that the track will be late: never hand "
            "back with an open cavity."
        )
    best = max(reversed(ways), key=lambda way: way.chance)  # of equals the one with less work
    return (
        f"{head}Nothing reaches the set chance; the best is: {best.sentence} Chance "
        f"{_percent(best.chance)}. Begin no cut. Tell the employee in charge and the supervisor "
        "now."
    )


def _percent(share: float) -> str:
    """Whole per cent, rounded down: under a level stays under it, and nothing is certain."""
    return f"{min(int(share * 100), 99)} %"
