"""Reading the data of an event, field by field; whatever is wrong is said in one sentence."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Any
from uuid import UUID

from turnouts.analysis.terms import Term

MOST_PLACES = 7
"""Decimal places a reading may have: 1/128 in is 0.1984375 mm."""


class BadEvent(ValueError):
    """The event cannot be read; the sentence says what is wrong and what would be right."""


@dataclass
class Reading:
    """The fields of one event that were not read yet."""

    what: str
    fields: dict[str, Any]

    @classmethod
    def of(cls, what: str, raw: object) -> "Reading":
        """Raises BadEvent where the data is no set of named fields."""
        if not isinstance(raw, Mapping) or not all(isinstance(name, str) for name in raw):
            raise BadEvent(f"{what}: the data must be named fields, as in {{}}.")
        return cls(what, dict(raw))

    def words(self, name: str, longest: int) -> str:
        """Text that may not be empty."""
        said = self.text(name, longest)
        if not said:
            raise BadEvent(f"{self.what}: {name} is missing; give it.")
        return said

    def text(self, name: str, longest: int) -> str:
        """Text, or the empty one where there is none."""
        value = self.fields.pop(name, None)
        if value is None:
            return ""
        if not isinstance(value, str) or "\x00" in value:
            raise BadEvent(f"{self.what}: {name} must be text.")
        if len(value) > longest:
            raise BadEvent(f"{self.what}: {name} may have {longest} characters at most.")
        return value.strip()

    def number(self, name: str, least: int, most: int) -> Decimal:
        """An exact number within bounds, both included."""
        found = self.number_or_none(name, least, most)
        if found is None:
            raise BadEvent(f"{self.what}: {name} is missing; give a number.")
        return found

    def number_or_none(self, name: str, least: int, most: int) -> Decimal | None:
        value = self.fields.pop(name, None)
        if value is None or value == "":
            return None
        if isinstance(value, bool) or not isinstance(value, str | int | float | Decimal):
            raise BadEvent(f"{self.what}: {name} must be a number.")
        return self._exact(name, str(value), least, most)

    def _exact(self, name: str, said: str, least: int, most: int) -> Decimal:
        try:
            number = Decimal(said)
        except InvalidOperation:
            raise BadEvent(f"{self.what}: {name} must be a number, not {said[:20]!r}.") from None
        if not number.is_finite() or not least <= number <= most:
            raise BadEvent(f"{self.what}: {name} must lie between {least} and {most}.")
        plain = Decimal(f"{number:f}")
        # Phones count in binary: a figure beyond the seventh place is theirs, not the gauge's.
        rounded = round(plain, MOST_PLACES)
        return plain if plain == rounded else rounded

    def whole_numbers(self, name: str) -> tuple[int, ...]:
        """Whole numbers from 1, each once, in order."""
        value = self.fields.pop(name, None)
        if not isinstance(value, list | tuple) or len(value) > 100:
            raise BadEvent(f"{self.what}: {name} must be a list of whole numbers.")
        if not all(type(one) is int and 1 <= one <= 100 for one in value):
            raise BadEvent(f"{self.what}: {name} must hold whole numbers from 1 to 100.")
        return tuple(sorted(set(value)))

    def yes_or_no(self, name: str) -> bool:
        """True or false; false where it is missing."""
        value = self.fields.pop(name, False)
        if not isinstance(value, bool):
            raise BadEvent(f"{self.what}: {name} must be true or false.")
        return value

    def one_of(self, name: str, terms: type[Term]) -> str:
        """One of the words of a list."""
        found = self.one_of_or_none(name, terms)
        if found is None:
            raise BadEvent(f"{self.what}: {name} is missing; {_known(terms)}.")
        return found

    def one_of_or_none(self, name: str, terms: type[Term]) -> str | None:
        value = self.fields.pop(name, None)
        if value is None or value == "":
            return None
        if not isinstance(value, str) or value not in {term.value for term in terms}:
            raise BadEvent(f"{self.what}: {name} is not known; {_known(terms)}.")
        return value

    def identity(self, name: str) -> str:
        """The id of an event, in the one way it is kept."""
        try:
            return str(UUID(str(self.fields.pop(name, ""))))
        except ValueError:
            raise BadEvent(f"{self.what}: {name} must be the id of an event.") from None

    def moment_or_none(self, name: str) -> datetime | None:
        """A date and time with its offset."""
        value = self.fields.pop(name, None)
        return None if value is None else read_moment(self.what, name, value)

    def mapping_or_none(self, name: str) -> dict[str, Any] | None:
        value = self.fields.pop(name, None)
        return None if value is None else dict(Reading.of(self.what, value).fields)

    def nothing_left(self) -> None:
        """Refuse a field that nobody asked for: it would be lost without a word."""
        if self.fields:
            raise BadEvent(f"{self.what}: there is no field {sorted(self.fields)[0][:40]}.")


def read_moment(what: str, name: str, value: object) -> datetime:
    """A date and time with its offset. Raises BadEvent with a sentence."""
    try:
        moment = datetime.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        moment = None
    if moment is None or moment.utcoffset() is None:
        raise BadEvent(
            f"{what}: {name} must be a date and time with its offset, as 2026-03-05T22:00:00+00:00."
        )
    if not 2000 <= moment.year <= 2200:
        raise BadEvent(f"{what}: {name} lies outside the years 2000 to 2200.")
    return moment


def _known(terms: type[Term]) -> str:
    return f"known are {', '.join(term.value for term in terms)}"
