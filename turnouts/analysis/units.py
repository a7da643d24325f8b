"""What people type and read, and the exact stored value behind it.

Stored values are Decimals with seven places: length in mm, distance in m, speed in km/h,
temperature in degC, mass in kg, tonnage in MGT, hardness in HBW, coordinates in deg. Seven places
hold every 1/128 in exactly (0.1984375 mm), so a measured value and a limit in inches compare
without rounding.

Factors are the exact definitions of the international yard and pound: 1 in = 25.4 mm,
1 mi = 1609.344 m, 1 lb = 0.45359237 kg (NIST Handbook 44, Appendix C, 2023, from memory).
"""

import re
import unicodedata
from dataclasses import dataclass
from decimal import ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from enum import StrEnum
from fractions import Fraction

from turnouts.analysis.terms import Quantity

PLACES = Decimal("0.0000001")
"""The last place that is stored."""

LARGEST = Decimal(10_000_000)
"""Stored values stay below this: fourteen digits, seven of them after the point."""


class UnitError(ValueError):
    """A typed value that is not taken; the text is a sentence for the person who typed it."""


class Dimension(StrEnum):
    """What kind of thing a number counts; the comment is the stored unit."""

    LENGTH = "length"  # mm
    DISTANCE = "distance"  # m
    SPEED = "speed"  # km/h
    TEMPERATURE = "temperature"  # degC
    MASS = "mass"  # kg
    TONNAGE = "tonnage"  # MGT
    HARDNESS = "hardness"  # HBW
    COORDINATE = "coordinate"  # deg, south and west below zero


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: ``stored = typed * factor + offset``, exactly."""

    symbol: str
    dimension: Dimension
    factor: Fraction
    spellings: tuple[str, ...]
    offset: Fraction = Fraction(0)
    shown: str = ""
    """How people read it, where that differs from the symbol in files."""


def _unit(symbol: str, dimension: Dimension, factor: str | Fraction, *spellings: str) -> Unit:
    return Unit(symbol, dimension, Fraction(factor), (symbol.lower(), *spellings))


UNITS: dict[str, Unit] = {
    unit.symbol: unit
    for unit in (
        _unit("mm", Dimension.LENGTH, "1"),
        _unit("cm", Dimension.LENGTH, "10"),
        _unit("in", Dimension.LENGTH, "25.4", '"', "inch", "inches", "in."),
        _unit("ft", Dimension.LENGTH, "304.8", "'", "foot", "feet", "ft."),
        _unit("m", Dimension.DISTANCE, "1"),
        _unit("km", Dimension.DISTANCE, "1000"),
        _unit("yd", Dimension.DISTANCE, "0.9144", "yard", "yards"),
        _unit("mi", Dimension.DISTANCE, "1609.344", "mile", "miles"),
        _unit("km/h", Dimension.SPEED, "1", "kmh", "kph"),
        _unit("mph", Dimension.SPEED, "1.609344", "mi/h"),
        Unit("degC", Dimension.TEMPERATURE, Fraction(1), ("degc", "°c", "c"), shown="°C"),
        Unit(
            "degF",
            Dimension.TEMPERATURE,
            Fraction(5, 9),
            ("degf", "°f", "f"),
            offset=Fraction(-160, 9),
            shown="°F",
        ),
        _unit("kg", Dimension.MASS, "1"),
        _unit("g", Dimension.MASS, "0.001"),
        _unit("lb", Dimension.MASS, "0.45359237", "lbs"),
        _unit("MGT", Dimension.TONNAGE, "1"),
        _unit("HBW", Dimension.HARDNESS, "1", "hb", "bhn"),
        Unit("deg", Dimension.COORDINATE, Fraction(1), ("deg", "°", "degrees"), shown="°"),
    )
}

ALSO_READ_AS: dict[Dimension, tuple[str, ...]] = {
    Dimension.LENGTH: ("m",),
    Dimension.DISTANCE: ("ft",),
}
"""Units of a neighbouring dimension people type all the same: metres of rail, feet of track."""

_LENGTH_TO_DISTANCE = Fraction(1, 1000)

EXAMPLES: dict[Dimension, str] = {
    Dimension.LENGTH: "1 3/8 in, 4 ft 6 3/8 in or 34.925 mm",
    Dimension.DISTANCE: "12.5 mi or 800 m",
    Dimension.SPEED: "10 mph or 16 km/h",
    Dimension.TEMPERATURE: "500 degF or 260 degC",
    Dimension.MASS: "12.5 lb or 5.5 kg",
    Dimension.TONNAGE: "32.5 MGT",
    Dimension.HARDNESS: "340 HBW",
    Dimension.COORDINATE: "-48.8767 or 12.5 deg, south and west below zero",
}

QUANTITY_DIMENSION: dict[Quantity, Dimension] = dict.fromkeys(Quantity, Dimension.LENGTH) | {
    Quantity.HARDNESS: Dimension.HARDNESS,
    Quantity.RAIL_TEMPERATURE: Dimension.TEMPERATURE,
    Quantity.AIR_TEMPERATURE: Dimension.TEMPERATURE,
}
"""The dimension of each thing an inspector measures."""

_NUMBER = r"[0-9]+(?:\.[0-9]+)?|\.[0-9]+"
_MIXED = rf"(?:(?:[0-9]+[ -])?[0-9]+/[0-9]+|{_NUMBER})"
_FEET_AND_INCHES = re.compile(
    rf"(?P<feet>[0-9]+) ?(?:'|ft\.?|feet|foot)[ -]?(?P<inches>{_MIXED}) ?(?:\"|in\.?|inch|inches)?"
)
_AMOUNT = re.compile(rf"(?P<minus>-?)(?P<amount>{_MIXED}) ?(?P<unit>[^0-9]*)")
_DECIMAL_COMMA = re.compile(r"[0-9],[0-9]")
_MARKS = str.maketrans(
    {
        "\N{PRIME}": "'",
        "\N{RIGHT SINGLE QUOTATION MARK}": "'",
        "\N{LEFT SINGLE QUOTATION MARK}": "'",
        "\N{DOUBLE PRIME}": '"',
        "\N{RIGHT DOUBLE QUOTATION MARK}": '"',
        "\N{LEFT DOUBLE QUOTATION MARK}": '"',
        "\N{MINUS SIGN}": "-",
        "\N{EN DASH}": "-",
        "\N{FRACTION SLASH}": "/",
        "\N{MASCULINE ORDINAL INDICATOR}": "°",
    }
)
_TYPED_AT_MOST = 60
_DENOMINATORS = (2, 4, 8, 16, 32, 64, 128)
_IN_FRACTIONS = ("in", "ft", "mi")
_BELOW_ZERO = (Dimension.TEMPERATURE, Dimension.COORDINATE)
_ABSOLUTE_ZERO_DEGC = Fraction("-273.15")


def parse(text: str, unit: str | None, dimension: Dimension) -> Decimal:
    """The stored value of what a person typed.

    ``unit`` is the unit of the column or the form field; a unit typed with the number goes before
    it. Lengths must be held exactly: fractions with a denominator of 2 to 128, decimals of an inch
    to six places, of a mm to seven. Any other dimension is rounded to seven places, half to even.

    Raises UnitError with a sentence: what was read, what is wrong with it, how to type it.
    """
    read = _normalised(text, dimension)
    feet = _FEET_AND_INCHES.fullmatch(read) if dimension is Dimension.LENGTH else None
    if feet is not None:
        return _stored(_feet_and_inches(feet, text), text, dimension)
    match = _AMOUNT.fullmatch(read)
    if match is None:
        raise _refused(text, dimension, "it is not one number with one unit")
    amount = _amount(match["amount"], text, dimension)
    if match["minus"]:
        if dimension not in _BELOW_ZERO:
            raise _refused(text, dimension, "it is below zero")
        amount = -amount
    chosen = _chosen(match["unit"], unit, text, dimension)
    if "/" in match["amount"] and chosen.symbol not in _IN_FRACTIONS:
        raise _refused(text, dimension, f"{chosen.symbol} is typed with a point, not as a fraction")
    return _stored(to_stored(amount, chosen), text, dimension)


def unit_named(name: str, dimension: Dimension) -> Unit:
    """The unit a person or a column header means by ``name``; UnitError when there is none.

    A metre given for a length, or a foot for a distance, comes back with its factor for that
    dimension.
    """
    wanted = name.strip().translate(_MARKS).lower()
    for unit in UNITS.values():
        if wanted in unit.spellings:
            if unit.dimension is dimension:
                return unit
            if unit.symbol in ALSO_READ_AS.get(dimension, ()):
                return _borrowed(unit, dimension)
    known = ", ".join(u.symbol for u in UNITS.values() if u.dimension is dimension)
    raise UnitError(f'"{name}" is not a unit of {dimension.value}. Use one of: {known}.')


def to_stored(amount: Decimal | Fraction, unit: Unit) -> Fraction:
    """``amount`` of ``unit`` in the stored unit of its dimension, exactly."""
    return Fraction(amount) * unit.factor + unit.offset


def from_stored(value: Decimal | Fraction, unit: Unit) -> Fraction:
    """A stored value in ``unit``, exactly."""
    return (Fraction(value) - unit.offset) / unit.factor


def rounded(value: Fraction, places: Decimal = PLACES, rounding: str = ROUND_HALF_EVEN) -> Decimal:
    """``value`` to the place given; half goes to the even digit unless told otherwise."""
    steps = value / Fraction(places)
    whole = steps.numerator // steps.denominator if rounding == ROUND_FLOOR else round(steps)
    return (whole * places).quantize(places)


def _borrowed(unit: Unit, dimension: Dimension) -> Unit:
    scale = _LENGTH_TO_DISTANCE if dimension is Dimension.DISTANCE else 1 / _LENGTH_TO_DISTANCE
    return Unit(unit.symbol, dimension, unit.factor * scale, unit.spellings)


def _normalised(text: str, dimension: Dimension) -> str:
    if len(text) > _TYPED_AT_MOST:
        raise _refused(text, dimension, f"it is longer than {_TYPED_AT_MOST} characters")
    if _DECIMAL_COMMA.search(text):
        raise _refused(text, dimension, "it has a comma; use a point for decimals and no thousands")
    spelled = "".join(_spelled_fraction(mark) for mark in text).translate(_MARKS)
    plain = re.sub(r"\s+", " ", spelled.replace("''", '"')).strip().lower()
    if not plain:
        raise UnitError(f"Nothing was typed for a {dimension.value}. {_example(dimension)}")
    return plain


def _spelled_fraction(mark: str) -> str:
    """One sign such as ``⅜`` as `` 3/8``; superscripts stay, and are refused: 1³ must not be 13."""
    if unicodedata.decomposition(mark).startswith("<fraction>"):
        return " " + unicodedata.normalize("NFKC", mark)
    return mark


def _feet_and_inches(match: re.Match[str], text: str) -> Fraction:
    inches = _amount(match["inches"], text, Dimension.LENGTH)
    if inches >= 12:
        raise _refused(text, Dimension.LENGTH, "the inches after the feet are 12 or more")
    return to_stored(Fraction(match["feet"]) * 12 + inches, UNITS["in"])


def _amount(read: str, text: str, dimension: Dimension) -> Fraction:
    if "/" not in read:
        return Fraction(read)
    whole, _, fraction = re.sub("[ -]", " ", read).rpartition(" ")
    upper, lower = (int(part) for part in fraction.split("/"))
    if lower not in _DENOMINATORS:
        raise _refused(text, dimension, "the lower number of a fraction must be 2, 4, 8 ... 128")
    if upper >= lower:
        # 13/8 is more often a lost space in 1 3/8 than thirteen eighths; a guess could pass a limit
        raise _refused(text, dimension, "the upper number of the fraction is not the smaller one")
    return Fraction(whole or 0) + Fraction(upper, lower)


def _chosen(typed: str, column: str | None, text: str, dimension: Dimension) -> Unit:
    if not typed.strip() and column is None:
        raise _refused(text, dimension, "it has no unit")
    try:
        return unit_named(typed if typed.strip() else column or "", dimension)
    except UnitError as error:
        raise UnitError(f'"{_quoted(text)}" cannot be read: {error}') from None


def _stored(value: Fraction, text: str, dimension: Dimension) -> Decimal:
    if abs(value) >= LARGEST:
        raise _refused(text, dimension, "it is too large to be one")
    if dimension is Dimension.TEMPERATURE and value < _ABSOLUTE_ZERO_DEGC:
        raise _refused(text, dimension, "it is colder than -273.15 degC")
    stored = rounded(value)
    if dimension is Dimension.LENGTH and Fraction(stored) != value:
        raise _refused(text, dimension, "it is finer than the 0.0000001 mm that is kept")
    return stored


def _refused(text: str, dimension: Dimension, why: str) -> UnitError:
    quoted = f'"{_quoted(text)}" cannot be read as a {dimension.value}'
    return UnitError(f"{quoted}: {why}. {_example(dimension)}")


def _quoted(text: str) -> str:
    return text if len(text) <= _TYPED_AT_MOST else text[:_TYPED_AT_MOST] + "..."


def _example(dimension: Dimension) -> str:
    return f"Type it like {EXAMPLES[dimension]}."
