"""Events as rows and as the pure package sees them, and the chain over them."""

from collections.abc import Iterable
from typing import Any

from repairs.field.chain import Link, first_break
from repairs.field.events import Event, Kind, read_data
from repairs.field.reduce import state_of
from repairs.field.sheet import FieldSheet, sheet_facts
from repairs.field.state import FieldState
from repairs.models import FieldEvent, JobSheet


def facts_of(sheet: JobSheet) -> FieldSheet:
    """What reducer and clock need of the sheet."""
    return sheet_facts(sheet.number, sheet.content)


def events_of(sheet: JobSheet) -> list[FieldEvent]:
    """The rows of a sheet in the order they arrived."""
    return list(sheet.field_events.select_related("by").order_by("number"))


def as_event(row: FieldEvent) -> Event:
    """A row as the pure package sees it."""
    kind = Kind(row.kind)
    return Event(
        id=str(row.event_id),
        device=row.device,
        seq=row.seq,
        kind=kind,
        at=row.at,
        by=str(row.by),
        data=read_data(kind, row.data),
        clock_off_s=row.offset_s,
        entered_from=row.entered_from,
    )


def field_state(sheet: JobSheet, rows: Iterable[FieldEvent] | None = None) -> FieldState:
    """What is so of a sheet by its events."""
    rows = events_of(sheet) if rows is None else rows
    return state_of(facts_of(sheet), [as_event(row) for row in rows])


def event_says(row: FieldEvent, sheet_number: str) -> dict[str, Any]:
    """What the digest of an event is taken of."""
    return {
        "sheet": sheet_number,
        "number": row.number,
        "id": str(row.event_id),
        "device": row.device,
        "seq": row.seq,
        "kind": row.kind,
        "phone_at": row.phone_at.timestamp(),
        "offset_s": row.offset_s,
        "at": row.at.timestamp(),
        "received_at": row.received_at.timestamp(),
        "by": row.by_id,
        "entered_from": row.entered_from,
        "data": row.data,
    }


def event_links(rows: Iterable[FieldEvent], sheet_number: str) -> list[Link]:
    """The chain of a sheet's events, to be looked over."""
    return [
        Link(
            f"Entry {row.number} of sheet {sheet_number}",
            event_says(row, sheet_number),
            row.previous,
            row.sha256,
        )
        for row in rows
    ]


def break_in_events(sheet: JobSheet) -> str:
    """The first break in the chain of a sheet's events, in a sentence, or the empty one."""
    return first_break(event_links(events_of(sheet), sheet.number))
