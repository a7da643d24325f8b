"""What an import would change or has changed: counts, the first changes, every fault."""

import hashlib
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from typing import Any

from turnouts.services.sheets.batch import Batch, Row
from turnouts.services.sheets.faults import Fault
from turnouts.services.sheets.references import names_of
from turnouts.services.sheets.spec import Names

SHOWN_AT_MOST = 200
"""Changes of a sheet that are listed one by one; the counts are of all of them."""


@dataclass(frozen=True, slots=True)
class FieldChange:
    column: str
    old: str
    new: str


@dataclass(frozen=True, slots=True)
class Change:
    """One record that is new (no fields) or different (its fields, old and new)."""

    row: int
    key: str
    new: bool
    fields: tuple[FieldChange, ...] = ()


@dataclass(frozen=True, slots=True)
class SheetReport:
    name: str
    rows: int
    create: int
    update: int
    unchanged: int
    bad: int
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True)
class ImportReport:
    """The answer to one import.

    ``applied`` says whether anything was kept: never in a dry run, and never with a fault.
    ``digest`` is the same for two runs that change the same things in the same way.
    """

    file: str
    sha256: str
    dry_run: bool
    applied: bool
    sheets: tuple[SheetReport, ...]
    faults: tuple[Fault, ...]
    fault_count: int
    digest: str
    notes: tuple[str, ...] = ()
    changed_since: tuple[str, ...] = field(default=())

    @property
    def changes_nothing(self) -> bool:
        return not any(sheet.create or sheet.update or sheet.bad for sheet in self.sheets)

    def as_json(self) -> dict[str, Any]:
        """For the run's result."""
        return asdict(self)

    @classmethod
    def from_json(cls, kept: dict[str, Any]) -> "ImportReport":
        lists = ("sheets", "faults", "notes", "changed_since")
        rest = {name: value for name, value in kept.items() if name not in lists}
        return cls(
            sheets=tuple(_sheet_from(sheet) for sheet in kept["sheets"]),
            faults=tuple(Fault(**fault) for fault in kept["faults"]),
            notes=tuple(kept["notes"]),
            changed_since=tuple(kept["changed_since"]),
            **rest,
        )


def _sheet_from(kept: dict[str, Any]) -> SheetReport:
    changes = tuple(
        Change(
            row=change["row"],
            key=change["key"],
            new=change["new"],
            fields=tuple(FieldChange(**one) for one in change["fields"]),
        )
        for change in kept["changes"]
    )
    return SheetReport(**(kept | {"changes": changes}))


def sheet_report(batch: Batch, row_count: int) -> SheetReport:
    """Counts and first changes of one sheet. Rows of a bad header all count as bad."""
    good = list(batch.good())
    create, update = sum(row.is_new for row in good), sum(bool(row.changed) for row in good)
    touched = [row for row in good if row.is_new or row.changed][:SHOWN_AT_MOST]
    old_names = _old_names(batch, touched)
    return SheetReport(
        name=batch.sheet.name,
        rows=row_count,
        create=create,
        update=update,
        unchanged=len(good) - create - update,
        bad=row_count - len(good),
        changes=tuple(_change(batch, row, old_names) for row in touched),
    )


def digest(batches: Iterable[Batch]) -> str:
    """A fingerprint of what changes, from what: the new values are in the file itself."""
    held = hashlib.sha256()
    for batch in batches:
        for row in batch.good():
            if row.is_new or row.changed:
                held.update(f"{batch.sheet.name}|{row.number}|{row.is_new}|".encode())
                held.update("|".join(f"{k}={_plain(v)}" for k, v in row.changed.items()).encode())
    return held.hexdigest()


def _old_names(batch: Batch, rows: list[Row]) -> dict[tuple[str, Any], str]:
    """What rows named before, for columns that name other rows."""
    named: dict[tuple[str, Any], str] = {}
    for bound in batch.sheet.bound.values():
        if isinstance(bound.column, Names):
            pks = {row.changed.get(bound.attname) for row in rows} - {None}
            found = names_of(bound.column.lookup, pks) if pks else {}
            named |= {(bound.attname, pk): name for pk, name in found.items()}
    return named


def _change(batch: Batch, row: Row, old_names: dict[tuple[str, Any], str]) -> Change:
    key = ", ".join(row.texts.get(name) or "-" for name in batch.sheet.key_columns)
    columns = {bound.attname: bound.name for bound in batch.sheet.bound.values() if bound.attname}
    fields = tuple(
        FieldChange(
            column=columns.get(name, name),
            old=old_names.get((name, old), _plain(old)),
            new=row.texts[columns[name]] if name in columns else _plain(row.values[name]),
        )
        for name, old in row.changed.items()
    )
    return Change(row=row.number, key=key, new=row.is_new, fields=fields)


def _plain(value: Any) -> str:
    if value is None or value == "":
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
