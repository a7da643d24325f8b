"""Tonnage by days and by moves."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from turnouts.analysis.terms import Hand, Position, Route
from turnouts.analysis.tonnage import (
    Stay,
    TonnageError,
    Traffic,
    history,
    passed_mgt,
    routes_over,
    total_mgt,
)

# 36.525 MGT a year is exactly 0.1 MGT a day at 365.25 days a year
TENTH_A_DAY = Traffic(Route.THROUGH, date(2023, 1, 1), Decimal("36.525"))
FIFTH_A_DAY = Traffic(Route.THROUGH, date(2024, 1, 1), Decimal("73.05"))
DIVERGING = Traffic(Route.DIVERGING, date(2023, 1, 1), Decimal("3.6525"))


def test_a_leap_year_carries_one_day_more_than_a_common_year() -> None:
    rows = [TENTH_A_DAY]
    assert passed_mgt(rows, date(2023, 1, 1), date(2024, 1, 1)) == Decimal("36.5")
    assert passed_mgt(rows, date(2024, 1, 1), date(2025, 1, 1)) == Decimal("36.6")


def test_four_years_carry_four_times_the_yearly_tonnage() -> None:
    assert passed_mgt([TENTH_A_DAY], date(2023, 1, 1), date(2027, 1, 1)) == 4 * Decimal("36.525")


def test_a_new_row_counts_from_its_day_on() -> None:
    rows = [FIFTH_A_DAY, TENTH_A_DAY]
    assert passed_mgt(rows, date(2023, 12, 31), date(2024, 1, 1)) == Decimal("0.1")
    assert passed_mgt(rows, date(2023, 12, 31), date(2024, 1, 2)) == Decimal("0.3")
    assert passed_mgt(rows, date(2024, 3, 1), date(2024, 3, 11)) == Decimal("2")


def test_only_the_routes_asked_for_count() -> None:
    rows = [TENTH_A_DAY, DIVERGING]
    ten_days = (date(2023, 5, 1), date(2023, 5, 11))
    assert passed_mgt(rows, *ten_days) == Decimal("1.1")
    assert passed_mgt(rows, *ten_days, frozenset({Route.DIVERGING})) == Decimal("0.1")
    assert passed_mgt([TENTH_A_DAY], *ten_days, frozenset({Route.DIVERGING})) == 0


def test_no_days_carry_nothing_and_a_turned_span_is_refused() -> None:
    assert passed_mgt([TENTH_A_DAY], date(2023, 5, 1), date(2023, 5, 1)) == 0
    with pytest.raises(TonnageError, match="end 2023-04-30 is before the start 2023-05-01"):
        passed_mgt([TENTH_A_DAY], date(2023, 5, 1), date(2023, 4, 30))


def test_the_time_before_the_first_row_is_unknown_and_not_zero() -> None:
    assert passed_mgt([TENTH_A_DAY], date(2023, 1, 1), date(2023, 1, 2)) == Decimal("0.1")
    with pytest.raises(TonnageError, match="known from 2023-01-01 only"):
        passed_mgt([TENTH_A_DAY], date(2022, 12, 31), date(2023, 1, 2))


_DAYS = st.dates(min_value=date(2023, 1, 1), max_value=date(2030, 12, 31))


@given(st.tuples(_DAYS, _DAYS, _DAYS).map(sorted))
def test_tonnage_adds_up_over_any_split(days) -> None:
    start, middle, end = days
    rows = [TENTH_A_DAY, FIFTH_A_DAY, DIVERGING]
    whole = passed_mgt(rows, start, end)
    assert whole == passed_mgt(rows, start, middle) + passed_mgt(rows, middle, end)


def _frog_in_two_places() -> tuple[Stay, Stay]:
    return (
        Stay("A", date(2023, 1, 1), date(2023, 1, 11), (TENTH_A_DAY,)),
        Stay("B", date(2023, 3, 1), None, (TENTH_A_DAY, DIVERGING)),
    )


def test_a_frog_takes_its_tonnage_along_and_gathers_none_in_the_shop() -> None:
    passed = history(_frog_in_two_places(), date(2023, 3, 11))
    assert [p.during_mgt for p in passed] == [Decimal("1"), Decimal("1.1")]
    assert [p.total_mgt for p in passed] == [Decimal("1"), Decimal("2.1")]
    assert [p.until for p in passed] == [date(2023, 1, 11), date(2023, 3, 11)]
    assert total_mgt(_frog_in_two_places(), date(2023, 2, 1)) == Decimal("1")
    assert total_mgt(_frog_in_two_places(), date(2023, 1, 6)) == Decimal("0.5")
    assert total_mgt((), date(2023, 1, 6)) == 0


def test_stays_may_touch_but_not_overlap() -> None:
    first = Stay("A", date(2023, 1, 1), date(2023, 1, 11), (TENTH_A_DAY,))
    touching = Stay("B", date(2023, 1, 11), None, (TENTH_A_DAY,))
    assert total_mgt((touching, first), date(2023, 1, 21)) == Decimal("2")
    overlapping = Stay("B", date(2023, 1, 10), None, (TENTH_A_DAY,))
    with pytest.raises(TonnageError, match="put in at B on 2023-01-10, while it was still in A"):
        total_mgt((first, overlapping), date(2023, 1, 21))
    never_out = Stay("A", date(2023, 1, 1), None, (TENTH_A_DAY,))
    with pytest.raises(TonnageError, match="day it came out"):
        total_mgt((never_out, touching), date(2023, 1, 21))


@pytest.mark.parametrize(
    ("position", "right_hand", "left_hand"),
    [
        (Position.FROG, set(Route), set(Route)),
        (Position.LEFT_STOCK_RAIL, set(Route), set(Route)),
        (Position.LEFT_SWITCH_POINT, {Route.DIVERGING}, {Route.THROUGH}),
        (Position.RIGHT_SWITCH_POINT, {Route.THROUGH}, {Route.DIVERGING}),
        (Position.THROUGH_GUARD_RAIL, {Route.THROUGH}, {Route.THROUGH}),
        (Position.DIVERGING_CLOSURE_RAIL, {Route.DIVERGING}, {Route.DIVERGING}),
        (Position.FROG_PLATE, set(Route), set(Route)),
    ],
)
def test_the_routes_over_a_position_follow_from_the_hand(position, right_hand, left_hand) -> None:
    assert routes_over(position, Hand.RIGHT) == right_hand
    assert routes_over(position, Hand.LEFT) == left_hand


def test_every_position_carries_some_route() -> None:
    assert all(routes_over(position, hand) for position in Position for hand in Hand)
    assert routes_over(Position.LEFT_SWITCH_POINT, Hand.EQUILATERAL) == set(Route)
