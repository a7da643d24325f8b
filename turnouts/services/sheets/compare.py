"""What a row would change: found by its key, compared field by field."""

from typing import Any

from django.db.models import Model, Q, QuerySet

from turnouts.services.sheets.batch import Batch, Row
from turnouts.services.sheets.rights import readable, writable
from turnouts.services.sheets.texts import tidy

Key = tuple[Any, ...]


def compare(batch: Batch) -> None:
    """Mark each row as new, changed or unchanged. A few queries, whatever the number of rows.

    A row left as it is needs no right but to see it, so that an export can be read back whole.
    """
    keys = _keys_once(batch)
    existing = _existing(batch, keys)
    person, pks = batch.upload.person, {record.pk for record in existing.values()}
    reached = writable(person, batch.sheet, pks)
    seen = readable(person, batch.sheet, pks - reached) if pks - reached else set()
    for key, row in keys.items():
        record = existing.get(key)
        if record is None:
            row.is_new = True
        elif record.pk not in reached and (
            record.pk not in seen or _differences(batch, row, record)
        ):
            batch.fault(row, batch.sheet.key_columns[0], out_of_reach(batch))
        else:
            row.record = record
            _compare_row(batch, row, record)
        if row.only_seen and (row.is_new or row.changed):
            batch.fault(row, *next(iter(row.only_seen.items())))


def out_of_reach(batch: Batch) -> str:
    """The sentence for a row out of the person's reach: it says nothing of what is there."""
    return (
        f"You may not {batch.sheet.right.value} here: this row does not lie in a territory where "
        "your role lets you. Leave it out, or ask somebody whose territory it is."
    )


def _keys_once(batch: Batch) -> dict[Key, Row]:
    keys: dict[Key, Row] = {}
    for row in batch.good():
        key = tuple(row.values.get(name) for name in batch.sheet.match_fields)
        first = keys.setdefault(key, row)
        if first is not row:
            columns = ", ".join(batch.sheet.key_columns)
            batch.fault(
                row,
                batch.sheet.key_columns[0],
                f"Row {first.number} has the same {columns} already; keep one of the two.",
            )
    return {key: row for key, row in keys.items() if not row.bad}


def _existing(batch: Batch, keys: dict[Key, Row]) -> dict[Key, Model]:
    fields = batch.sheet.match_fields
    rows: QuerySet[Any] = batch.sheet.model._default_manager.order_by()  # no order, no joins
    firsts = {key[0] for key in keys}
    narrowed = Q(**{f"{fields[0]}__in": firsts - {None}})
    if None in firsts:
        narrowed |= Q(**{f"{fields[0]}__isnull": True})
    found = rows.filter(narrowed) if keys else rows.none()
    return {tuple(getattr(record, name) for name in fields): record for record in found}


def _compare_row(batch: Batch, row: Row, record: Model) -> None:
    row.changed = _differences(batch, row, record)
    if batch.sheet.written_once and row.changed:
        batch.fault(row, "", "This row is kept already with other values, and is written once.")
    for name in batch.sheet.fixed:
        if name in row.changed:
            batch.fault(row, _column_of(batch, name), _stays(batch, name))


def _differences(batch: Batch, row: Row, record: Model) -> dict[str, Any]:
    """Field and old value of each field that the row would change."""
    return {
        name: getattr(record, name)
        for name, new in row.values.items()
        if name not in batch.sheet.beside and not same(getattr(record, name), new)
    }


def same(old: Any, new: Any) -> bool:
    if isinstance(old, str) and isinstance(new, str):
        return old == new or tidy(old) == tidy(new)
    return bool(old == new)


def _column_of(batch: Batch, attname: str) -> str:
    return next((b.name for b in batch.sheet.bound.values() if b.attname == attname), "")


def _stays(batch: Batch, attname: str) -> str:
    column = _column_of(batch, attname)
    return (
        f"This record is kept already with another {column}, which does not change. "
        "Correct the row, or give it a reference of its own."
    )
