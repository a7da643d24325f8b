"""The events as they count: each once, in one order, with what was corrected put right."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from repairs.field.events import Correction as CorrectionData
from repairs.field.events import Data, Event, Kind, read_data
from repairs.field.reading import BadEvent
from repairs.field.state import About, Correction, Said, as_json


@dataclass(frozen=True, slots=True)
class Counted:
    """Events that count, corrections beside what they correct, and what is wrong with any."""

    events: tuple[Event, ...]
    corrections: tuple[Correction, ...]
    said: tuple[Said, ...]


def in_order(events: Iterable[Event]) -> tuple[Event, ...]:
    """Each event once, by corrected time, then device, then its count on the device."""
    once: dict[str, Event] = {}
    for event in sorted(events, key=_wholly):
        once.setdefault(event.id, event)
    return tuple(once.values())


def _wholly(event: Event) -> tuple[object, ...]:
    """Two copies of one id that differ cannot come from the record; even so the answer is one."""
    return (*event.order, event.kind.value, repr(event.data))


def counted(events: Iterable[Event]) -> Counted:
    """Apply corrections: of several to one event the last counts."""
    row = in_order(events)
    by_id = {event.id: event for event in row}
    holds: dict[str, Event] = {}
    made: list[Correction] = []
    said: list[Said] = []
    for event in row:
        if not isinstance(event.data, CorrectionData):
            continue
        fault = _fault(event.data, by_id)
        if fault:
            said.append(Said(About.ENTRY, fault))
            continue
        holds[event.data.of] = event
        made.append(_shown(event, event.data, by_id[event.data.of]))
    kept = [_as_corrected(event, holds.get(event.id)) for event in row]
    return Counted(in_order(event for event in kept if event is not None), tuple(made), tuple(said))


def _fault(data: CorrectionData, by_id: dict[str, Event]) -> str:
    target = by_id.get(data.of)
    if target is None:
        return "A correction names an entry that has not arrived yet; it counts when it has."
    if target.kind is Kind.CORRECTION:
        return "A correction cannot be corrected; correct the first entry again."
    if data.data is None:
        return ""
    try:
        read_data(target.kind, data.data)
    except BadEvent as bad:
        return f"A correction cannot be read, and the entry stands as it was. {bad}"
    return ""


def _as_corrected(event: Event, correction: Event | None) -> Event | None:
    """The event as it counts, or None where it was struck out or is a correction itself."""
    if event.kind is Kind.CORRECTION:
        return None
    if correction is None:
        return event
    data = correction.data
    assert isinstance(data, CorrectionData)  # noqa: S101 - only corrections are put there
    if data.data is None:
        return None
    return replace(event, data=read_data(event.kind, data.data), at=data.at or event.at)


def _shown(event: Event, data: CorrectionData, target: Event) -> Correction:
    now = "struck out"
    if data.data is not None:
        at = f", at {data.at:%Y-%m-%d %H:%M}" if data.at else ""
        now = in_words(read_data(target.kind, data.data)) + at
    was = f"{target.kind.label}: {in_words(target.data)}".strip(": ")
    return Correction(event.id, data.of, was, now or "as it was", data.reason, event.by, event.at)


def in_words(data: Data) -> str:
    """What an event says beside its kind, as it was entered; empty where the kind says all."""
    held = as_json(data).items()
    said = (f"{k.replace('_', ' ')} {_said(v)}" for k, v in held if v not in (None, "", False, []))
    return ", ".join(said)


def _said(value: object) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{k.replace('_', ' ')} {v}" for k, v in value.items())
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)
