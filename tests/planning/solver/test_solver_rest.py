"""Rosters as they may be worked, on both sides of the rest that is asked for."""

from planning.solver.problem import Shift
from planning.solver.rest import rested

REST = 480


def test_a_shift_after_enough_rest_stays_as_it_is() -> None:
    one, two = Shift(0, 600, 0), Shift(1080, 1600, 1)
    assert rested([(one, 0), (two, 0)], REST) == (one, two)


def test_a_shift_a_minute_too_soon_begins_a_minute_later() -> None:
    assert rested([(Shift(0, 601, 0), 0), (Shift(1080, 1600, 1), 0)], REST)[1] == Shift(
        1081, 1600, 1
    )


def test_a_shift_that_is_over_before_the_rest_is_dropped_and_counts_no_more() -> None:
    roster = [(Shift(0, 600, 0), 0), (Shift(700, 1080, 0), 0), (Shift(1500, 1900, 1), 0)]
    assert rested(roster, REST) == (Shift(0, 600, 0), None, Shift(1500, 1900, 1))
    longer = [(Shift(0, 600, 0), 0), (Shift(700, 1081, 0), 0), (Shift(1500, 1900, 1), 0)]
    assert rested(longer, REST) == (
        Shift(0, 600, 0),
        Shift(1080, 1081, 0),
        Shift(1561, 1900, 1),
    )


def test_overtime_ends_where_the_rest_begins() -> None:
    for next_start, end in ((1200, 720), (1140, 660), (1080, 600)):
        found = rested([(Shift(0, 600, 0), 120), (Shift(next_start, 1700, 1), 60)], REST)
        assert [one.end_min for one in found if one] == [end, 1760]


def test_a_crew_without_shifts_has_none() -> None:
    assert rested([], REST) == ()
