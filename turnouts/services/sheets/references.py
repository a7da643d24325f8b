"""Names of other rows turned into those rows: of the records, or of sheets read before."""

from typing import Any

from turnouts.access import Action
from turnouts.services.sheets.batch import Batch, Row
from turnouts.services.sheets.rights import nameable
from turnouts.services.sheets.spec import Lookup, Names
from turnouts.services.sheets.texts import quoted

NameTexts = tuple[str, ...]


def resolve_names(batch: Batch) -> None:
    """Put the row's id where a column names one; one query a column, whatever the number of rows.

    Earlier sheets of the upload are written by now, inside the same transaction.
    """
    for bound in batch.sheet.bound.values():
        column = bound.column
        if isinstance(column, Names) and bound.name in batch.present:
            _resolve(batch, column, bound.attname)


def _resolve(batch: Batch, column: Names, attname: str) -> None:
    by = column.by or (column.name,)
    named: list[tuple[Row, NameTexts]] = []
    for row in batch.good():
        if not row.texts.get(column.name):
            row.values[attname] = None
        elif all(name in row.texts for name in by):
            named.append((row, tuple(row.texts[name] for name in by)))
    found = _find(batch, column.lookup, {texts for _, texts in named}, Action.IMPORT)
    seen = _find(batch, column.lookup, {texts for _, texts in named} - set(found), Action.SEE)
    for row, texts in named:
        pk = found.get(texts, seen.get(texts))
        if pk is None:
            batch.fault(row, column.name, _unknown(batch, column.lookup, texts))
            continue
        row.values[attname] = pk
        if texts not in found:
            row.only_seen[column.name] = _unknown(batch, column.lookup, texts)


def _find(
    batch: Batch, lookup: Lookup, names: set[NameTexts], action: Action
) -> dict[NameTexts, int]:
    """Ids by name, among the rows that lie where the person may do ``action``."""
    firsts = {texts[0] for texts in names}
    if not firsts:
        return {}
    mine = nameable(batch.upload.person, lookup, action)
    rows = mine.filter(**{f"{lookup.paths[0]}__in": firsts})
    return {tuple(names): pk for pk, *names in rows.values_list("pk", *lookup.paths)}


def names_of(lookup: Lookup, pks: set[Any]) -> dict[int, str]:
    """The names of rows, for sentences and reports."""
    rows = (
        lookup.model._default_manager.filter(pk__in=pks).order_by().values_list("pk", *lookup.paths)
    )
    return {pk: ", ".join(str(name) for name in names) for pk, *names in rows}


def _unknown(batch: Batch, lookup: Lookup, texts: NameTexts) -> str:
    name = ", ".join(texts)
    if texts in batch.upload.spoiled.get(lookup.sheet, ()):
        return f"The row of {lookup.noun} {quoted(name)} in sheet {lookup.sheet} is not taken."
    if lookup.sheet in batch.upload.unread:
        return (
            f"{quoted(name)} may be in sheet {lookup.sheet}, whose header has to be mended first."
        )
    return (
        f"There is no {lookup.noun} {quoted(name)}, neither in this upload nor among the records "
        "of the territories where you may import."
    )
