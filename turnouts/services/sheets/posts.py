"""Places given by milepost, turned into distances along the line."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from typing import Any

from turnouts.analysis.linear import MilepostError, Mileposts, Post
from turnouts.analysis.units import rounded
from turnouts.models import Line, Milepost, Track
from turnouts.services.sheets.batch import Batch, Row

MILLIMETRE = Decimal("0.001")
"""Chainages are kept in m to three places."""


@dataclass(frozen=True, slots=True)
class Posts:
    """The posts of some lines; a line whose posts make no sense has its sentence instead."""

    of_line: dict[int, Mileposts]
    refused: dict[int, str]

    def chainage_m(self, line: int, reading: Decimal) -> Decimal:
        """The distance in m, to the millimetre; MilepostError with a sentence."""
        return rounded(Fraction(self._of(line).chainage_m(reading)), MILLIMETRE)

    def reading(self, line: int, chainage_m: Decimal) -> Decimal:
        """What the milepost reads there, to the three places a reading is typed with."""
        return rounded(Fraction(self._of(line).reading(chainage_m)), MILLIMETRE)

    def _of(self, line: int) -> Mileposts:
        if line in self.of_line:
            return self.of_line[line]
        raise MilepostError(self.refused.get(line, "This line has no mileposts yet."))


def posts_of(lines: Collection[int]) -> Posts:
    """The posts of ``lines``, in two queries."""
    units = dict(Line.objects.filter(pk__in=lines).values_list("pk", "milepost_unit"))
    by_line: dict[int, list[Post]] = defaultdict(list)
    rows = Milepost.objects.filter(line_id__in=lines).order_by("reading")
    for line, reading, chainage in rows.values_list("line_id", "reading", "chainage_m"):
        by_line[line].append(Post(reading, chainage))
    posts = Posts({}, {})
    for line, found in by_line.items():
        try:
            posts.of_line[line] = Mileposts(tuple(found), units[line])
        except MilepostError as error:
            posts.refused[line] = str(error)
    return posts


def lines_of_tracks(tracks: Iterable[int]) -> dict[int, int]:
    return dict(Track.objects.filter(pk__in=set(tracks)).values_list("pk", "line_id"))


@dataclass(frozen=True, slots=True)
class Chainage:
    """A step that fills ``target`` with the distance along the line of the reading in ``column``.

    The line is that of the row's track, or the one in the field ``line``.
    """

    column: str
    target: str
    line: str = ""

    def __call__(self, batch: Batch) -> None:
        rows = [row for row in batch.good() if self._reading(row) is not None]
        lines = self._lines(rows)
        posts = posts_of(set(lines.values()))
        for row in rows:
            try:
                line = lines[row.values[self.line or "track_id"]]
                row.values[self.target] = posts.chainage_m(line, self._reading(row))
            except MilepostError as error:
                batch.fault(row, self.column, str(error))

    def _reading(self, row: Row) -> Any:
        return row.values.get(self.column, row.extras.get(self.column))

    def _lines(self, rows: list[Row]) -> dict[int, int]:
        if self.line:
            return {row.values[self.line]: row.values[self.line] for row in rows}
        return lines_of_tracks(row.values["track_id"] for row in rows)


def check_posts(batch: Batch) -> None:
    """Posts must run on along their line: judged with those that are kept already."""
    rows: dict[int, dict[Decimal, Row]] = defaultdict(dict)
    for row in batch.good():
        rows[row.values["line_id"]][row.values["reading"]] = row
    posts = posts_of(rows)
    for line, sentence in posts.refused.items():
        batch.fault(_behind(line, rows[line]), "chainage", sentence)


def _behind(line: int, rows: dict[Decimal, Row]) -> Row:
    """The row of the post that stands behind the one before it, or else the line's first row."""
    kept = Milepost.objects.filter(line_id=line).order_by("reading")
    for before, after in pairwise(kept.values_list("reading", "chainage_m")):
        if after[1] < before[1]:
            found = rows.get(after[0]) or rows.get(before[0])
            if found is not None:
                return found
    return next(iter(rows.values()))
