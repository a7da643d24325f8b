"""The rows of one sheet on their way through an import."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.db.models import Model

from turnouts.models import Person
from turnouts.services.sheets.faults import Fault, Faults
from turnouts.services.sheets.spec import Sheet

Progress = Callable[[int, int, str], None]


class Counter:
    """Rows done of all rows, told on."""

    def __init__(self, progress: Progress, total: int) -> None:
        self._progress, self._total, self._done = progress, total, 0

    def __call__(self, rows: int, words: str) -> None:
        self._done = min(self._done + rows, self._total)
        self._progress(self._done, self._total, words)


@dataclass(slots=True)
class Row:
    """One row: the texts typed, the values of the model's fields, and what becomes of it."""

    number: int
    texts: dict[str, str] = field(default_factory=dict)
    values: dict[str, Any] = field(default_factory=dict)
    extras: dict[str, Any] = field(default_factory=dict)
    at_first: dict[str, Any] = field(default_factory=dict)
    """Values for a new record only: an existing one keeps its own."""
    record: Any = None
    is_new: bool = False
    changed: dict[str, Any] = field(default_factory=dict)
    """Field and old value, where an existing record becomes different."""
    only_seen: dict[str, str] = field(default_factory=dict)
    """Columns naming a row where the person may look but not import, with the sentence for it."""
    bad: bool = False


@dataclass(slots=True)
class Upload:
    """What all sheets of one import share."""

    person: Person
    dry_run: bool
    faults: Faults = field(default_factory=Faults)
    spoiled: dict[str, set[tuple[str, ...]]] = field(default_factory=dict)
    """Key texts of bad rows, so that rows that name them say so rather than "unknown"."""
    unread: set[str] = field(default_factory=set)
    """Sheets whose header has a fault, so that none of their rows was read."""
    moved_components: set[int] = field(default_factory=set)
    class_limits: dict[int, tuple[Decimal, Decimal]] = field(default_factory=dict)
    """Readings at which track classes begin and end, while the posts of their line move."""
    notes: list[str] = field(default_factory=list)
    advance: Callable[[int, str], None] = lambda rows, words: None


@dataclass(slots=True)
class Batch:
    """One sheet's rows."""

    sheet: Sheet
    upload: Upload
    present: tuple[str, ...]
    units: dict[str, str]
    rows: list[Row] = field(default_factory=list)

    def good(self) -> Iterator[Row]:
        return (row for row in self.rows if not row.bad)

    def fault(self, row: Row, column: str, sentence: str) -> None:
        """Note a fault, and keep the row from being written."""
        row.bad = True
        self.upload.faults.add(Fault(self.sheet.name, row.number, column, sentence))
        key = tuple(row.texts.get(name, "") for name in self.sheet.key_columns)
        self.upload.spoiled.setdefault(self.sheet.name, set()).add(key)

    def fault_in_sheet(self, row_number: int, column: str, sentence: str) -> None:
        self.upload.faults.add(Fault(self.sheet.name, row_number, column, sentence))

    def records(self) -> list[Model]:
        """The records written, new and changed."""
        return [row.record for row in self.good() if row.is_new or row.changed]
