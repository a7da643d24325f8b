"""Taking in what was entered at the trackside: each event once, and what follows from it."""

import json
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from repairs.field.chain import digest_of
from repairs.field.checking import check_fits
from repairs.field.events import Correction, Data, Kind, read_data
from repairs.field.reading import BadEvent, read_moment
from repairs.field.sheet import FieldSheet
from repairs.field.state import as_json
from repairs.models import FieldEvent, JobSheet
from repairs.services.field_effects import after_events
from repairs.services.field_rights import may_start, require_write
from repairs.services.field_rows import event_says, facts_of
from repairs.services.field_watch import watch_sheet
from turnouts.access import Forbidden
from turnouts.models import Person
from turnouts.services.errors import Refused

MOST_AT_ONCE = 200
LARGEST_DATA = 8_000
"""Letters of one event's data: a long note and more."""


@dataclass(frozen=True)
class Refusal:
    """An event that was not taken, and why in a sentence."""

    id: str
    sentence: str


@dataclass(frozen=True)
class Taken:
    """What became of a batch: ids taken, ids that were there already, and refusals."""

    taken: list[str]
    known: list[str]
    refused: list[Refusal]
    offset_s: float


@dataclass(frozen=True)
class _Given:
    """One event as it was sent, read."""

    id: UUID
    seq: int
    kind: Kind
    phone_at: datetime
    data: Data


@dataclass(frozen=True)
class _Batch:
    """What all events of a batch share."""

    by: Person
    sheet: JobSheet
    facts: FieldSheet
    device: str
    offset_s: float
    at: datetime
    entered_from: str
    worked_by: Person
    known: dict[UUID, FieldEvent]
    """Events of any sheet that are there already, among those sent."""
    chain: list[FieldEvent]
    """The last event of the sheet, and those kept after it."""


@transaction.atomic
def take_events(
    *,
    by: Person,
    sheet: JobSheet,
    device: str,
    phone_now: datetime,
    events: Sequence[Any],
    at: datetime,
    entered_from: str = "phone",
    worked_by: Person | None = None,
) -> Taken:
    """Keep events of a sheet; one that is there already does nothing.

    ``phone_now`` is the phone's clock as it sends; what it is off is put right in each event's
    time. An event that cannot be read is refused alone. Only people on the sheet or its
    supervisors may send. ``worked_by`` is who began the work where somebody else types it.
    """
    require_write(by, sheet)
    if len(events) > MOST_AT_ONCE:
        raise Refused(f"At most {MOST_AT_ONCE} events can be sent at once; send them in parts.")
    if not device.strip() or len(device) > 40 or "\x00" in device:
        raise Refused("Give the device's id, of 40 characters at most.")
    # Locked, so that two phones at once number their events one after the other.
    row = JobSheet.objects.select_for_update(of=("self",)).get(pk=sheet.pk)
    offset_s = (at - phone_now).total_seconds()
    last = row.field_events.order_by("-number").first()
    batch = _Batch(
        by,
        row,
        facts_of(row),
        device.strip(),
        offset_s,
        at,
        entered_from,
        worked_by or by,
        known=_known(events),
        chain=[last] if last else [],
    )
    answer = Taken([], [], [], offset_s)
    for raw in events:
        _take(batch, raw, answer)
    if answer.taken:
        after_events(sheet=row, by=by, at=at)
        watch_sheet(sheet=row, at=at)
    return answer


def _known(events: Sequence[Any]) -> dict[UUID, FieldEvent]:
    ids = []
    for raw in events:
        with suppress(BadEvent):  # refused with its sentence when it is read
            ids.append(_identity(raw.get("id") if isinstance(raw, dict) else None))
    return {row.event_id: row for row in FieldEvent.objects.filter(event_id__in=ids)}


def _take(batch: _Batch, raw: Any, answer: Taken) -> None:
    name = str(raw.get("id", ""))[:60] if isinstance(raw, dict) else ""
    try:
        given = _read(batch, raw)
        present = batch.known.get(given.id)
        if present is not None:
            _check_same_sheet(present, batch)
            answer.known.append(str(given.id))
            return
        _check_start(batch, given)
    except (BadEvent, Forbidden) as refusal:
        answer.refused.append(Refusal(name, str(refusal)))
        return
    _keep(batch, given)
    answer.taken.append(str(given.id))


