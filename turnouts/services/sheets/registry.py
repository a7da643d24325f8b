"""All sheets, in the order in which they are written: a sheet comes after those it names.

The sheets of this app stand first; the apps above bring theirs when they start
(``AppConfig.ready``).
"""

from turnouts.services.sheets.faults import Unreadable
from turnouts.services.sheets.own_sheets import OWN_SHEETS
from turnouts.services.sheets.spec import Names, Sheet

_SHEETS: dict[str, Sheet] = {}


def register(*sheets: Sheet) -> None:
    """Add sheets to those that are read and written. Each must name earlier ones only."""
    for sheet in sheets:
        if sheet.name in _SHEETS:
            raise ValueError(f"Sheet {sheet.name} is there already.")
        for column in sheet.columns:
            if isinstance(column, Names) and column.lookup.sheet not in _SHEETS:
                raise ValueError(
                    f"Sheet {sheet.name} names rows of {column.lookup.sheet}, which comes later."
                )
        _SHEETS[sheet.name] = sheet


def all_sheets() -> tuple[Sheet, ...]:
    """Every sheet, in the order of writing."""
    return tuple(_SHEETS.values())


def sheet_named(name: str) -> Sheet:
    """The sheet of this name; Unreadable with the known names when there is none."""
    if name not in _SHEETS:
        raise Unreadable(f"Sheet {name} is not known. The sheets are: {', '.join(_SHEETS)}.")
    return _SHEETS[name]


register(*OWN_SHEETS)
