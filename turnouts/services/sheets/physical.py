"""Cells with a unit: read exactly, and written so that reading gives the same stored value."""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from turnouts.analysis.units import (
    UNITS,
    Dimension,
    Unit,
    UnitError,
    from_stored,
    parse,
    rounded,
    unit_named,
)
from turnouts.services.sheets.faults import CellFault
from turnouts.services.sheets.kinds import Written, as_text, plain
from turnouts.services.sheets.raw import Cell

_FRACTIONS_UP_TO = 128
_PLACES_SHOWN = Decimal("0.000001")


@dataclass(frozen=True, slots=True)
class Physical:
    """A column of one dimension in one unit, kept to so many places of the stored unit."""

    dimension: Dimension
    unit: str
    places: int = 7

    def read(self, cell: Cell) -> Decimal:
        return _parsed(as_text(cell).strip(), self.unit, self.dimension, self.places)

    def write(self, value: Decimal) -> Written:
        """In the column's unit where that is exact, else in the stored unit, which goes along."""
        return _cell(value, self.unit, self.dimension, self.places)


def header_unit(text: str, dimension: Dimension) -> str:
    """The symbol of the unit in a header; CellFault with a sentence when it is of another kind."""
    try:
        return unit_named(text, dimension).symbol
    except UnitError as error:
        raise CellFault(str(error)) from None


def stored_unit(dimension: Dimension) -> str:
    """The symbol of the unit a dimension is stored in."""
    return next(
        unit.symbol
        for unit in UNITS.values()
        if unit.dimension is dimension and unit.factor == 1 and not unit.offset
    )


@lru_cache(maxsize=65_536)
def _parsed(text: str, unit: str, dimension: Dimension, places: int) -> Decimal:
    try:
        stored = parse(text, unit, dimension)
    except UnitError as error:
        raise CellFault(str(error)) from None
    return rounded(Fraction(stored), Decimal(1).scaleb(-places))


@lru_cache(maxsize=65_536)
def _cell(value: Decimal, unit: str, dimension: Dimension, places: int) -> Written:
    written = _written(value, unit_named(unit, dimension))
    try:
        exact = _parsed(str(written), unit, dimension, places) == value
    except CellFault:
        exact = False
    return written if exact else f"{plain(value):f} {stored_unit(dimension)}"


def _written(value: Decimal, unit: Unit) -> str | Decimal:
    amount = from_stored(value, unit)
    whole, rest = divmod(amount, 1)
    if unit.symbol == "in" and amount >= 0 and 1 < rest.denominator <= _FRACTIONS_UP_TO:
        fraction = f"{rest.numerator}/{rest.denominator}"
        return f"{whole} {fraction}" if whole else fraction
    return plain(rounded(amount, _PLACES_SHOWN))
