"""The kinds of column: what a cell may hold, and how a stored value is written back into one.

``read`` takes a cell that is not empty and raises CellFault with a sentence; ``write`` gives a
cell that reads back to the same value.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from decimal import Decimal, InvalidOperation
from typing import Any, Protocol

from django.core.exceptions import ValidationError
from django.core.validators import BaseValidator
from django.utils import timezone

from turnouts.services.sheets.faults import CellFault
from turnouts.services.sheets.raw import Broken, Cell
from turnouts.services.sheets.texts import guarded, quoted, read_text

Written = str | int | Decimal | date | None

_YEARS = range(1830, 2200)
_DIGITS_AT_MOST = 40


class Kind(Protocol):
    """One kind of column."""

    def read(self, cell: Cell) -> Any: ...

    def write(self, value: Any) -> Written: ...


def as_text(cell: Cell) -> str:
    """A cell as the text a person sees; CellFault when the spreadsheet changed its meaning."""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, Broken):
        raise CellFault(cell.sentence)
    if isinstance(cell, datetime | date | time):
        raise CellFault(
            f"The spreadsheet took this cell for a date ({cell}). Fractions such as 5/8 turn into "
            "dates; format the column as text and type the cell again."
        )
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() else f"{Decimal(repr(cell)):f}"
    return "" if cell is None else str(cell)


@dataclass(frozen=True, slots=True)
class Text:
    """Free text, held to what the field it fills takes."""

    validators: Sequence[Any] = ()

    def read(self, cell: Cell) -> str:
        text = read_text(as_text(cell))
        for validator in self.validators:
            _validate(validator, text)
        return text

    def write(self, value: Any) -> Written:
        return guarded(value)


@dataclass(frozen=True, slots=True)
class Word:
    """One of a few words."""

    allowed: tuple[str, ...]

    def read(self, cell: Cell) -> str:
        word = as_text(cell).strip()
        if word in self.allowed:
            return word
        raise CellFault(f"{quoted(word)} is not known here. Use one of: {', '.join(self.allowed)}.")

    def write(self, value: Any) -> Written:
        return str(value)


@dataclass(frozen=True, slots=True)
class YesNo:
    """Yes or no; an empty cell is not known."""

    def read(self, cell: Cell) -> bool:
        word = as_text(cell).strip().lower()
        if word in ("yes", "no"):
            return word == "yes"
        raise CellFault(f"{quoted(word)} is neither yes nor no. Leave it empty where not known.")

    def write(self, value: Any) -> Written:
        return "yes" if value else "no"


@dataclass(frozen=True, slots=True)
class Day:
    """A date, typed like 2026-11-25 or a date cell of the spreadsheet."""

    def read(self, cell: Cell) -> date:
        if isinstance(cell, datetime):
            if cell.time() != time():
                raise CellFault(f"{quoted(cell)} has a time of day; give the date alone.")
            return _likely(cell.date())
        if isinstance(cell, date):
            return _likely(cell)
        text = as_text(cell).strip()
        try:
            if len(text) != len("2026-11-25"):
                raise ValueError
            return _likely(date.fromisoformat(text))
        except CellFault:
            raise
        except ValueError:
            raise CellFault(f"{quoted(text)} is not a date. Type it like 2026-11-25.") from None

    def write(self, value: Any) -> Written:
        day: date = value
        return day


@dataclass(frozen=True, slots=True)
class Moment:
    """A date and time: with its offset, or in the railway's own time zone."""

    def read(self, cell: Cell) -> datetime:
        if isinstance(cell, datetime):
            return self._placed(cell.replace(microsecond=0), str(cell))
        text = cell.isoformat() if isinstance(cell, date) else as_text(cell).strip()
        try:
            if len(text) < len("2026-11-25T09:30"):
                raise ValueError
            return self._placed(datetime.fromisoformat(text), text)
        except CellFault:
            raise
        except ValueError:
            raise CellFault(
                f"{quoted(text)} is not a date with a time. Type it like 2026-11-25T09:30."
            ) from None

    def write(self, value: Any) -> Written:
        moment: datetime = value
        return moment.astimezone(timezone.get_default_timezone()).isoformat()

    def _placed(self, moment: datetime, text: str) -> datetime:
        _likely(moment.date())
        if moment.tzinfo is not None:
            return moment.astimezone(UTC)
        here = timezone.get_default_timezone()
        earlier, later = (moment.replace(tzinfo=here, fold=fold) for fold in (0, 1))
        if earlier.utcoffset() != later.utcoffset():
            raise CellFault(
                f"{quoted(text)} falls into the hour in which the clocks change, so it is not "
                "clear. Add the offset, like 2026-11-01T01:30-05:00."
            )
        return earlier.astimezone(UTC)


@dataclass(frozen=True, slots=True)
class Number:
    """A number without a unit, kept to so many places after the point."""

    places: int
    digits: int
    least: Decimal | None = Decimal(0)

    def read(self, cell: Cell) -> Decimal:
        text = as_text(cell).strip()
        number = _decimal(text)
        if self.least is not None and number < self.least:
            raise CellFault(f"{quoted(text)} is below {self.least}.")
        kept = number.quantize(Decimal(1).scaleb(-self.places))
        if kept != number:
            raise CellFault(
                f"{quoted(text)} has more places after the point than the {self.places} kept."
            )
        if kept.adjusted() >= self.digits - self.places:
            raise CellFault(f"{quoted(text)} is too large.")
        return kept

    def write(self, value: Any) -> Written:
        return plain(value)


@dataclass(frozen=True, slots=True)
class Whole:
    """A whole number between two limits."""

    least: int
    most: int

    def read(self, cell: Cell) -> int:
        text = as_text(cell).strip()
        if text.isascii() and text.isdigit() and len(text) < _DIGITS_AT_MOST:
            number = int(text)
            if self.least <= number <= self.most:
                return number
        raise CellFault(f"{quoted(text)} is not a whole number from {self.least} to {self.most}.")

    def write(self, value: Any) -> Written:
        number: int = value
        return number


def plain(number: Decimal) -> Decimal:
    """The same number without trailing zeros and without an exponent."""
    return Decimal(f"{number.normalize():f}")


def _decimal(text: str) -> Decimal:
    try:
        number = Decimal(text)
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite() or "_" in text or not text.isascii() or len(text) > _DIGITS_AT_MOST:
        hint = "; type it with a point" if "," in text else ""
        raise CellFault(f"{quoted(text)} is not a number{hint}.")
    if abs(number.adjusted()) > _DIGITS_AT_MOST:
        raise CellFault(f"{quoted(text)} is too large or too small.")
    return number


def _likely(day: date) -> date:
    if day.year not in _YEARS:
        raise CellFault(f"The year {day.year} is taken for a slip of the pen; look again.")
    return day


def _validate(validator: Any, text: str) -> None:
    if isinstance(validator, BaseValidator) and validator.code == "max_length":
        if len(text) > validator.limit_value:
            raise CellFault(
                f"{quoted(text)} has {len(text)} characters; at most {validator.limit_value} "
                "can be kept."
            )
        return
    try:
        validator(text)
    except ValidationError as error:
        raise CellFault(f"{quoted(text)}: {' '.join(error.messages)}") from None
