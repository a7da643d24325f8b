"""An upload from raw sheets to records: all of it, or nothing.

A dry run does all that a real one does, inside a transaction that is rolled back at the end. So
it meets every rule the database holds, and says what the real one will do.
"""

from collections.abc import Callable, Iterable, Sequence

import pghistory
from django.db import DatabaseError, InterfaceError, OperationalError, connection, transaction

from turnouts.access import Action, require
from turnouts.models import Person
from turnouts.services.sheets import registry
from turnouts.services.sheets.batch import Batch, Counter, Progress, Upload
from turnouts.services.sheets.compare import compare
from turnouts.services.sheets.faults import Fault, Unreadable
from turnouts.services.sheets.parse import parse_sheet
from turnouts.services.sheets.raw import RawSheet
from turnouts.services.sheets.references import resolve_names
from turnouts.services.sheets.report import ImportReport, digest, sheet_report
from turnouts.services.sheets.spec import Step
from turnouts.services.sheets.tonnages import bring_tonnages_up_to_date
from turnouts.services.sheets.write import refusal, write

_ONE_AT_A_TIME = 7_301_964
"""Key of the lock that lets one import run at a time; any number nobody else uses."""

MayKeep = Callable[[ImportReport], ImportReport]


def import_sheets(
    *,
    by: Person,
    file: str,
    sha256: str,
    raw: Sequence[RawSheet],
    faults: Iterable[Fault] = (),
    dry_run: bool,
    progress: Progress,
    may_keep: MayKeep = lambda report: report,
) -> ImportReport:
    """Bring the sheets into the records, and say what changed or would change.

    Nothing is kept in a dry run, when there is any fault, or when ``may_keep`` gives back a report
    that is not ``applied``. Raises Forbidden when ``by`` may not import at all, Conflict when
    somebody else changes a record meanwhile.
    """
    require(by, Action.IMPORT)
    upload = Upload(person=by, dry_run=dry_run)
    for fault in faults:
        upload.faults.add(fault)
    upload.advance = Counter(progress, total=2 * sum(len(sheet.rows) for sheet in raw))
    with (
        pghistory.context(user=by.pk, source="import", file=file, sha256=sha256),
        transaction.atomic(),
    ):
        _take_turn()
        batches = _carry_in(upload, _in_order(raw, upload))
        bring_tonnages_up_to_date(upload, batches)
        report = may_keep(_report(upload, batches, raw, file, sha256))
        if not report.applied:
            transaction.set_rollback(True)
    return report


def _take_turn() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_ONE_AT_A_TIME])
        # Checks put off to the end pile up, and the audit's triggers walk the pile row by row:
        # 90,000 rows then take three times as long.
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")


def _in_order(raw: Sequence[RawSheet], upload: Upload) -> list[RawSheet]:
    places = {sheet.name: place for place, sheet in enumerate(registry.all_sheets())}
    known = []
    for sheet in raw:
        try:
            registry.sheet_named(sheet.name)
            known.append(sheet)
        except Unreadable as refusal:
            upload.faults.add(Fault(sheet.name, 0, "", str(refusal)))
    return sorted(known, key=lambda sheet: places[sheet.name])


def _carry_in(upload: Upload, raw: Sequence[RawSheet]) -> list[Batch]:
    return [_carry_sheet(upload, sheet) for sheet in raw]


def _carry_sheet(upload: Upload, raw: RawSheet) -> Batch:
    sheet = registry.sheet_named(raw.name)
    batch = parse_sheet(raw, sheet, upload)
    resolve_names(batch)
    for step in sheet.before:
        step(batch)
    compare(batch)
    for step in sheet.checks:
        step(batch)
    write(batch)
    for step in sheet.after:
        _follow_up(batch, step)
    return batch


def _follow_up(batch: Batch, step: Step) -> None:
    """Write what follows from the rows; where the records refuse it, the sheet has a fault."""
    try:
        with transaction.atomic():
            step(batch)
    except (OperationalError, InterfaceError):
        raise  # the connection or a deadlock, not the rows
    except DatabaseError as error:
        batch.fault_in_sheet(0, "", refusal(error))


def _report(
    upload: Upload, batches: list[Batch], raw: Sequence[RawSheet], file: str, sha256: str
) -> ImportReport:
    rows = {sheet.name: len(sheet.rows) for sheet in raw}
    faults = upload.faults
    return ImportReport(
        file=file,
        sha256=sha256,
        dry_run=upload.dry_run,
        applied=not upload.dry_run and not faults.count,
        sheets=tuple(sheet_report(batch, rows[batch.sheet.name]) for batch in batches),
        faults=tuple(faults.listed),
        fault_count=faults.count,
        digest=digest(batches),
        notes=tuple(upload.notes),
    )
