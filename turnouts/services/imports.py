"""Imports: a file handed over, looked at in a dry run, then accepted."""

import hashlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from django.core.files.base import ContentFile
from django.db import connection, transaction

from turnouts.access import Action, Forbidden, require
from turnouts.models import ImportFile, LongRun, Person
from turnouts.services.errors import Conflict, Refused
from turnouts.services.runs import Progress, carry_out, start_run
from turnouts.services.sheets.engine import import_sheets
from turnouts.services.sheets.read_files import pack, read_file
from turnouts.services.sheets.registry import all_sheets
from turnouts.services.sheets.report import ImportReport

TASK = "turnouts.carry_out_import"
"""The task by name: services stand below tasks and do not know them."""

_KIND = "import"

FEW_ROWS, MEANINGFUL_SHARE = 50, 0.1
"""Rows changed, and the share of the rows counted last, past which a table is counted anew.

PostgreSQL's own measure of when its counts are out of date (autovacuum_analyze_threshold and
autovacuum_analyze_scale_factor, by its manual's chapter on automatic vacuuming): below it, it
would not count either, and the import of one turnout need not wait for large tables to be read.
"""


@transaction.atomic
def start_import(
    *, by: Person, files: Sequence[tuple[str, bytes]], dry_run: bool, request_key: str
) -> LongRun:
    """Keep the file (several are packed into one) and queue its import.

    The same content with the same key gives the run that is there already. Raises Forbidden, or
    Unreadable when there is no file.
    """
    require(by, Action.IMPORT)
    name, content = pack(files)
    sha256 = hashlib.sha256(content).hexdigest()
    asked = hashlib.sha256(f"{request_key}|{by.pk}|{sha256}|{dry_run}".encode()).hexdigest()
    run, is_new = start_run(kind=_KIND, request_key=f"{_KIND}:{asked}", by=by, task=TASK)
    if is_new:
        ImportFile.objects.create(
            run=run,
            name=name[-200:],
            sha256=sha256,
            content=ContentFile(content, name=f"{sha256[:16]}-{_suffix(content)}"),
            dry_run=dry_run,
        )
    return run


@transaction.atomic
def accept_import(*, by: Person, dry_run: LongRun) -> LongRun:
    """Queue the real import of a file whose dry run found no fault. Asking twice starts it once.

    Raises Forbidden, or Conflict when the dry run is not done or found faults.
    """
    require(by, Action.IMPORT)
    if dry_run.requested_by_id != by.pk:
        raise Forbidden("Only the person who asked for the dry run may accept it.")
    report, kept = report_of(dry_run), dry_run.import_file
    if not kept.dry_run or report is None or report.fault_count:
        raise Conflict("Only a dry run that is done and has no fault can be accepted.")
    run, is_new = start_run(
        kind=_KIND,
        request_key=f"{_KIND}:accept:{dry_run.pk}",
        by=by,
        asked={"accepts": dry_run.pk},
        task=TASK,
    )
    if is_new:
        ImportFile.objects.create(
            run=run, name=kept.name, sha256=kept.sha256, content=kept.content.name, dry_run=False
        )
    return run


def carry_out_import(*, run_id: int) -> LongRun:
    """Do the import of a queued run and keep its report as the run's result."""
    return carry_out(run_id=run_id, work=_work)


def report_of(run: LongRun) -> ImportReport | None:
    """The report of a finished import; None while it runs or when it failed."""
    return ImportReport.from_json(run.result) if run.state == "done" else None


def import_now(
    *, by: Person, files: Sequence[tuple[str, bytes]], dry_run: bool, progress: Progress
) -> ImportReport:
    """Import without the queue, for commands; raises what :func:`start_import` raises."""
    name, content = pack(files)
    return _import(
        by=by, name=name, content=content, dry_run=dry_run, progress=progress, expected=None
    )


def _work(run: LongRun, progress: Progress) -> dict[str, Any]:
    kept = run.import_file
    with kept.content.open("rb") as opened:
        content = opened.read()
    if hashlib.sha256(content).hexdigest() != kept.sha256:
        raise Refused(f"The stored copy of {kept.name} is damaged; hand the file over again.")
    return _import(
        by=run.requested_by,
        name=kept.name,
        content=content,
        dry_run=kept.dry_run,
        progress=progress,
        expected=_expected(run),
    ).as_json()


def _expected(run: LongRun) -> ImportReport | None:
    """The report of the dry run that this run accepts."""
    accepted = run.asked.get("accepts")
    return None if accepted is None else report_of(LongRun.objects.get(pk=accepted))


def _import(
    *,
    by: Person,
    name: str,
    content: bytes,
    dry_run: bool,
    progress: Progress,
    expected: ImportReport | None,
) -> ImportReport:
    progress(0, 1, "Reading the file")
    raw, faults = read_file(name, content)
    report = import_sheets(
        by=by,
        file=name,
        sha256=hashlib.sha256(content).hexdigest(),
        raw=raw,
        faults=faults,
        dry_run=dry_run,
        progress=progress,
        may_keep=lambda report: _as_expected(report, expected),
    )
    if report.applied:
        _count_anew(report)
    return report


def _count_anew(report: ImportReport) -> None:
    """Tell the database how much there is now in the tables that changed by a meaningful part.

    Until it counts by itself, minutes later, it would read the new rows as if there were few: an
    export right after a large import took ten minutes instead of seconds.
    """
    tables = {sheet.name: sheet.model._meta.db_table for sheet in all_sheets()}
    changed: Counter[str] = Counter()
    for sheet in report.sheets:
        changed[tables[sheet.name]] += sheet.create + sheet.update
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT relname, greatest(reltuples, 0) FROM pg_class "
            "WHERE relname = ANY(%s) AND pg_table_is_visible(oid)",
            [list(changed)],
        )
        for table, counted in cursor.fetchall():
            if changed[table] > FEW_ROWS + MEANINGFUL_SHARE * counted:
                cursor.execute(f"ANALYZE {connection.ops.quote_name(table)}")


def _as_expected(report: ImportReport, expected: ImportReport | None) -> ImportReport:
    """Keep nothing that the accepted dry run did not show."""
    if expected is None or expected.digest == report.digest:
        return report
    return replace(report, applied=False, changed_since=_differences(report, expected))


def _differences(report: ImportReport, expected: ImportReport) -> tuple[str, ...]:
    before = {sheet.name: sheet for sheet in expected.sheets}
    sentences = [
        f"Sheet {sheet.name}: the dry run said {before[sheet.name].create:,} new and "
        f"{before[sheet.name].update:,} changed; now it is {sheet.create:,} and {sheet.update:,}."
        for sheet in report.sheets
        if (sheet.create, sheet.update) != (before[sheet.name].create, before[sheet.name].update)
    ]
    return tuple(sentences) or (
        "As many records are new and changed as in the dry run, but not the same ones, or their "
        "present values are others. Nothing was written; make a new dry run.",
    )


def _suffix(content: bytes) -> str:
    return "upload.zip" if content.startswith(b"PK") else "upload.csv"
