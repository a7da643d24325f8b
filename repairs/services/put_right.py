"""Putting one entry of a record right: what was entered first stays beside it.

The correction is an event like any other. Before the signature it is only written down; after it a
correction of the signed record takes it up, in one go (:mod:`repairs.services.field_records`).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from repairs.field.corrected import counted
from repairs.field.events import BadEvent, Kind, read_data
from repairs.models import FieldEvent, JobSheet
from repairs.services.field_events import kept_data, take_events
from repairs.services.field_rights import require_write
from repairs.services.field_rows import as_event, events_of
from turnouts.models import Person
from turnouts.services.errors import Conflict, Refused

DEVICE = "office"


@dataclass(frozen=True)
class PutRight:
    """What is to hold in place of one entry.

    ``name`` is the id of the correction, chosen when the entry was looked at: the same one again
    does nothing. ``held`` is the id of the correction that held then, None where there was none.
    ``data`` None strikes the entry out; ``happened_at`` is its moment where that was wrong.
    """

    of: UUID
    name: UUID
    held: UUID | None
    data: Mapping[str, Any] | None
    reason: str
    happened_at: datetime | None = None


@dataclass(frozen=True)
class Standing:
    """What holds of an entry: its data (None: struck out), its moment, and what corrected it."""

    data: Mapping[str, Any] | None
    at: datetime
    by: FieldEvent | None

    @property
    def held(self) -> UUID | None:
        """The id of the correction that holds, as a form carries it."""
        return self.by.event_id if self.by else None


def standing_of(entry: FieldEvent, rows: Sequence[FieldEvent]) -> Standing:
    """What holds of one entry of a sheet, whose entries are ``rows``."""
    of = str(entry.event_id)
    made = [one for one in counted(map(as_event, rows)).corrections if one.of == of]
    if not made:
        return Standing(entry.data, entry.at, None)
    last = next(row for row in rows if str(row.event_id) == made[-1].event)
    moved = last.data.get("at")
    at = datetime.fromisoformat(moved) if moved else entry.at
    return Standing(last.data["data"], at, last)


@transaction.atomic
def put_entry_right(*, by: Person, sheet: JobSheet, change: PutRight, at: datetime) -> FieldEvent:
    """Put one entry right before the record is signed; both stay, with who, when and why.

    Conflict where somebody else put it right meanwhile or the record is signed, Refused where
    nothing would change or no reason is given. Put right again in the same way does nothing.
    """
    require_write(by, sheet)
    row = JobSheet.objects.select_for_update(of=("self",)).get(pk=sheet.pk)
    if (known := known_change(row, change)) is not None:
        return known
    if row.records.exists():
        raise Conflict(
            f"The record of sheet {row.number} is signed, so its entries stay as they are. Open "
            "the entry again: a correction of the signed record puts it right, under your name."
        )
    return write_change(by=by, sheet=row, change=change, at=at)


def known_change(sheet: JobSheet, change: PutRight) -> FieldEvent | None:
    """The correction where it was written down before."""
    row = FieldEvent.objects.filter(event_id=change.name).first()
    if row is not None and (row.sheet_id != sheet.pk or row.kind != Kind.CORRECTION.value):
        raise Refused("That id belongs to something else. Open the entry again.")
    return row


def write_change(*, by: Person, sheet: JobSheet, change: PutRight, at: datetime) -> FieldEvent:
    """Write the correction down. The caller holds the sheet and has looked whether it is known."""
    rows = events_of(sheet)
    entry = next((row for row in rows if row.event_id == change.of), None)
    if entry is None or entry.kind == Kind.CORRECTION.value:
        raise Refused(f"Sheet {sheet.number} has no such entry that can be put right.")
    standing = standing_of(entry, rows)
    refuse_if_moved(standing, change.held)
    moment = change.happened_at or entry.at
    if moment > at:
        raise Refused("That moment has not come yet; put its time right.")
    _refuse_if_same(Kind(entry.kind), standing, change, moment)
    if not change.reason.strip():
        raise Refused("Say why it is put right; the reason stands beside both.")
    data = {"of": str(entry.event_id), "reason": change.reason.strip()[:300], "data": change.data}
    data |= {"at": moment.isoformat()} if moment != entry.at else {}
    done = take_events(
        by=by,
        sheet=sheet,
        device=DEVICE,
        phone_now=at,
        events=[
            {
                "id": str(change.name),
                "seq": sum(row.device == DEVICE for row in rows) + 1,
                "kind": Kind.CORRECTION.value,
                "phone_at": at.isoformat(),
                "data": data,
            }
        ],
        at=at,
        entered_from="office",
    )
    if done.refused:
        raise Refused(done.refused[0].sentence)
    return FieldEvent.objects.get(event_id=change.name)


def refuse_if_moved(standing: Standing, held: UUID | None) -> None:
    """Raise Conflict where another correction holds than the one somebody saw."""
    if standing.held == held:
        return
    by = standing.by
    said = f" by {by.by}: {by.data['reason']}" if by else ""
    raise Conflict(
        f"This entry was put right meanwhile{said}. Nothing of yours was kept; look at it as it "
        "is now and decide again."
    )


def _refuse_if_same(kind: Kind, standing: Standing, change: PutRight, moment: datetime) -> None:
    if change.data is None or standing.data is None:
        same = change.data is None and standing.data is None
    else:
        try:
            given = kept_data(read_data(kind, change.data))
        except BadEvent as fault:
            raise Refused(str(fault)) from None
        same = given == kept_data(read_data(kind, standing.data)) and moment == standing.at
    if same:
        raise Refused("Nothing is changed: say what holds instead, or strike the entry out.")
