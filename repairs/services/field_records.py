"""Signing the record of a job, correcting it afterwards, and looking whether anything was changed.

A signed record is never altered. A correction follows it and both stand; each record carries the
SHA-256 of itself and of the one before it, over all jobs of the railway.
"""

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from django.db import connection, transaction
from django.utils import timezone

from repairs.field.chain import Link, digest_of, first_break
from repairs.field.reduce import state_of
from repairs.field.state import FieldState, as_json
from repairs.models import FieldRecord, JobSheet
from repairs.services.closing_changes import propose_closing_change
from repairs.services.field_closing import close_job
from repairs.services.field_effects import close_what_nobody_handed_back
from repairs.services.field_rights import qualification_on
from repairs.services.field_rows import as_event, break_in_events, events_of, facts_of
from repairs.services.field_work import events_said
from repairs.services.put_right import PutRight, known_change, write_change
from repairs.signed import follow
from turnouts.access import Action, Forbidden, acting_role, may
from turnouts.analysis.terms import Role
from turnouts.models import Person
from turnouts.services.errors import Conflict, Refused
from turnouts.services.tonnage import during_mgt

_ONE_AT_A_TIME = 0x5349474E
"""Key of the database's lock under which records are numbered."""


def may_sign(person: Person, sheet: JobSheet) -> bool:
    """Supervisors and engineers of the territory, and whoever on the sheet is qualified for it."""
    territory = sheet.job.turnout.territory
    if not may(person, Action.SIGN, territory):
        return False
    if acting_role(person, Action.SIGN, territory) is not Role.WELDER:
        return True
    day = timezone.localdate(sheet.starts_at)
    on_it = sheet.people.filter(pk=person.pk).exists()
    return on_it and qualification_on(person, sheet.job.procedure, day) is not None


@transaction.atomic
def sign_record(*, by: Person, sheet: JobSheet, statement: str, at: datetime) -> FieldRecord:
    """Put a name to the record as it stands, and close the job.

    Raises Conflict where it was signed before, Refused while the track is not handed back.
    """
    _require_sign(by, sheet)
    row = JobSheet.objects.select_for_update(of=("self",)).get(pk=sheet.pk)
    if row.records.exists():
        raise Conflict(f"The record of sheet {row.number} is signed; correct it instead.")
    facts, events = facts_of(row), events_of(row)
    state = state_of(facts, [as_event(event) for event in events])
    if not state.is_over:
        raise Refused(
            f"Sheet {row.number} is not ended: hand the track back or break the job off first."
        )
    _refuse_if_broken(row)
    closed = close_job(sheet=row, facts=facts, state=state, by=by, at=at)
    close_what_nobody_handed_back(row, state, at)
    content = _content(row, state) | {"closed": as_json(closed)} | _carried(row, state.ended_at)
    return _keep(row, by, at, "signed", statement, content)


@transaction.atomic
def correct_record(
    *,
    by: Person,
    sheet: JobSheet,
    statement: str,
    at: datetime,
    change: PutRight | None = None,
) -> FieldRecord:
    """Follow a signed record by a correction: what is wrong with it, and the entries as they are.

    Entries that came or were corrected after the signature are part of it. Both stand. ``change``
    puts one entry right at the same time, once. Refused where nothing is said or nothing is new.
    """
    _require_sign(by, sheet)
    row = JobSheet.objects.select_for_update(of=("self",)).get(pk=sheet.pk)
    last = row.records.order_by("-number").first()
    if last is None:
        raise Refused(f"The record of sheet {row.number} is not signed yet; sign it first.")
    if not statement.strip():
        raise Refused("Say what is corrected and why; it stands beside what was signed.")
    _refuse_if_broken(row)
    if change is not None:
        taken_up = _taken_up(row, change)
        if taken_up is not None:
            return taken_up
        if known_change(row, change) is None:
            write_change(by=by, sheet=row, change=change, at=at)
    _refuse_if_nothing_new(row, last, statement)
    facts, events = facts_of(row), events_of(row)
    state = state_of(facts, [as_event(event) for event in events])
    made = _keep(row, by, at, "correction", statement, _content(row, state))
    propose_closing_change(record=made, facts=facts, state=state, at=at)
    return made


def _taken_up(sheet: JobSheet, change: PutRight) -> FieldRecord | None:
    """The record that took a change of an entry up already: the same one again does nothing."""
    name = str(change.name)
    for record in sheet.records.order_by("number"):
        if any(one["id"] == name for one in record.content["events"]):
            return record
    return None


def _refuse_if_nothing_new(sheet: JobSheet, last: FieldRecord, statement: str) -> None:
    """The same words over the same entries say nothing that is not signed already."""
    head = sheet.field_events.order_by("-number").values_list("sha256", flat=True).first() or ""
    if last.content["events_sha256"] == head and last.statement == statement.strip()[:1000]:
        raise Refused(
            "Nothing is corrected: these words were signed already, and no entry came or was put "
            "right since."
        )


