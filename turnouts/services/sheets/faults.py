"""What is wrong with an upload: sheet, row, column and a sentence."""

from dataclasses import dataclass, field

from turnouts.services.errors import Refused

LISTED_AT_MOST = 10_000
"""Faults beyond these are counted only: nobody reads them, and a wrong file has millions."""

HEADER_ROW = 1


class CellFault(ValueError):
    """One cell that is not taken; the text is a sentence."""


class Unreadable(Refused):
    """A file or a sheet that cannot be read at all; the text is a sentence."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault. ``row`` counts as a spreadsheet does, 0 where the whole sheet is meant."""

    sheet: str
    row: int
    column: str
    sentence: str


@dataclass(slots=True)
class Faults:
    """All faults of one upload, in the order they were found."""

    listed: list[Fault] = field(default_factory=list)
    count: int = 0

    def add(self, fault: Fault) -> None:
        self.count += 1
        if len(self.listed) < LISTED_AT_MOST:
            self.listed.append(fault)
