"""Exports in the queue: asked for, written to a file, handed to who asked, taken away in time."""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime, timedelta
from tempfile import TemporaryFile
from typing import IO, Any

from django.core.files import File
from django.db.models import QuerySet
from django.utils import timezone

from turnouts.access import Forbidden, grants_of
from turnouts.analysis.showing import UnitPreference
from turnouts.models import ExportFile, LongRun, Person
from turnouts.services.errors import Conflict
from turnouts.services.exports import OWN_UNITS, Form, chosen_sheets, write_export
from turnouts.services.runs import Progress, carry_out, start_run

TASK = "turnouts.carry_out_export"
"""The task by name: services stand below tasks and do not know them."""

KIND = "export"

KEPT_FOR = timedelta(days=7)
"""How long a file is kept. 2026-11-25, assumed: long enough for somebody who asked before days
off; no longer, because the copy grows old and holds all that one person may see."""


def start_export(
    *,
    by: Person,
    request_key: str,
    names: Sequence[str] = (),
    form: Form = "xlsx",
    units: UnitPreference = OWN_UNITS,
) -> LongRun:
    """Queue an export of the chosen sheets, or of all; the same request gives the same run.

    Raises Forbidden for a sheet the person may not see, Unreadable for an unknown one.
    """
    chosen_sheets(by, names)
    asked = {"sheets": list(names), "form": form, "units": asdict(units)}
    told = json.dumps([request_key, by.pk, asked], sort_keys=True)
    digest = hashlib.sha256(told.encode()).hexdigest()
    run, _ = start_run(kind=KIND, request_key=f"{KIND}:{digest}", by=by, asked=asked, task=TASK)
    return run


def carry_out_export(*, run_id: int) -> LongRun:
    """Write the file of a queued run; its result says how many rows each sheet has."""
    return carry_out(run_id=run_id, work=_work)


def _work(run: LongRun, progress: Progress) -> dict[str, Any]:
    with TemporaryFile() as held:
        rows = write_export(
            held,
            by=run.requested_by,
            names=run.asked["sheets"],
            form=run.asked["form"],
            units=UnitPreference(**run.asked["units"]),
            progress=progress,
        )
        name = f"records-{timezone.localdate()}.{run.asked['form']}"
        kept = keep_file(run=run, name=name, held=held)
    sheets = [{"name": name, "rows": count} for name, count in rows.items()]
    return {"name": kept.name, "bytes": kept.content.size, "sheets": sheets}


def keep_file(*, run: LongRun, name: str, held: IO[bytes]) -> ExportFile:
    """The file of a run, instead of one by a worker that died before it could say so."""
    _take_away(ExportFile.objects.filter(run=run))
    return ExportFile.objects.create(
        run=run,
        name=name,
        content=File(held, name),
        made_at=timezone.now(),
        grants=_grants(run.requested_by),
    )


def file_of(*, by: Person, run: LongRun) -> ExportFile:
    """The file of a finished export, for the person who asked for it.

    Raises Forbidden for anybody else, or when the person has lost a role since; Conflict while
    there is no file yet, or none any more.
    """
    if run.requested_by_id != by.pk:
        raise Forbidden("Only the person who asked for an export may take its file.")
    if run.state == "failed":
        raise Conflict(f"This export has no file, because it failed: {run.message}")
    if not run.finished:
        raise Conflict("This export is still being written. Ask again when its run is done.")
    kept = ExportFile.objects.filter(run=run).first()
    if kept is None:
        raise Conflict(
            f"This file was taken away after {KEPT_FOR.days} days. Take the records out anew."
        )
    if any(grant not in _grants(by) for grant in kept.grants):
        raise Forbidden(
            "You have lost a role since this file was written, and it may hold what you may no "
            "longer see. Take the records out anew."
        )
    return kept


def _grants(person: Person) -> list[list[Any]]:
    """Role and territory of each grant, as they are kept with a file."""
    return [[role.value, territory] for role, territory in grants_of(person)]


def take_away_old_files(*, now: datetime) -> int:
    """Delete the files that have been kept long enough; gives how many."""
    return _take_away(ExportFile.objects.filter(made_at__lt=now - KEPT_FOR))


def _take_away(files: QuerySet[ExportFile]) -> int:
    """The file first: where only that succeeds, the row is found and deleted the next time."""
    for file in files:
        file.content.delete(save=False)
        file.delete()
    return len(files)
