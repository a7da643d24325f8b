"""Single numbers the railway sets, as dated rows of a TOML file: value, unit, start, source, why.

For rates and prices that stand alone; rules with conditions have readers of their own.
"""

import tomllib
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

UNPUBLISHED = ("common-practice", "from-memory", "assumed")


class DatedError(ValueError):
    """A row that cannot be used, or none in force; the text names file, row and remedy."""


@dataclass(frozen=True, slots=True)
class Dated:
    """One number from a day on. A source that is no publication carries a sentence why."""

    name: str
    value: float
    unit: str
    start: date
    source: str
    why: str


@cache
def read_dated(path: Path) -> tuple[Dated, ...]:
    """All rows of a file: ``[[name]]`` tables, one for each edition of the number."""
    with path.open("rb") as file:
        tables = tomllib.load(file)
    return tuple(_row(path, name, fields) for name, rows in tables.items() for fields in rows)


def value_in_force(path: Path, name: str, on: date) -> float:
    """The newest value of a number that has begun on a day; DatedError when there is none."""
    rows = [row for row in read_dated(path) if row.name == name and row.start <= on]
    if not rows:
        raise DatedError(f"{path.name}: no row {name} is in force on {on}; add one.")
    return max(rows, key=lambda row: row.start).value


def _row(path: Path, name: str, fields: dict[str, Any]) -> Dated:
    wanted = {"value", "unit", "start", "source", "why"}
    if set(fields) != wanted:
        odd = ", ".join(sorted(set(fields) ^ wanted))
        raise DatedError(
            f"{path.name}, row {name}: check {odd}; a row has exactly these keys: "
            f"{', '.join(sorted(wanted))}."
        )
    if fields["source"] in UNPUBLISHED and not fields["why"]:
        raise DatedError(f"{path.name}, row {name}: say why, for no publication stands behind it.")
    return Dated(
        name,
        float(fields["value"]),
        fields["unit"],
        fields["start"],
        fields["source"],
        fields["why"],
    )
