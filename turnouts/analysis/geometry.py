"""Frog number, frog angle and the spread behind the point.

Two conventions give a frog of the same number slightly different angles, so each function says
which one it speaks:

- centre line, N = 1/2 cot(theta/2): the distance along the line that halves the frog angle over
  the spread at right angles to it. Used in North America and Britain, and by everything here.
- right angle, N = cot(theta): the distance along one gage line over the offset square to it. Used
  in India (there also called Cole's method). Only the functions named ``right_angle_`` speak it.

A No. 10 frog is 5 deg 43 min 29 s by the first and 5 deg 42 min 38 s by the second.
"""

import math
from decimal import Decimal
from fractions import Fraction

from turnouts.analysis.units import UNITS, to_stored

SMALLEST_NUMBER = Decimal(2)
LARGEST_NUMBER = Decimal(40)
"""Frogs outside these numbers are taken for a slip of the pen (assumed: none is known to be made;
common frogs are No. 4 to No. 24)."""

ACTUAL_POINT_THICKNESS_IN = Fraction(1, 2)
"""The actual point of a frog is where the point rail is 1/2 in thick (common practice)."""


def frog_angle(number: Decimal) -> float:
    """The frog angle in radians, theta = 2 atan(1/(2N)), centre-line convention.

    Valid for No. 2 to No. 40; ValueError outside. Source: the formula as published in NMRA
    RP-12.7, whose angles of No. 4 to 7 it gives to the minute.
    """
    return 2 * math.atan(1 / (2 * float(_checked(number))))


def frog_number(angle: float) -> float:
    """The frog number of an angle in radians, N = 1/2 cot(theta/2), centre-line convention."""
    return 1 / (2 * math.tan(_checked_angle(angle) / 2))


def right_angle_frog_angle(number: Decimal) -> float:
    """The frog angle in radians, theta = atan(1/N), right-angle convention."""
    return math.atan(1 / float(_checked(number)))


def right_angle_frog_number(angle: float) -> float:
    """The frog number of an angle in radians, N = cot(theta), right-angle convention."""
    return 1 / math.tan(_checked_angle(angle))


def spread_mm(behind_theoretical_point_mm: Decimal, number: Decimal) -> Fraction:
    """The gage-line spread at a distance behind the theoretical point, both in mm, exactly.

    s = 2 x tan(theta/2) = x / N, with x along the centre line of the frog and s square to it. It
    is also the thickness of an unworn point there.
    """
    if behind_theoretical_point_mm < 0:
        raise ValueError(
            f"There is no spread {-behind_theoretical_point_mm} mm ahead of the theoretical point; "
            "give the distance behind it."
        )
    return Fraction(behind_theoretical_point_mm) / Fraction(_checked(number))


def actual_point_mm(number: Decimal) -> Fraction:
    """The distance in mm from the theoretical point back to the 1/2 in actual point: N/2 in."""
    return to_stored(ACTUAL_POINT_THICKNESS_IN * Fraction(_checked(number)), UNITS["in"])


def point_thickness_mm(behind_actual_point_mm: Decimal, number: Decimal) -> Fraction:
    """The thickness in mm of an unworn point at a distance behind its 1/2 in actual point."""
    if behind_actual_point_mm < 0:
        raise ValueError("Give the distance behind the actual point, not ahead of it.")
    half_inch = to_stored(ACTUAL_POINT_THICKNESS_IN, UNITS["in"])
    return half_inch + spread_mm(behind_actual_point_mm, number)


def degrees_minutes_seconds(angle: float) -> tuple[int, int, int]:
    """An angle in radians as whole degrees, minutes and seconds, to the nearest second."""
    minutes, seconds = divmod(round(math.degrees(angle) * 3600), 60)
    degrees, minutes = divmod(minutes, 60)
    return degrees, minutes, seconds


def _checked(number: Decimal) -> Decimal:
    if not SMALLEST_NUMBER <= number <= LARGEST_NUMBER:
        raise ValueError(
            f"Frog number {number} is not between {SMALLEST_NUMBER} and {LARGEST_NUMBER}."
        )
    return number


def _checked_angle(angle: float) -> float:
    if not 0 < angle < math.pi / 2:
        raise ValueError(f"A frog angle lies between 0 and 90 degrees, not at {angle} radians.")
    return angle
