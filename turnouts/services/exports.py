"""Exports: the records a person may see, as the sheets that import back to the same records."""

from collections.abc import Callable, Iterator, Sequence
from typing import Any, Literal

from turnouts.access import Action, may, require
from turnouts.analysis.showing import METRIC, UnitPreference
from turnouts.analysis.units import Dimension
from turnouts.models import Person
from turnouts.services.sheets.kinds import Kind, Written
from turnouts.services.sheets.physical import Physical
from turnouts.services.sheets.registry import all_sheets, sheet_named
from turnouts.services.sheets.rights import within_reach
from turnouts.services.sheets.spec import Bound, Cells, Names, Sheet
from turnouts.services.sheets.write_files import WrittenSheet, to_workbook, to_zip

Form = Literal["xlsx", "zip"]
_WRITERS: dict[Form, Callable[[Iterator[WrittenSheet]], bytes]] = {
    "xlsx": to_workbook,
    "zip": to_zip,
}

OWN_UNITS = METRIC
"""Units in which every stored value is written exactly as it is stored."""


def export(
    *,
    by: Person,
    names: Sequence[str] = (),
    form: Form = "xlsx",
    units: UnitPreference = OWN_UNITS,
) -> bytes:
    """The chosen sheets, or all that ``by`` may see, as one file.

    A value that is not exact in ``units`` is written in its stored unit, with the unit beside it.
    Raises Forbidden for a chosen sheet that the person may not see, Unreadable for an unknown one.
    """
    require(by, Action.SEE)
    for name in names:
        require(by, sheet_named(name).see)
    chosen = (
        sheet for sheet in all_sheets() if may(by, sheet.see) and (not names or sheet.name in names)
    )
    return _WRITERS[form](written_sheet(by, sheet, units) for sheet in chosen)


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
        rows=[
            [
                known[name] if name in known else _cell(row.get(paths[name]), kinds[name])
                for name in sheet.bound
            ]
            for row, known in zip(rows, better, strict=True)
        ],
    )


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


def _cell(value: Any, kind: Kind) -> Written:
    return None if value is None or value == "" else kind.write(value)
