"""Rows written in few statements; what the database refuses comes back as a sentence."""

from collections.abc import Callable, Sequence
from typing import Any

from django.db import DatabaseError, InterfaceError, OperationalError, transaction

from turnouts.services.errors import Conflict
from turnouts.services.sheets.batch import Batch, Row
from turnouts.services.sheets.compare import out_of_reach, same
from turnouts.services.sheets.rights import writable

_AT_ONCE = 2_000
_REFUSED_AT_MOST = 50
"""After so many refused rows the rest of the sheet is not tried row by row any more."""

Write = Callable[[Sequence[Row]], None]


def write(batch: Batch) -> None:
    """Write changed rows, then new ones, so that a place is free before it is taken."""
    changed = [row for row in batch.good() if row.changed]
    new = [row for row in batch.good() if row.is_new]
    _take_locks(batch, changed)
    for rows, put in ((changed, _put_changed(batch)), (new, _put_new(batch))):
        for start in range(0, len(rows), _AT_ONCE):
            part = rows[start : start + _AT_ONCE]
            _write_or_narrow(batch, part, put)
            batch.upload.advance(len(part), f"Writing {batch.sheet.name}")
    _check_reach(batch)


def _put_new(batch: Batch) -> Write:
    make = batch.sheet.new or dict

    def put(rows: Sequence[Row]) -> None:
        model = batch.sheet.model
        for row in rows:
            row.record = model(**(make() | row.at_first | row.values))
        model._default_manager.bulk_create([row.record for row in rows])

    return put


def _put_changed(batch: Batch) -> Write:
    """One upsert on the primary key: many times faster than a CASE for each field."""

    def put(rows: Sequence[Row]) -> None:
        fields = {name for row in rows for name in row.changed} | set(batch.sheet.beside)
        fields &= {name for row in rows for name in row.values}
        for row in rows:
            for name in fields & set(row.values):
                setattr(row.record, name, row.values[name])
        batch.sheet.model._default_manager.bulk_create(
            [row.record for row in rows],
            update_conflicts=True,
            unique_fields=["pk"],
            update_fields=_names(batch, fields | {"version"}),
        )

    return put


def _names(batch: Batch, attnames: set[str]) -> list[str]:
    return sorted(f.name for f in batch.sheet.model._meta.concrete_fields if f.attname in attnames)


def _take_locks(batch: Batch, rows: list[Row]) -> None:
    """Read the rows to be changed again, locked: what was compared must still be so."""
    records = batch.sheet.model._default_manager.order_by("pk").select_for_update(of=("self",))
    locked = records.in_bulk([row.record.pk for row in rows])
    for row in rows:
        fresh = locked[row.record.pk]
        if any(not same(getattr(fresh, name), old) for name, old in row.changed.items()):
            raise Conflict(
                f"Sheet {batch.sheet.name}, row {row.number}: this record was changed by somebody "
                "else while the file was being read. Nothing was written; start the import again."
            )
        row.record = fresh
        if hasattr(fresh, "version"):
            fresh.version += 1


def _write_or_narrow(batch: Batch, rows: Sequence[Row], put: Write) -> None:
    """Write ``rows``; where the database refuses them, halve until the refused row is found."""
    try:
        with transaction.atomic():
            put(rows)
    except (OperationalError, InterfaceError):
        raise  # the connection or a deadlock, not the row
    except DatabaseError as error:
        if len(rows) == 1:
            batch.fault(rows[0], "", refusal(error))
            return
        half = len(rows) // 2
        for part in (rows[:half], rows[half:]):
            if sum(row.bad for row in batch.rows) < _REFUSED_AT_MOST:
                _write_or_narrow(batch, part, put)
            else:
                _give_up(batch, part)


def _give_up(batch: Batch, rows: Sequence[Row]) -> None:
    for row in rows:
        row.bad = True
    batch.fault_in_sheet(
        rows[0].number, "", f"{len(rows):,} rows from here on were not tried after so many faults."
    )


def refusal(error: DatabaseError) -> str:
    """A sentence for what the database refused; constraints are named in plain words."""
    diagnosis: Any = getattr(error.__cause__, "diag", None)
    rule = getattr(diagnosis, "constraint_name", None)
    if rule:
        return f'The records refuse this row by the rule "{rule.replace("_", " ")}".'
    words = getattr(diagnosis, "message_primary", None) or "no reason was given"
    return f"The records refuse this row: {words}."


def _check_reach(batch: Batch) -> None:
    """Rows must lie in the person's territories after the change, not only before it."""
    written = [row for row in batch.good() if row.is_new or row.changed]
    reached = writable(batch.upload.person, batch.sheet, [row.record.pk for row in written])
    for row in written:
        if row.record.pk not in reached:
            batch.fault(row, batch.sheet.key_columns[0], out_of_reach(batch))
