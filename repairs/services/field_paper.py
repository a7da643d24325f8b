"""What a paper sheet says, entered at the office as the same events a phone would send."""

from collections.abc import Iterator, Mapping, Sequence
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
    reason: str = "",
) -> Taken:
    """Keep what a paper sheet says, all of it or nothing; a box entered before does nothing.

    ``worked_by`` led the work and must have been allowed to start it; ``by`` types. A box entered
    before with something else is corrected for the ``reason``, and both stand; Conflict without
    one. Refused where an entry cannot be.
    """
    require_write(by, sheet)
    if not entries:
        raise Refused("Nothing is filled in; enter what the paper sheet says.")
    if late := next((one for one in entries if one.at > at), None):
        raise Refused(f"{late.name}: that moment has not come yet; correct its time.")
    # Locked, so that two people typing one sheet come one after the other.
    row = JobSheet.objects.select_for_update(of=("self",)).get(pk=sheet.pk)
    events = [
        event
        for number, one in enumerate(_in_order(entries), start=1)
        for event in _events(row, number, one, reason.strip(), at)
    ]
    done = take_events(
        by=by,
        sheet=row,
        device=DEVICE,
        phone_now=at,
        events=[event for _, event in events],
        at=at,
        entered_from="paper",
        worked_by=worked_by,
    )
    if done.refused:
        names = {event["id"]: name for name, event in events}
        said = (f"{names[one.id]}: {one.sentence}" for one in done.refused)
        raise Refused(" ".join(said))
    return done


def _in_order(entries: Sequence[PaperEntry]) -> list[PaperEntry]:
    return sorted(entries, key=lambda one: one.at)


def _events(
    sheet: JobSheet, number: int, one: PaperEntry, reason: str, at: datetime
) -> Iterator[tuple[str, dict[str, Any]]]:
    """The box's own event, and a correction of it where it says something else now."""
    own = str(box_id(sheet, one.box))
    row = FieldEvent.objects.filter(event_id=own).first()
    if row is None:
        yield one.name, _event(own, number, one.kind, one.at, dict(one.data))
        return
    corrections = sheet.field_events.filter(kind=Kind.CORRECTION.value, data__of=own)
    if _says_so(one, row, corrections.order_by("-number").first()):
        yield one.name, _event(own, number, one.kind, row.at, row.data)
        return
    if not reason:
        raise Conflict(
            f"{one.name} was entered from paper already, as something else. Nothing is written "
            "over: say why it is corrected, and both will stand."
        )
    data = {"of": own, "reason": reason[:300], "data": dict(one.data)}
    data |= {"at": one.at.isoformat()} if one.clocked else {}
    again = str(box_id(sheet, f"{one.box}, correction {corrections.count() + 1}"))
    yield one.name, _event(again, number, Kind.CORRECTION, at, data)


def _event(
    name: str, number: int, kind: Kind, at: datetime, data: dict[str, Any]
) -> dict[str, Any]:
    return {
        "id": name,
        "seq": number,
        "kind": kind.value,
        "phone_at": at.isoformat(),
        "data": data,
    }


def _says_so(one: PaperEntry, row: FieldEvent, corrected: FieldEvent | None) -> bool:
    """Whether the box says what holds of it now."""
    data, at = row.data, row.at
    if corrected is not None:
        data = corrected.data["data"]
        if "at" in corrected.data:
            at = datetime.fromisoformat(corrected.data["at"])
    if data is None or (one.clocked and at != one.at):
        return False
    try:
        return kept_data(read_data(one.kind, data)) == kept_data(
            read_data(one.kind, dict(one.data))
        )
    except BadEvent as fault:
        raise Refused(f"{one.name}: {fault}") from None
