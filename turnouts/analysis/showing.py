"""Stored values as people read them, never on the wrong side of a limit.

A length in inches that is not exactly on a sixty-fourth is shown as "just over" or "just under"
the nearest one: 15.875 mm is "5/8 in", 15.88 mm is "just over 5/8 in". Lengths in mm are shown
with every stored digit. Speeds are limits, so a speed that is not whole is rounded down.
"""

from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal
from fractions import Fraction
from typing import Literal

from turnouts.analysis.units import UNITS, Dimension, Unit, from_stored, rounded

_SHOWN_IN_FEET_ABOVE_IN = 24
_TENTH = Decimal("0.1")
_DECIMALS: dict[Dimension, Decimal] = {
    Dimension.DISTANCE: Decimal("0.001"),
    Dimension.TEMPERATURE: _TENTH,
    Dimension.MASS: _TENTH,
    Dimension.TONNAGE: _TENTH,
    Dimension.HARDNESS: Decimal(1),
    Dimension.COORDINATE: Decimal("0.000001"),
}


@dataclass(frozen=True, slots=True)
class UnitPreference:
    """The units one person reads and types."""

    length: Literal["in", "mm"] = "in"
    distance: Literal["mi", "km"] = "mi"
    speed: Literal["mph", "km/h"] = "mph"
    temperature: Literal["degF", "degC"] = "degF"
    mass: Literal["lb", "kg"] = "lb"

    def unit_of(self, dimension: Dimension) -> Unit:
        """The unit this person reads ``dimension`` in."""
        if dimension is Dimension.TONNAGE:
            return UNITS["MGT"]
        if dimension is Dimension.HARDNESS:
            return UNITS["HBW"]
        if dimension is Dimension.COORDINATE:
            return UNITS["deg"]
        return UNITS[str(getattr(self, dimension.value))]


METRIC = UnitPreference("mm", "km", "km/h", "degC", "kg")
US = UnitPreference()


def show(value: Decimal, dimension: Dimension, preference: UnitPreference) -> str:
    """A stored value with its unit, as the person with this preference reads it.

    Rounding, half to even: distance to 0.001, temperature, mass and tonnage to 0.1, hardness to 1,
    coordinates to 0.000001.
    """
    unit = preference.unit_of(dimension)
    if dimension is Dimension.LENGTH:
        return format_length(value, preference.length)
    if dimension is Dimension.SPEED:
        number = rounded(from_stored(value, unit), Decimal(1), ROUND_FLOOR)
    else:
        number = rounded(from_stored(value, unit), _DECIMALS[dimension])
    return f"{_plain(number)} {unit.shown or unit.symbol}"


def show_against(
    value: Decimal, limit: Decimal, dimension: Dimension, preference: UnitPreference
) -> tuple[str, str]:
    """A value and its limit, shown so that two that differ never read the same.

    Where rounding makes them read the same, both also carry the stored number: this happens with
    a limit in mm read in inches (10 mm), or degrees within a tenth.
    """
    shown, shown_limit = (show(v, dimension, preference) for v in (value, limit))
    if shown != shown_limit or value == limit:
        return shown, shown_limit
    stored = next(u for u in UNITS.values() if u.dimension is dimension and u.factor == 1)
    name = stored.shown or stored.symbol
    return f"{shown} ({_plain(value)} {name})", f"{shown_limit} ({_plain(limit)} {name})"


def format_length(mm: Decimal, unit: Literal["in", "mm"]) -> str:
    """A length in mm with all its digits, or in inches to the nearest sixty-fourth, and marked
    "just over" or "just under" when it is not on one. Above 24 in: feet and inches."""
    if unit == "mm":
        return f"{_plain(mm)} mm"
    inches = from_stored(mm, UNITS["in"])
    nearest = Fraction(round(inches * 64), 64)
    mark = "" if inches == nearest else "just over " if inches > nearest else "just under "
    return f"{mark}{'-' if nearest < 0 else ''}{_inches(abs(nearest))}"


def _inches(inches: Fraction) -> str:
    if inches <= _SHOWN_IN_FEET_ABOVE_IN:
        return f"{_mixed(inches)} in"
    feet, rest = divmod(inches, 12)
    return f"{feet} ft {_mixed(rest)} in"


def _mixed(inches: Fraction) -> str:
    whole, rest = divmod(inches, 1)
    if not rest:
        return str(whole)
    return f"{whole} {rest}" if whole else str(rest)


def _plain(number: Decimal) -> str:
    """Digits without trailing zeros or an exponent."""
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def said_money(amount: float, currency: str) -> str:
    """An amount without cents and its currency, kept together: ``USD 12,300``."""
    return f"{currency}\N{NO-BREAK SPACE}{amount:,.0f}"
