"""Gouging rates and carbons held against a published table of grooves."""

from math import pi

import pytest

from repairs.welding.rows_toml import table_of
from repairs.welding.safety import gouging_current_a

# Air carbon arc on carbon steel, public copy of a welding handbook's table: diameter of the carbon
# in mm, then working current in A, width and depth of the groove in mm, each least and most.
GROOVES = {
    6.5: ((200, 250), (9, 11), (4, 6)),
    8.0: ((250, 350), (11, 13), (6, 9)),
    9.5: ((350, 450), (13, 15), (8, 12)),
}
STEEL_KG_PER_MM3 = 7.87e-6
CARBON_MM = 9.5
"""The rows speak of 3/8 in carbons."""


def kg_per_m(width: float, depth: float) -> float:
    """Weight of a metre of groove: half an ellipse."""
    return pi / 4 * width * depth * STEEL_KG_PER_MM3 * 1000


def test_the_current_of_the_shade_is_the_working_current_of_the_carbon() -> None:
    (low, high), _, _ = GROOVES[CARBON_MM]
    assert low <= gouging_current_a() <= high


@pytest.mark.parametrize("travel_in_per_min", [20, 60])
def test_the_rate_needs_the_arc_for_less_than_half_of_the_time(travel_in_per_min: float) -> None:
    # From memory of the trade: 20 to 60 in a minute along the groove. A published cost worksheet
    # has the arc burn 30 % of the time with sticks and 45 % with wire; gouging, with its looking
    # for the last of the crack, must be under that, and not a small part of it.
    _, widths, depths = GROOVES[CARBON_MM]
    arc_kg_per_h = kg_per_m(widths[0], depths[0]) * travel_in_per_min * 0.0254 * 60
    share = table_of("stages", "gouging").number("rate_kg_per_h") / arc_kg_per_h
    assert 0.05 < share < 0.45


def test_a_carbon_is_loaded_for_less_groove_than_it_cuts() -> None:
    # From memory: a 12 in carbon cuts 6 to 9 ft of shallow groove. That of a 1/4 in carbon is the
    # shallowest such groove in the table; fewer metres a carbon are counted, so none runs out.
    _, widths, depths = GROOVES[6.5]
    counted_m = table_of("materials", "carbons").number("kg_removed_each") / kg_per_m(
        widths[0], depths[0]
    )
    assert 0.3 < counted_m / (6 * 0.3048) < 1
