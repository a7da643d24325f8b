"""Sizes and temperatures as a welder says them: metric with inches or Fahrenheit beside."""

from fractions import Fraction


def size(mm: float) -> str:
    """Millimetres with the nearest sixteenth of an inch: ``16 mm (5/8 in)``."""
    sixteenths = Fraction(round(mm / 25.4 * 16), 16)
    whole, rest = divmod(sixteenths, 1)
    inches = " ".join(str(part) for part in (whole, rest) if part) or "under 1/16"
    return f"{mm:.3g} mm ({inches} in)"


def temperature(degc: float) -> str:
    """Degrees Celsius with Fahrenheit: ``260 degC (500 degF)``."""
    return f"{degc:.0f} degC ({degc * 9 / 5 + 32:.0f} degF)"


def minutes(value: float) -> str:
    """Whole minutes: ``12 min``."""
    return f"{value:.0f} min"
