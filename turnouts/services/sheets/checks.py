"""Checks that many sheets share, as steps: order of two values, and stretches that overlap."""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from itertools import islice
from typing import Any

from turnouts.services.sheets.batch import Batch, Row
from turnouts.services.sheets.spec import Step

ByRow = Callable[[Row], str | None]


def each(column: str, refuses: ByRow) -> Step:
    """A step that faults each row for which ``refuses`` gives a sentence."""

    def step(batch: Batch) -> None:
        for row in list(batch.good()):
            sentence = refuses(row)
            if sentence:
                batch.fault(row, column, sentence)

    return step


def in_order(
    early: str, late: str, sentence: str, *, column: str = "", or_same: bool = False
) -> Step:
    """A step that faults rows whose ``late`` value does not come after the ``early`` one.

    ``column`` is where the late value was typed, where that is not the field's own name.
    """

    def refuses(row: Row) -> str | None:
        first, last = row.values.get(early), row.values.get(late)
        if first is None or last is None or last > first or (or_same and last == first):
            return None
        return sentence

    return each(column or late, refuses)


@dataclass(frozen=True, slots=True)
class _Stretch:
    row: Row | None
    start: Any
    end: Any
    span: tuple[Any, Any] | None


@dataclass(frozen=True, slots=True)
class Apart:
    """A step that faults rows which overlap another row of the same ``group`` in time.

    Half open: one may begin when the other ends, and an empty end is open. With ``span`` two rows
    must overlap there too, along the track.
    """

    group: tuple[str, ...]
    start: str
    end: str
    column: str
    sentence: str
    span: tuple[str, str] | None = None

    def __call__(self, batch: Batch) -> None:
        groups: dict[tuple[Any, ...], list[_Stretch]] = defaultdict(list)
        rows = list(batch.good())
        replaced = {row.record.pk for row in rows if row.record is not None}
        for row in rows:
            groups[self._group(row.values.get)].append(self._stretch(row.values.get, row))
        for record in self._kept(batch, {group[0] for group in groups}, replaced):
            value = partial(getattr, record)
            if self._group(value) in groups:
                groups[self._group(value)].append(self._stretch(value, None))
        for stretches in groups.values():
            for row, other in _overlapping(stretches):
                batch.fault(row, self.column, self._says(other))

    def _kept(self, batch: Batch, firsts: set[Any], replaced: set[int]) -> Iterable[Any]:
        records = batch.sheet.model._default_manager.order_by("pk").filter(
            **{f"{self.group[0]}__in": firsts}
        )
        return (record for record in records if record.pk not in replaced)

    def _group(self, value: Callable[[str], Any]) -> tuple[Any, ...]:
        return tuple(value(name) for name in self.group)

    def _stretch(self, value: Callable[[str], Any], row: Row | None) -> _Stretch:
        span = (value(self.span[0]), value(self.span[1])) if self.span else None
        return _Stretch(row, value(self.start), value(self.end), span)

    def _says(self, other: _Stretch) -> str:
        until = f"until {other.end}" if other.end is not None else "without an end"
        where = f"row {other.row.number}" if other.row else "a record kept already"
        return f"{self.sentence} It overlaps {where}, from {other.start} {until}."


def _overlapping(stretches: list[_Stretch]) -> Iterable[tuple[Row, _Stretch]]:
    """Each row of the upload that overlaps another stretch, with that one; once a row."""
    told: set[int] = set()
    ordered = sorted(stretches, key=lambda stretch: (stretch.start, stretch.row is not None))
    for index, one in enumerate(ordered):
        for other in islice(ordered, index + 1, None):
            if one.end is not None and other.start >= one.end:
                break  # those after it begin later still
            row, against = (other.row, one) if other.row else (one.row, other)
            if row is not None and id(row) not in told and _overlap(one, other):
                told.add(id(row))
                yield row, against


def _overlap(one: _Stretch, other: _Stretch) -> bool:
    in_time = (one.end is None or other.start < one.end) and (
        other.end is None or one.start < other.end
    )
    if not in_time or one.span is None or other.span is None:
        return in_time
    return bool(one.span[0] < other.span[1] and other.span[0] < one.span[1])