def _read(batch: _Batch, raw: Any) -> _Given:
    if not isinstance(raw, dict):
        raise BadEvent("An event must be an object with id, seq, kind, phone_at and data.")
    if unknown := set(raw) - {"id", "seq", "device", "kind", "phone_at", "data"}:
        raise BadEvent(f"An event has no field {str(min(unknown, key=str))[:40]}.")
    given = _Given(
        id=_identity(raw.get("id")),
        seq=_count(raw.get("seq")),
        kind=_kind(raw.get("kind")),
        phone_at=read_moment("Event", "phone_at", raw.get("phone_at")),
        data=_data(_kind(raw.get("kind")), raw.get("data", {})),
    )
    check_fits(batch.facts, given.data)
    _check_correction(batch, given.data)
    return given


def _identity(value: Any) -> UUID:
    try:
        return UUID(str(value))
    except ValueError:
        raise BadEvent("An event needs an id of its own, a UUID.") from None


def _count(value: Any) -> int:
    if type(value) is not int or not 0 <= value < 2**31:
        raise BadEvent("An event needs seq, its number on the device, a whole number from 0.")
    return value


def _kind(value: Any) -> Kind:
    try:
        return Kind(value)
    except ValueError:
        known = ", ".join(kind.value for kind in Kind)
        raise BadEvent(f"The kind of an event must be one of {known}.") from None


def _data(kind: Kind, value: Any) -> Data:
    try:
        written = json.dumps(value, allow_nan=False)
    except ValueError:
        raise BadEvent("The data of an event holds a number beyond all bounds.") from None
    if len(written) > LARGEST_DATA:
        raise BadEvent(f"The data of an event may have {LARGEST_DATA} letters at most.")
    if "\\u0000" in written:
        raise BadEvent("The data of an event holds a sign that no record can hold.")
    return read_data(kind, value)


def _check_correction(batch: _Batch, data: Data) -> None:
    """Where the corrected event is here already, the correction must be one that it can take."""
    if not isinstance(data, Correction):
        return
    target = FieldEvent.objects.filter(event_id=data.of).first()
    if target is None:
        return
    _check_same_sheet(target, batch)
    if target.kind == Kind.CORRECTION.value:
        raise BadEvent("A correction cannot be corrected; correct the first entry again.")
    if data.data is not None:
        check_fits(batch.facts, read_data(Kind(target.kind), data.data))


def _check_same_sheet(row: FieldEvent, batch: _Batch) -> None:
    if row.sheet_id != batch.sheet.pk:
        raise BadEvent("That event belongs to another job sheet.")


def _check_start(batch: _Batch, given: _Given) -> None:
    """Nobody starts who is not qualified that day; whatever else happened is a fact and is kept."""
    if given.kind is not Kind.STARTED:
        return
    begun = given.phone_at + timedelta(seconds=batch.offset_s)
    answer = may_start(batch.worked_by, batch.sheet, timezone.localdate(begun))
    if not answer.yes:
        raise Forbidden(answer.sentence)


def _keep(batch: _Batch, given: _Given) -> None:
    last = batch.chain[-1] if batch.chain else None
    row = FieldEvent(
        sheet=batch.sheet,
        number=last.number + 1 if last else 1,
        event_id=given.id,
        device=batch.device,
        seq=given.seq,
        kind=given.kind.value,
        phone_at=given.phone_at,
        offset_s=batch.offset_s,
        at=given.phone_at + timedelta(seconds=batch.offset_s),
        received_at=batch.at,
        by=batch.by,
        entered_from=batch.entered_from,
        data=kept_data(given.data),
        previous=last.sha256 if last else "",
    )
    row.sha256 = digest_of(event_says(row, batch.sheet.number), row.previous)
    row.save(force_insert=True)
    batch.known[given.id] = row
    batch.chain.append(row)


def kept_data(data: Data) -> dict[str, Any]:
    """The data as it is kept: exact numbers as text, what is empty left out."""
    written = {k: v for k, v in as_json(data).items() if v not in (None, "") and v is not False}
    if isinstance(data, Correction):
        written["data"] = None if data.data is None else _exact(data.data)
    return written


def _exact(data: Mapping[str, Any]) -> dict[str, Any]:
    """Broken numbers as text: the database writes some of them another way than they came."""
    return {k: str(v) if isinstance(v, float) else v for k, v in data.items()}