def _require_sign(by: Person, sheet: JobSheet) -> None:
    if not may_sign(by, sheet):
        raise Forbidden(
            f"Only a supervisor, an engineer, or somebody on sheet {sheet.number} who is qualified "
            "for it may sign its record."
        )


def _refuse_if_broken(sheet: JobSheet) -> None:
    broken = break_in_events(sheet)
    if broken:
        raise Conflict(f"The entries of this sheet do not hold together. {broken}")


def _content(sheet: JobSheet, state: FieldState) -> dict[str, Any]:
    rows = events_of(sheet)
    pictures = {str(row.event_id): row.picture.sha256 for row in rows if hasattr(row, "picture")}
    return {
        "sheet": sheet.number,
        "job": sheet.job.reference,
        "procedure": sheet.job.procedure,
        "crew": sheet.crew,
        "state": as_json(state),
        "events": events_said(rows),
        "pictures": pictures,
        "events_sha256": rows[-1].sha256 if rows else "",
    }


def _carried(sheet: JobSheet, ended: datetime) -> dict[str, Any]:
    """What had passed over the component in its present place by the end of the work, in MGT."""
    stay = sheet.job.component.installations.filter(
        turnout=sheet.job.turnout, removed_on__isnull=True
    ).first()
    if stay is None:
        return {"tonnage_mgt": None, "tonnage_why_not": "The component is in no turnout."}
    try:
        passed = during_mgt(stay, timezone.localdate(ended))
    except Refused as refusal:
        return {"tonnage_mgt": None, "tonnage_why_not": str(refusal)}
    return {"tonnage_mgt": str(stay.mgt_at_installation + passed), "tonnage_why_not": ""}


def _keep(
    sheet: JobSheet, by: Person, at: datetime, kind: str, statement: str, content: dict[str, Any]
) -> FieldRecord:
    with connection.cursor() as cursor:
        cursor.execute("select pg_advisory_xact_lock(%s)", [_ONE_AT_A_TIME])
    last = FieldRecord.objects.order_by("-serial").first()
    row = FieldRecord(
        sheet=sheet,
        serial=last.serial + 1 if last else 1,
        number=sheet.records.count() + 1,
        kind=kind,
        signed_by=by,
        signed_name=str(by),
        role=acting_role(by, Action.SIGN, sheet.job.turnout.territory).value,
        qualification=_held(by, sheet),
        signed_at=at,
        statement=statement.strip()[:1000],
        content=content,
        previous=last.sha256 if last else "",
    )
    row.sha256 = digest_of(_says(row, sheet.number), row.previous)
    row.save(force_insert=True)
    follow(row)
    return row


def _held(by: Person, sheet: JobSheet) -> str:
    """What somebody holds for the sheet's procedure on its day, in words for the record."""
    procedure = sheet.job.procedure
    held = qualification_on(by, procedure, timezone.localdate(sheet.starts_at))
    if held is None:
        return f"No certificate for {procedure}"
    until = f"until {held.expires_on:%Y-%m-%d}" if held.expires_on else "without expiry"
    return f"{procedure}, issued {held.issued_on:%Y-%m-%d}, {until}: {held.evidence}"[:300]


def _says(row: FieldRecord, sheet_number: str) -> dict[str, Any]:
    return {
        "serial": row.serial,
        "sheet": sheet_number,
        "number": row.number,
        "kind": row.kind,
        "signed_by": row.signed_by_id,
        "signed_name": row.signed_name,
        "role": row.role,
        "qualification": row.qualification,
        "signed_at": row.signed_at.timestamp(),
        "statement": row.statement,
        "content": row.content,
    }


def record_links() -> Iterator[Link]:
    """The chain over all records, to be looked over."""
    for row in FieldRecord.objects.select_related("sheet").order_by("serial").iterator(100):
        name = f"Record {row.number} of sheet {row.sheet.number}"
        yield Link(name, _says(row, row.sheet.number), row.previous, row.sha256)


def break_in_signed(sheet: JobSheet) -> str:
    """What was changed of one sheet's signed records, or is missing below them, in a sentence."""
    for row in sheet.records.order_by("number"):
        if digest_of(_says(row, sheet.number), row.previous) != row.sha256:
            return (
                f"Record {row.number} is not what was signed: its content was changed afterwards. "
                "Compare with the exports kept elsewhere."
            )
    return _break_beside(sheet)


def verify_all() -> tuple[int, int, str]:
    """How many sheets and records were looked over, and the first break in a sentence."""
    sheets = JobSheet.objects.filter(field_events__isnull=False).distinct().order_by("pk")
    count = 0
    for sheet in sheets:
        count += 1
        broken = break_in_events(sheet) or _break_beside(sheet)
        if broken:
            return count, 0, broken
    links = list(record_links())
    return count, len(links), first_break(links)


def _break_beside(sheet: JobSheet) -> str:
    """Entries that were signed and are not there any more: the end of a chain may not be cut."""
    heads = set(sheet.field_events.values_list("sha256", flat=True))
    for record in sheet.records.all():
        head = record.content["events_sha256"]
        if head and head not in heads:
            return f"Entries that were signed with sheet {sheet.number} are missing."
    return ""
