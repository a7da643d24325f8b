"""Road travel: quickest way, the same both ways, none where no road is."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planning.solver.travel import Link, Place, Roads

ROADS = Roads(
    60.0,
    (
        Link(Place("Hill", 10_000), Place("Shore", 0), 12.0),
        Link(Place("Hill", 0), Place("Hill", 40_000), 15.0),
    ),
)
places = st.builds(Place, st.sampled_from(["Hill", "Shore"]), st.floats(0, 60_000))


def test_along_a_line_travel_is_distance_by_speed() -> None:
    # 5 km at 60 km/h.
    assert ROADS.travel_min(Place("Hill", 3_000), Place("Hill", 8_000)) == pytest.approx(5)


def test_to_another_line_travel_goes_by_the_link() -> None:
    # 4 km to the junction, the link, 7 km along the other line.
    assert ROADS.travel_min(Place("Hill", 14_000), Place("Shore", 7_000)) == pytest.approx(
        4 + 12 + 7
    )


def test_a_short_cut_is_taken_only_where_it_is_quicker() -> None:
    assert ROADS.travel_min(Place("Hill", 0), Place("Hill", 40_000)) == pytest.approx(15)
    assert ROADS.travel_min(Place("Hill", 0), Place("Hill", 12_000)) == pytest.approx(12)


def test_no_road_means_endless_travel() -> None:
    assert math.isinf(ROADS.travel_min(Place("Hill", 0), Place("Island", 0)))
    assert ROADS.whole_minutes(Place("Hill", 0), Place("Island", 0)) is None


@given(places, places)
def test_travel_is_the_same_both_ways(a: Place, b: Place) -> None:
    assert ROADS.whole_minutes(a, b) == ROADS.whole_minutes(b, a)


@given(places, places, places)
def test_no_detour_is_quicker_in_whole_minutes(a: Place, b: Place, c: Place) -> None:
    direct, first, last = (ROADS.whole_minutes(*ends) for ends in ((a, c), (a, b), (b, c)))
    assert direct is not None
    assert first is not None
    assert last is not None
    assert direct <= first + last
