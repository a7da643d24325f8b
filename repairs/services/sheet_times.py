"""The clock of a job sheet: when each stage should begin, and when it must not begin any more."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from repairs.welding.timeline import HandBack

KEPT = ("key", "name", "median_min", "p80_min", "open_cavity", "hand_back")
MADE_OF = {
    "fixed_min": "fixed_min",
    "work_min": "work_min",
    "sigma": "work_sigma",
    "wait_min": "wait_min",
    "rows_work_min": "rows_work_min",
}
"""What a stage's minutes are made of: the name on the sheet, and that in the estimate."""

STATES: dict[HandBack, str] = {
    HandBack.AS_FOUND: "Nothing is cut yet. The track can go back as it was found, under the "
    "restriction it had.",
    HandBack.NEVER: "The cavity is open or the weld is not finished. The track cannot be handed "
    "back: go on, or close it to traffic.",
    HandBack.CLOSED: "The metal is back but not finished or not proved. The track can go back only "
    "at the speed a qualified person sets.",
    HandBack.RESTORED: "Finished and proved. The track can go back when the final readings are "
    "within their limits and a qualified person has said at what speed.",
}
"""What may be done if work stops as a stage of this kind ends."""


def stages_by_the_clock(
    detail: Mapping[str, Any], planned_start: datetime, hand_back_at: datetime
) -> list[dict[str, Any]]:
    """Each stage of an estimate with its planned beginning and the last moment for it.

    Planned times add up the medians. The last moment leaves the 95 % time of all that follows, so
    a stage begun by then ends in the track handed back in time in 19 of 20 cases. ``remaining``
    is what is left from its beginning, at the probabilities of the sheet; estimates kept before
    they had it give none.
    """
    stages = detail["stages"]
    left = detail["remaining"]["minutes"] if "remaining" in detail else [None] * len(stages)
    begins = planned_start
    timed = []
    for stage, remaining in zip(stages, left, strict=True):
        last = hand_back_at - timedelta(minutes=stage["remaining_p95_min"])
        timed.append(
            {name: stage[name] for name in KEPT}
            | {
                "begins_at": begins.isoformat(timespec="seconds"),
                "last_start_at": last.isoformat(timespec="seconds"),
                "late": begins > last,
            }
            | _made_of(stage, remaining)
        )
        begins += timedelta(minutes=stage["median_min"])
    return timed


def _made_of(stage: dict[str, Any], remaining: list[float] | None) -> dict[str, Any]:
    if remaining is None:
        return {}
    return {name: stage[kept] for name, kept in MADE_OF.items()} | {"remaining": remaining}


def hand_back_states(stages: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """In which states the track may be handed back, and after which stages it is in each."""
    return [
        {
            "state": state.value,
            "says": says,
            "after": [stage["name"] for stage in stages if stage["hand_back"] == state.value],
        }
        for state, says in STATES.items()
        if any(stage["hand_back"] == state.value for stage in stages)
    ]
