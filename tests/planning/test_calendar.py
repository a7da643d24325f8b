"""The week in minutes."""

from datetime import UTC, date, datetime

import pytest
from django.test import override_settings

from planning.services.calendar import Week, week_of
from turnouts.services.errors import Refused


def test_a_week_begins_on_a_monday_and_on_no_other_day() -> None:
    assert Week(date(2026, 3, 2)).start == datetime(2026, 3, 2, tzinfo=UTC)
    with pytest.raises(Refused, match="2026-03-03 is not a Monday"):
        Week(date(2026, 3, 3))


@pytest.mark.parametrize("day", [date(2026, 3, 2), date(2026, 3, 8)])
def test_monday_and_sunday_lie_in_the_same_week(day: date) -> None:
    assert week_of(day).monday == date(2026, 3, 2)


def test_a_minute_and_its_moment_are_each_others_inverse() -> None:
    week = Week(date(2026, 3, 2))
    assert week.minute(week.moment(1441)) == 1441
    assert week.minute(datetime(2026, 3, 3, 0, 1, 59, tzinfo=UTC)) == 1441


@override_settings(TIME_ZONE="America/Chicago")
def test_the_week_of_a_clock_change_has_an_hour_less_and_no_window_moves() -> None:
    # US clocks go forward on the second Sunday of March, 8 March 2026 (15 U.S.C. 260a).
    week = Week(date(2026, 3, 2))
    assert week.minute(week.end) == 7 * 1440 - 60
    sunday_noon = datetime(2026, 3, 8, 17, 0, tzinfo=UTC)
    assert week.day_of(sunday_noon) == 6
    assert week.moment(week.minute(sunday_noon)) == sunday_noon


@override_settings(TIME_ZONE="America/Chicago")
def test_a_late_evening_belongs_to_the_day_of_the_railways_own_clock() -> None:
    eleven_at_night = datetime(2026, 3, 3, 5, 0, tzinfo=UTC)
    assert Week(date(2026, 3, 2)).day_of(eleven_at_night) == 0
