"""The one sentence or two that can be read over the radio."""

from datetime import date

from repairs.triage.decision import Finding, Missing, Traffic, TrafficKind
from repairs.triage.disposition import Choice
from repairs.triage.facts import Case
from repairs.triage.words import CLASS_NAMES, joined, said_speed
from turnouts.analysis.terms import Disposition

_WORK = {Disposition.WATCH: "Watch, and look again", Disposition.MEASURE_FIRST: "Measure first,"}


def radio_sentence(
    case: Case,
    traffic: Traffic,
    governing: list[Finding],
    choice: Choice,
    to_measure: tuple[Missing, ...],
    due_on: date,
    measure_by: date | None,
) -> str:
    """Traffic first, then why, then what is missing, then what is to be done and by when."""
    part = case.component.kind.label.lower()
    reasons = " ".join(f.sentence for f in governing)
    asked = {m.what for m in choice.missing}
    wanted = [m.what for m in to_measure if m.blocks or m.what in asked]
    measure = f"Find out by {measure_by:%d %b %Y}: {joined(wanted)}." if wanted else ""
    # what the law itself says of the work has been said as the reason for the speed
    why = "" if choice.reason in reasons else f": {choice.reason}"
    work = f"{_WORK.get(choice.disposition, choice.disposition.label)} by {due_on:%d %b %Y}{why}."
    said = (_traffic_said(traffic, case, part), reasons, measure, work)
    return " ".join(words for words in said if words)


def _traffic_said(traffic: Traffic, case: Case, part: str) -> str:
    if traffic.kind is TrafficKind.STOP:
        return f"Stop: no trains over the {part}."
    if traffic.kind is TrafficKind.UNKNOWN:
        return (
            f"No speed is cleared over the {part}: a restriction in force stays and a qualified "
            f"person decides.{_at_most(traffic)}"
        )
    speed = said_speed(traffic.speed_mph, traffic.passenger_mph) if traffic.speed_mph else ""
    if traffic.kind is TrafficKind.RESTRICTED:
        return f"Not over {speed} over the {part}."
    if traffic.speed_mph is None:
        return f"Line speed over the {part}: the limits asked here are met."
    track_class = case.track.track_class
    named = CLASS_NAMES[track_class] if track_class is not None else "its class"
    return f"Speed of {named}, {speed}: the limits asked here are met."


def _at_most(traffic: Traffic) -> str:
    if traffic.speed_mph is None:
        return ""
    return f" Never over {said_speed(traffic.speed_mph, traffic.passenger_mph)}."
