"""What a paper sheet says, entered at the office as the same events a phone would send."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID, uuid5

from django.db import transaction

from repairs.field.events import BadEvent, Kind, read_data
from repairs.models import FieldEvent, JobSheet
from repairs.services.field_events import Taken, kept_data, take_events
from repairs.services.field_rights import require_write
from turnouts.models import Person
from turnouts.services.errors import Conflict, Refused

SPACE = UUID("6c2a8d0e-41a7-4f7e-8f0b-7d4f0a9b5c12")
DEVICE = "paper"


@dataclass(frozen=True)
class PaperEntry:
    """One box of a paper sheet that is filled in.

    ``box`` is its name on the form, the same every time; ``at`` is when it happened. ``clocked``
    is False where the paper has no time for it and ``at`` only follows from the others.
    """

    box: str
    name: str
    kind: Kind
    at: datetime
    data: Mapping[str, Any] = field(default_factory=dict)
    clocked: bool = True


def entered_from_paper(sheet: JobSheet) -> dict[UUID, FieldEvent]:
    """What was entered from this sheet's paper so far, by the identity of its box."""
    rows = sheet.field_events.filter(entered_from="paper")
    return {row.event_id: row for row in rows}


def box_id(sheet: JobSheet, box: str) -> UUID:
    """The identity of a box: the same box of the same sheet is the same event."""
    return uuid5(SPACE, f"{sheet.number} {box}")


@transaction.atomic
def enter_from_paper(
    *,
    by: Person,
    sheet: JobSheet,
    worked_by: Person,
    entries: Sequence[PaperEntry],
    at: datetime,
) -> Taken:
    """Keep what a paper sheet says, all of it or nothing; a box entered before does nothing.

    ``worked_by`` led the work and must have been allowed to start it; ``by`` types. Raises
    Conflict where a box was entered before with something else, Refused where an entry cannot be.
    """
    require_write(by, sheet)
    if not entries:
        raise Refused("Nothing is filled in; enter what the paper sheet says.")
    if late := next((one for one in entries if one.at > at), None):
        raise Refused(f"{late.name}: that moment has not come yet; correct its time.")
    # Locked, so that two people typing one sheet come one after the other.
    row = JobSheet.objects.select_for_update(of=("self",)).get(pk=sheet.pk)
    there = entered_from_paper(row)
    for one in entries:
        _check_same(one, there.get(box_id(row, one.box)))
    events = [_event(row, number, one) for number, one in enumerate(_in_order(entries), start=1)]
    done = take_events(
        by=by,
        sheet=row,
        device=DEVICE,
        phone_now=at,
        events=events,
        at=at,
        entered_from="paper",
        worked_by=worked_by,
    )
    if done.refused:
        names = {str(box_id(row, one.box)): one.name for one in entries}
        said = (f"{names[one.id]}: {one.sentence}" for one in done.refused)
        raise Refused(" ".join(said))
    return done


def _in_order(entries: Sequence[PaperEntry]) -> list[PaperEntry]:
    return sorted(entries, key=lambda one: one.at)


def _event(sheet: JobSheet, number: int, one: PaperEntry) -> dict[str, Any]:
    return {
        "id": str(box_id(sheet, one.box)),
        "seq": number,
        "kind": one.kind.value,
        "phone_at": one.at.isoformat(),
        "data": dict(one.data),
    }


def _check_same(one: PaperEntry, row: FieldEvent | None) -> None:
    if row is None:
        return
    try:
        same = row.data == kept_data(read_data(one.kind, dict(one.data)))
    except BadEvent as fault:
        raise Refused(f"{one.name}: {fault}") from None
    if not same or (one.clocked and row.at != one.at):
        raise Conflict(
            f"{one.name} was entered from paper already, as something else. Nothing is written "
            "over: correct that entry on the working page of the sheet, where both stay."
        )
