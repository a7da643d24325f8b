"""Reading numbers from TOML: every value with its unit, mark, source and reason.

A row is ``key = { value, unit, mark, source, clause, note }``. ``mark`` says how well the value
stands: published rows need a source that ``rows/sources.toml`` lists, all others a sentence why.
"""

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import Any

from repairs.welding.refusals import RowRefusal

HERE = Path(__file__).parent


class Mark(StrEnum):
    """How well a value stands."""

    PUBLISHED = "published"
    COMMON_PRACTICE = "common-practice"
    FROM_MEMORY = "from-memory"
    ASSUMED = "assumed"
    RAILWAY = "railway"
    """Set by the railway itself: its own people answer for it, not a published text."""


@dataclass(frozen=True, slots=True)
class Source:
    """One published text that rows refer to by key."""

    key: str
    title: str
    publisher: str
    edition: str
    year: int
    how_checked: str


@dataclass(frozen=True, slots=True)
class Row:
    """One value with its unit, how well it stands, and why."""

    key: str
    value: float | str | tuple[str, ...]
    unit: str
    mark: Mark
    source: str
    clause: str
    note: str

    @property
    def number(self) -> float:
        """The value as a number; raises RowRefusal when the row holds words."""
        if isinstance(self.value, float):
            return self.value
        raise RowRefusal(f"Row {self.key} holds {self.value!r} where a number is needed.")

    @property
    def text(self) -> str:
        """The value as words; raises RowRefusal when the row holds anything else."""
        if isinstance(self.value, str):
            return self.value
        raise RowRefusal(f"Row {self.key} holds {self.value!r} where words are needed.")

    @property
    def words(self) -> tuple[str, ...]:
        """The value as a list of words; raises RowRefusal when the row holds anything else."""
        if isinstance(self.value, tuple):
            return self.value
        raise RowRefusal(f"Row {self.key} holds {self.value!r} where a list of words is needed.")

    @property
    def assumption(self) -> str | None:
        """A sentence to show beside results that stand on a value nobody answers for, else None."""
        if self.mark in (Mark.PUBLISHED, Mark.RAILWAY):
            return None
        return f"{self.label}: {self.shown} ({self.mark}). {self.note}"

    @property
    def label(self) -> str:
        """The key in words, without the unit at its end."""
        unit = "_" + self.unit.lower().replace("/", "_per_")
        return self.key.removesuffix(unit).replace("_", " ")

    @property
    def shown(self) -> str:
        """The value with its unit, in words."""
        if isinstance(self.value, tuple):
            return ", ".join(self.value)
        if isinstance(self.value, str):
            return self.value
        return f"{self.value:g}" if self.unit == "-" else f"{self.value:g} {self.unit}"


class Rows(Mapping[str, Row]):
    """The rows of one table, read by key; a missing key names the file it should stand in."""

    def __init__(self, rows: dict[str, Row], where: str) -> None:
        self._rows = rows
        self.where = where

    def __getitem__(self, key: str) -> Row:
        try:
            return self._rows[key]
        except KeyError:
            raise RowRefusal(f"{self.where} has no row {key}; add it with unit and mark.") from None

    def __contains__(self, key: object) -> bool:
        return key in self._rows

    def __iter__(self) -> Iterator[str]:
        return iter(self._rows)

    def __len__(self) -> int:
        return len(self._rows)

    def number(self, key: str) -> float:
        """The number in row ``key``."""
        return self[key].number


@cache
def sources() -> Mapping[str, Source]:
    """All published texts that rows may refer to, by key."""
    return {key: Source(key=key, **fields) for key, fields in _file("sources").items()}


def read_rows(table: Mapping[str, Any], where: str) -> Rows:
    """Check and type the rows of one TOML table; raises RowRefusal with place and remedy."""
    return Rows({key: read_row(key, fields, where) for key, fields in table.items()}, where)


def read_row(key: str, fields: Mapping[str, Any], where: str) -> Row:
    """Check and type one row; raises RowRefusal with place and remedy."""
    place = f"{where}, row {key}"
    if unknown := set(fields) - {"value", "unit", "mark", "source", "clause", "note"}:
        raise RowRefusal(f"{place}: unknown field {sorted(unknown)[0]}; remove or respell it.")
    if missing := {"value", "unit", "mark"} - set(fields):
        raise RowRefusal(f"{place}: field {sorted(missing)[0]} is missing; add it.")
    row = Row(
        key=key,
        value=_typed(fields["value"], place),
        unit=fields["unit"],
        mark=_mark(fields["mark"], place),
        source=fields.get("source", ""),
        clause=fields.get("clause", ""),
        note=fields.get("note", ""),
    )
    _check_standing(row, place)
    return row


def _typed(value: object, place: str) -> float | str | tuple[str, ...]:
    if isinstance(value, bool):
        raise RowRefusal(f"{place}: write the value as words or a number, not true or false.")
    if isinstance(value, int | float):
        return float(value)
    if isinstance(value, str):
        return value
    if isinstance(value, list) and all(isinstance(item, str) for item in value):
        return tuple(value)
    raise RowRefusal(f"{place}: the value must be a number, words, or a list of words.")


def _mark(mark: str, place: str) -> Mark:
    try:
        return Mark(mark)
    except ValueError:
        known = ", ".join(Mark)
        raise RowRefusal(f"{place}: mark {mark!r} is not known; use one of {known}.") from None


def _check_standing(row: Row, place: str) -> None:
    if row.source and row.source not in sources():
        raise RowRefusal(f"{place}: source {row.source!r} is not in sources.toml; list it there.")
    if row.mark is Mark.PUBLISHED and not row.source:
        raise RowRefusal(f"{place}: a published value needs a source; name one or change the mark.")
    if row.mark is not Mark.PUBLISHED and not row.note:
        raise RowRefusal(f"{place}: a value marked {row.mark} needs a note saying why; write one.")


@cache
def rows_of(name: str) -> Mapping[str, Rows]:
    """The tables of ``rows/<name>.toml``, each a set of rows, by table name."""
    tables = {key: rows for key, rows in _file(name).items() if key != "start"}
    return {key: read_rows(rows, f"{name}.toml [{key}]") for key, rows in tables.items()}


def in_force_since(name: str) -> date:
    """The day from which the rows of ``rows/<name>.toml`` stand."""
    since = _file(name).get("start")
    if not isinstance(since, date):
        raise RowRefusal(f"{name}.toml has no start date; write start = YYYY-MM-DD at its top.")
    return since


def _file(name: str) -> dict[str, Any]:
    return tomllib.loads((HERE / "rows" / f"{name}.toml").read_text("utf-8"))


def table_of(name: str, key: str) -> Rows:
    """One table of ``rows/<name>.toml``; raises RowRefusal when it is not there."""
    tables = rows_of(name)
    if key not in tables:
        raise RowRefusal(f"{name}.toml has no table [{key}]; add it before estimating {key} work.")
    return tables[key]
