"""Frog angles against published tables, and the spread against plain trigonometry."""

import math
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from turnouts.analysis.geometry import (
    actual_point_mm,
    degrees_minutes_seconds,
    frog_angle,
    frog_number,
    point_thickness_mm,
    right_angle_frog_angle,
    right_angle_frog_number,
    spread_mm,
)

NUMBERS = st.decimals(min_value=2, max_value=40, places=2)


@pytest.mark.parametrize(
    ("number", "degrees", "minutes"),
    # NMRA RP-12.7, line 18, frog angle (read)
    [(4, 14, 15), (5, 11, 25), (6, 9, 32), (7, 8, 10)],
)
def test_frog_angles_are_those_of_the_published_table(number, degrees, minutes) -> None:
    angle = math.degrees(frog_angle(Decimal(number))) * 60
    assert round(angle) == degrees * 60 + minutes


@pytest.mark.parametrize(
    ("number", "angle"),
    [
        # No. 10 and No. 20 as AREMA plan 910 prints them, from memory; the others recomputed
        (4, (14, 15, 0)),
        (5, (11, 25, 16)),
        (6, (9, 31, 38)),
        (7, (8, 10, 16)),
        (8, (7, 9, 10)),
        (9, (6, 21, 35)),
        (10, (5, 43, 29)),
        (11, (5, 12, 18)),
        (12, (4, 46, 19)),
        (14, (4, 5, 27)),
        (15, (3, 49, 6)),
        (16, (3, 34, 47)),
        (18, (3, 10, 56)),
        (20, (2, 51, 51)),
        (24, (2, 23, 13)),
    ],
)
def test_frog_angles_to_the_second(number: int, angle: tuple[int, int, int]) -> None:
    assert degrees_minutes_seconds(frog_angle(Decimal(number))) == angle


@pytest.mark.parametrize(
    ("number", "angle"),
    [(10, (5, 42, 38)), (12, (4, 45, 49))],  # atan(1/10), atan(1/12), recomputed
)
def test_the_right_angle_convention_gives_a_smaller_angle(number, angle) -> None:
    by_right_angle = right_angle_frog_angle(Decimal(number))
    assert degrees_minutes_seconds(by_right_angle) == angle
    assert by_right_angle < frog_angle(Decimal(number))


@given(NUMBERS)
def test_number_and_angle_are_each_others_inverse(number: Decimal) -> None:
    assert frog_number(frog_angle(number)) == pytest.approx(float(number), rel=1e-12)
    assert right_angle_frog_number(right_angle_frog_angle(number)) == pytest.approx(
        float(number), rel=1e-12
    )


@given(NUMBERS, st.decimals(min_value=0, max_value=5000, places=3))
def test_the_spread_is_twice_the_distance_times_the_tangent_of_half_the_angle(
    number: Decimal, behind: Decimal
) -> None:
    by_tangent = 2 * float(behind) * math.tan(frog_angle(number) / 2)
    assert float(spread_mm(behind, number)) == pytest.approx(by_tangent, rel=1e-12)


def test_the_half_inch_point_lies_half_the_number_in_inches_behind_the_theoretical_point() -> None:
    assert actual_point_mm(Decimal(10)) == Fraction("127")  # 5 in
    assert spread_mm(Decimal(127), Decimal(10)) == Fraction("12.7")  # 1/2 in
    assert point_thickness_mm(Decimal(0), Decimal(10)) == Fraction("12.7")
    assert point_thickness_mm(Decimal("152.4"), Decimal(10)) == Fraction("27.94")  # 6 in further


@pytest.mark.parametrize("number", ["1.99", "40.01", "-10", "0"])
def test_numbers_no_frog_has_are_refused(number: str) -> None:
    with pytest.raises(ValueError, match="not between 2 and 40"):
        frog_angle(Decimal(number))
    with pytest.raises(ValueError, match="not between 2 and 40"):
        spread_mm(Decimal(1), Decimal(number))


@pytest.mark.parametrize("angle", [0.0, -0.1, math.pi / 2])
def test_angles_no_frog_has_are_refused(angle: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 90 degrees"):
        frog_number(angle)
    with pytest.raises(ValueError, match="between 0 and 90 degrees"):
        right_angle_frog_number(angle)


def test_there_is_no_spread_ahead_of_the_point() -> None:
    with pytest.raises(ValueError, match="ahead of the theoretical point"):
        spread_mm(Decimal("-0.1"), Decimal(10))
    with pytest.raises(ValueError, match="behind the actual point"):
        point_thickness_mm(Decimal("-0.1"), Decimal(10))


def test_seconds_that_round_up_to_a_minute_are_carried() -> None:
    assert degrees_minutes_seconds(math.radians(4 + 59 / 60 + 59.9 / 3600)) == (5, 0, 0)
