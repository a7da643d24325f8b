"""In what state the track is, from the stages that were begun and ended."""

from collections.abc import Sequence

from repairs.field.events import TrackState
from repairs.field.sheet import FieldSheet
from repairs.field.state import StageIs, StageState
from repairs.welding.timeline import HandBack

WORDS = {
    TrackState.AS_FOUND: "Nothing is cut. The track can go back as it was found, under the "
    "restriction it had.",
    TrackState.OPEN: "The cavity is open or the weld is not finished. The track cannot be handed "
    "back: go on, or close it to traffic.",
    TrackState.CLOSED: "The metal is back but not finished or not proved. The track can go back "
    "only at the speed a qualified person sets.",
    TrackState.RESTORED: "Finished, proved and measured. The track can go back when a qualified "
    "person has said at what speed.",
}


def open_zones(sheet: FieldSheet, stages: Sequence[StageState]) -> tuple[str, ...]:
    """Zones in which the track cannot be handed back: begun, and not yet closed.

    A zone is closed when the first stage after its open ones has ended.
    """
    by_key = {stage.key: stage for stage in stages}
    return tuple(
        zone.key
        for zone in sheet.zones
        if _is_open(
            [
                (s.hand_back, by_key[s.key].state, by_key[s.key].started_at is not None)
                for s in sheet.of_zone(zone.key)
            ]
        )
    )


def _is_open(stages: Sequence[tuple[HandBack, StageIs, bool]]) -> bool:
    never = [n for n, (hand_back, _, _) in enumerate(stages) if hand_back is HandBack.NEVER]
    if not never:
        return False
    touched = any(state is not StageIs.WAITING for _, state, _ in stages[: never[-1] + 1])
    closing = stages[never[-1] + 1 :][:1]
    again = any(state is StageIs.RUNNING for _, state, _ in stages[: never[-1] + 1])
    return again or (touched and not any(state is StageIs.DONE for _, state, _ in closing))


def finished_zones(sheet: FieldSheet, stages: Sequence[StageState]) -> tuple[str, ...]:
    """Zones whose last stage is done and that are not open."""
    by_key = {stage.key: stage for stage in stages}
    still_open = open_zones(sheet, stages)
    return tuple(
        zone.key
        for zone in sheet.zones
        if zone.key not in still_open
        and (own := sheet.of_zone(zone.key))
        and by_key[own[-1].key].state is StageIs.DONE
    )


def track_state(sheet: FieldSheet, stages: Sequence[StageState], proved: bool) -> TrackState:
    """The state the track is in now. ``proved``: penetrant clean and every reading within."""
    if open_zones(sheet, stages):
        return TrackState.OPEN
    touched = [s for s in stages if s.zone and s.state is not StageIs.WAITING]
    if not touched:
        return TrackState.AS_FOUND
    whole = len(finished_zones(sheet, stages)) == len(sheet.zones)
    return TrackState.RESTORED if whole and proved else TrackState.CLOSED
