"""What a phone needs of a job sheet to work by it: the sheet, its events, what is so, the clock."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.utils import timezone

from repairs.field.clock import clock
from repairs.field.reduce import state_of
from repairs.field.sheet import FieldSheet
from repairs.field.state import as_json
from repairs.models import FieldEvent, FieldPhoto, JobSheet
from repairs.services.field_rights import may_start
from repairs.services.field_rows import as_event, events_of, facts_of
from turnouts.models import Person


def work_of_sheet(sheet: JobSheet, reader: Person, at: datetime) -> dict[str, Any]:
    """Everything the page at the trackside opens with, plain."""
    facts = facts_of(sheet)
    begins = may_start(reader, sheet, timezone.localdate(at))
    return {
        "sheet": {"number": sheet.number, "content": sheet.content},
        "stages": stages_of(facts),
        "probabilities": list(facts.probabilities),
        "chance": sheet.content["track_time"]["chance"],
        "set_chance": facts.set_chance,
        "starts_at": facts.starts_at.isoformat(),
        "hand_back_at": facts.hand_back_at.isoformat(),
        "person": {"name": str(reader), "username": reader.username},
        "may_start": {"yes": begins.yes, "sentence": begins.sentence},
        "withdrawn": sheet.withdrawn_at is not None,
        "superseded_by": superseded_by(sheet),
        **now_of(sheet, at, facts),
    }


def now_of(sheet: JobSheet, at: datetime, facts: FieldSheet | None = None) -> dict[str, Any]:
    """The events of a sheet, what follows from them, and the clock."""
    facts = facts or facts_of(sheet)
    rows = events_of(sheet)
    state = state_of(facts, [as_event(row) for row in rows])
    return {
        "events": events_said(rows),
        "state": as_json(state),
        "outlook": as_json(clock(facts, state, at)),
    }


def stages_of(facts: FieldSheet) -> list[dict[str, Any]]:
    """The stages with what each is made of, as the clock on the phone reckons with them."""
    kept = (
        "key",
        "name",
        "kind",
        "zone",
        "hand_back",
        "open_cavity",
        "fixed_min",
        "work_min",
        "sigma",
        "wait_min",
        "median_min",
        "remaining",
    )
    return [{name: as_json(getattr(stage, name)) for name in kept} for stage in facts.stages]


def events_said(rows: Sequence[FieldEvent]) -> list[dict[str, Any]]:
    """The events as they stand in the record, in the order they arrived."""
    pictured = set(FieldPhoto.objects.filter(event__in=rows).values_list("event_id", flat=True))
    return [
        {
            "id": str(row.event_id),
            "number": row.number,
            "device": row.device,
            "seq": row.seq,
            "kind": row.kind,
            "data": row.data,
            "at": row.at.isoformat(),
            "phone_at": row.phone_at.isoformat(),
            "offset_s": row.offset_s,
            "received_at": row.received_at.isoformat(),
            "by": str(row.by),
            "entered_from": row.entered_from,
            "has_picture": row.pk in pictured,
        }
        for row in rows
    ]


def superseded_by(sheet: JobSheet) -> str | None:
    """The number of the sheet that stands in this one's place, if another does."""
    standing = sheet.job.sheets.filter(withdrawn_at__isnull=True).exclude(pk=sheet.pk).first()
    return None if standing is None else standing.number
