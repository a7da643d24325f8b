"""Exports: the records a person may see, as the sheets that import back to the same records."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import lru_cache
from io import BytesIO
from typing import IO, Any, Literal

from django.db import connection, transaction

from turnouts.access import Action, may, require
from turnouts.analysis.showing import METRIC, UnitPreference
from turnouts.analysis.units import Dimension
from turnouts.models import Person
from turnouts.services.sheets.batch import Counter, Progress
from turnouts.services.sheets.kinds import Kind, Written
from turnouts.services.sheets.physical import Physical
from turnouts.services.sheets.registry import all_sheets, sheet_named
from turnouts.services.sheets.rights import within_reach
from turnouts.services.sheets.spec import Bound, Cells, Names, Sheet
from turnouts.services.sheets.write_files import WrittenSheet, to_workbook, to_zip

Form = Literal["xlsx", "zip"]
_WRITERS: dict[Form, Callable[[Iterable[WrittenSheet], IO[bytes]], None]] = {
    "xlsx": to_workbook,
    "zip": to_zip,
}

OWN_UNITS = METRIC
"""Units in which every stored value is written exactly as it is stored."""

_TOLD_EACH = 1_000
"""Rows between two tellings of progress."""

_REMEMBERED = 4_096
"""Cells a column remembers: serials, codes and words come again and again."""


def export(
    *,
    by: Person,
    names: Sequence[str] = (),
    form: Form = "xlsx",
    units: UnitPreference = OWN_UNITS,
) -> bytes:
    """The file that :func:`write_export` writes; raises the same."""
    held = BytesIO()
    write_export(held, by=by, names=names, form=form, units=units)
    return held.getvalue()


def write_export(
    held: IO[bytes],
    *,
    by: Person,
    names: Sequence[str] = (),
    form: Form = "xlsx",
    units: UnitPreference = OWN_UNITS,
    progress: Progress = lambda done, total, words: None,
) -> dict[str, int]:
    """Write the chosen sheets, or all that ``by`` may see, as one file; gives the rows of each.

    All sheets show the records of one moment, whatever is changed meanwhile. A value that is not
    exact in ``units`` is written in its stored unit, with the unit beside it. Raises Forbidden for
    a chosen sheet that the person may not see, Unreadable for an unknown one.
    """
    chosen = chosen_sheets(by, names)
    with _as_of_one_moment():
        rows = {sheet.name: _rows(by, sheet).count() for sheet in chosen}
        advance = Counter(progress, sum(rows.values()))
        written = (_told(written_sheet(by, sheet, units), advance) for sheet in chosen)
        _WRITERS[form](written, held)
    return rows


def chosen_sheets(by: Person, names: Sequence[str]) -> list[Sheet]:
    """The sheets of these names, or all that ``by`` may see. Raises Forbidden or Unreadable."""
    require(by, Action.SEE)
    for name in names:
        require(by, sheet_named(name).see)
    return [
        sheet for sheet in all_sheets() if may(by, sheet.see) and (not names or sheet.name in names)
    ]


@contextmanager
def _as_of_one_moment() -> Iterator[None]:
    """Inside somebody else's transaction that one decides what is seen."""
    if connection.in_atomic_block:
        yield
        return
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        yield


def units_of(person: Person) -> UnitPreference:
    """The units a person reads."""
    return UnitPreference(
        length="mm" if person.length_unit == "mm" else "in",
        speed="km/h" if person.speed_unit == "km/h" else "mph",
        temperature="degC" if person.temperature_unit == "degC" else "degF",
        mass="kg" if person.mass_unit == "kg" else "lb",
    )


def written_sheet(by: Person, sheet: Sheet, units: UnitPreference) -> WrittenSheet:
    """One sheet with the rows that ``by`` may see, in a few queries whatever their number."""
    kinds = {bound.name: _kind(bound, units) for bound in sheet.bound.values()}
    paths = {bound.name: _path(bound) for bound in sheet.bound.values()}
    read = {path for path in paths.values() if path} | set(sheet.exported.paths)
    rows = list(_rows(by, sheet).values(*read))
    fill = sheet.exported.fill
    better: list[Cells] = fill(rows, kinds) if fill else [{} for _ in rows]
    return WrittenSheet(
        name=sheet.name,
        header=tuple(_heading(bound, kinds[bound.name]) for bound in sheet.bound.values()),
        rows=_cells(rows, better, paths, kinds),
    )


def _cells(
    rows: list[dict[str, Any]], better: list[Cells], paths: dict[str, str], kinds: dict[str, Kind]
) -> Iterator[list[Written]]:
    """Row by row, each cell from its path unless the sheet's own step knows it ``better``."""
    columns = [(name, path, _writer(kinds[name])) for name, path in paths.items()]
    for row, known in zip(rows, better, strict=True):
        yield [
            known[name] if name in known else write(row.get(path)) for name, path, write in columns
        ]


def _writer(kind: Kind) -> Callable[[Any], Written]:
    @lru_cache(maxsize=_REMEMBERED)
    def write(value: Any) -> Written:
        return None if value is None or value == "" else kind.write(value)

    return write


def _told(sheet: WrittenSheet, advance: Counter) -> WrittenSheet:
    """The same sheet, saying how far it is while its rows are taken."""

    def rows() -> Iterator[Sequence[Written]]:
        untold = 0
        for row in sheet.rows:
            yield row
            untold += 1
            if untold == _TOLD_EACH:
                advance(untold, f"Writing {sheet.name}")
                untold = 0
        advance(untold, f"Writing {sheet.name}")

    return replace(sheet, rows=rows())


def _rows(by: Person, sheet: Sheet) -> Any:
    rows = within_reach(by, sheet, sheet.model._default_manager.all(), sheet.see)
    if sheet.exported.leave_out is not None:
        rows = rows.exclude(sheet.exported.leave_out)
    by_key = (_path(sheet.bound[name]) or "pk" for name in sheet.key_columns)
    return rows.order_by(*(sheet.exported.order or by_key), "pk")


def _kind(bound: Bound, units: UnitPreference) -> Kind:
    if bound.dimension is None:
        if bound.kind is None:
            raise TypeError(f"Column {bound.name} has neither a kind nor a dimension.")
        return bound.kind
    # Chainage is surveyed in m; miles or km would only blur it.
    symbol = "m" if bound.dimension is Dimension.DISTANCE else units.unit_of(bound.dimension).symbol
    return Physical(bound.dimension, symbol, bound.places)


def _path(bound: Bound) -> str:
    """Where the column's value is read; empty where only the sheet's own step knows."""
    column = bound.column
    if isinstance(column, Names):
        return f"{column.field or column.name}__{column.lookup.paths[-1]}"
    return bound.attname or getattr(column, "path", "")


def _heading(bound: Bound, kind: Kind) -> str:
    return f"{bound.name} [{kind.unit}]" if isinstance(kind, Physical) else bound.name
