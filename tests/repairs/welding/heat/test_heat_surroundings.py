"""What the air takes from the steel, against handbook figures worked by hand."""

import numpy as np
import pytest

from repairs.welding.heat.surroundings import (
    HOTTEST_COUNTED_DEGC,
    Surroundings,
    loss_coefficients,
    natural_coefficients,
    radiation_coefficients,
    wind_coefficient,
)
from repairs.welding.refusals import OutsideValidity

WIDTH = 0.16


def whole(degc: float, around: Surroundings) -> float:
    return float(loss_coefficients(np.array([degc]), around, WIDTH)[0])


def test_still_air_takes_about_twenty_at_two_hundred_degrees() -> None:
    # The usual round figure for natural convection and radiation together, from memory.
    assert whole(200, Surroundings(15)) == pytest.approx(20, rel=0.15)


def test_radiation_is_the_fourth_power_law() -> None:
    # 0.8 sigma (473.15^4 - 288.15^4) / 185 = 10.6 W/m2K by hand.
    by_hand = 0.8 * 5.670374e-8 * (473.15**4 - 288.15**4) / 185
    assert float(radiation_coefficients(np.array([200.0]), 15)[0]) == pytest.approx(by_hand)


def test_natural_convection_is_the_simplified_law() -> None:
    # 1.32 (185 / 0.16)^(1/4) = 7.70 W/m2K by hand.
    found = float(natural_coefficients(np.array([200.0]), 15, WIDTH)[0])
    assert found == pytest.approx(7.70, abs=0.01)


def test_wind_follows_the_flat_plate() -> None:
    # Incropera: 5 m/s over 0.16 m, Re 30303, Nu 0.664 Re^0.5 Pr^(1/3) = 102.1, h 21.6 W/m2K.
    assert wind_coefficient(5, WIDTH) == pytest.approx(21.6, abs=0.1)
    assert wind_coefficient(20, WIDTH) == pytest.approx(2 * wind_coefficient(5, WIDTH))
    assert wind_coefficient(0, WIDTH) == 0


def test_wind_and_lance_each_take_more_and_never_less_than_the_stronger() -> None:
    still, windy = whole(150, Surroundings(15)), whole(150, Surroundings(15, 8))
    lance = whole(150, Surroundings(15, 0, 50))
    both = whole(150, Surroundings(15, 8, 50))
    assert still < windy < both
    assert lance < both < windy + lance


@pytest.mark.parametrize("wind", [-0.1, 25.1])
def test_a_wind_nobody_works_in_is_refused(wind: float) -> None:
    with pytest.raises(OutsideValidity, match="metres a second"):
        wind_coefficient(wind, WIDTH)
    assert wind_coefficient(25, WIDTH) > 0


def test_the_flat_plate_is_refused_where_it_turns_turbulent() -> None:
    # Re 5e5 at 25 m/s is reached by 0.528 m.
    assert wind_coefficient(25, 0.527) > 0
    with pytest.raises(OutsideValidity, match="Reynolds"):
        wind_coefficient(25, 0.529)


def test_a_fitted_coefficient_stands_for_everything() -> None:
    assert whole(400, Surroundings(15, 8, 50, loss_w_per_m2_k=33.0)) == 33.0


def test_metal_just_laid_loses_no_more_than_what_is_counted() -> None:
    around = Surroundings(15, 0, 50)
    most = whole(HOTTEST_COUNTED_DEGC, around) * (HOTTEST_COUNTED_DEGC - 15)
    assert whole(2000, around) * (2000 - 15) == pytest.approx(most)
    assert whole(HOTTEST_COUNTED_DEGC - 10, around) * (HOTTEST_COUNTED_DEGC - 25) < most
