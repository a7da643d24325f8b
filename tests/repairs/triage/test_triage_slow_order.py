"""What a restriction costs: closed form against hand work and against integration."""

from datetime import date
from decimal import Decimal
from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from repairs.triage.decision import TrafficKind
from repairs.triage.priority import lost_minutes, price, worth_per_day
from repairs.triage.slow_order import Train, lost_seconds
from repairs.triage.traffic import traffic_of
from turnouts.analysis.dated import DatedError

DAY = date(2026, 11, 20)
FREIGHT = Train(length_m=1500, braking_m_s2=0.25, acceleration_m_s2=0.06)


def test_a_round_example_worked_by_hand() -> None:
    """30 m/s to 10 m/s over 100 m with a 500 m train, braking 0.5, accelerating 0.1 m/s2.

    At 10 m/s: 600 m in 60 s instead of 20 s, 40 s lost. Braking: 40 s over 800 m, which take
    26 2/3 s at speed, 13 1/3 s lost. Accelerating: 200 s over 4,000 m, 133 1/3 s at speed,
    66 2/3 s lost. Together 120 s.
    """
    train = Train(500, 0.5, 0.1)
    assert lost_seconds(108, 36, 100, train) == pytest.approx(120, abs=1e-9)


def test_a_freight_train_at_60_mph_over_a_10_mph_turnout() -> None:
    """By hand from v = v0 + at: 290.80 s at 10 mph, 37.25 s braking, 155.22 s accelerating."""
    lost = lost_seconds(96.56064, 16.09344, 60, FREIGHT)
    assert lost == pytest.approx(290.80 + 37.25 + 155.22, abs=0.02)


def by_integration(line_kmh: float, slow_kmh: float, restricted_m: float, train: Train) -> float:
    """Seconds lost as the integral of 1/v - 1/line over the way, from the speed at each metre."""
    fast, slow = line_kmh / 3.6, slow_kmh / 3.6

    def over(rate: float) -> float:
        way = (fast**2 - slow**2) / (2 * rate)
        lost, _ = quad(lambda x: 1 / sqrt(slow**2 + 2 * rate * x) - 1 / fast, 0, way, limit=200)
        return float(lost)

    steady = (restricted_m + train.length_m) * (1 / slow - 1 / fast)
    return over(train.braking_m_s2) + steady + over(train.acceleration_m_s2)


speeds = st.floats(5, 160)
trains = st.builds(Train, st.floats(50, 3000), st.floats(0.1, 1.2), st.floats(0.02, 0.8))
lengths = st.floats(0, 2000)


@given(speeds, st.floats(0.05, 0.99), lengths, trains)
def test_the_closed_form_is_the_integral_of_the_speed_profile(
    line: float, share: float, length: float, train: Train
) -> None:
    slow = line * share
    wanted = by_integration(line, slow, length, train)
    assert lost_seconds(line, slow, length, train) == pytest.approx(wanted, rel=1e-6, abs=1e-6)


@given(speeds, st.floats(1, 3), lengths, trains)
def test_a_restriction_at_or_above_line_speed_loses_nothing(
    line: float, share: float, length: float, train: Train
) -> None:
    assert lost_seconds(line, line * share, length, train) == 0


def test_a_restriction_just_below_line_speed_loses_something() -> None:
    assert 0 < lost_seconds(60, 59.9, 60, FREIGHT) < 1


@given(speeds, st.floats(0.05, 0.95), lengths, trains, st.floats(0, 500))
def test_slower_longer_and_heavier_never_lose_less(
    line: float, share: float, length: float, train: Train, more: float
) -> None:
    slow = line * share
    lost = lost_seconds(line, slow, length, train)
    longer = Train(train.length_m + more, train.braking_m_s2, train.acceleration_m_s2)
    lazier = Train(train.length_m, train.braking_m_s2, train.acceleration_m_s2 / 2)
    assert lost > 0
    assert lost_seconds(line, slow * 0.9, length, train) >= lost
    assert lost_seconds(line * 1.1, slow, length, train) >= lost
    assert lost_seconds(line, slow, length + more, train) >= lost
    assert lost_seconds(line, slow, length, longer) >= lost
    assert lost_seconds(line, slow, length, lazier) >= lost


@given(speeds, st.floats(0.05, 0.95), trains)
def test_two_stretches_at_one_speed_lose_what_one_as_long_loses_and_the_changing_again(
    line: float, share: float, train: Train
) -> None:
    """Restricted metres add up; braking, accelerating and the train's length come once each."""
    slow = line * share
    none, one, both = (lost_seconds(line, slow, metres, train) for metres in (0, 300, 600))
    assert both - one == pytest.approx(one - none, rel=1e-6)


@pytest.mark.parametrize(("slow", "length"), [(0, 60), (-1, 60), (10, -1)])
def test_what_is_no_restriction_is_refused(slow: float, length: float) -> None:
    with pytest.raises(ValueError, match="speed above zero and a length not below zero"):
        lost_seconds(60, slow, length, FREIGHT)


@pytest.mark.parametrize("train", [(0, 1, 1), (1, 0, 1), (1, 1, -1)])
def test_a_train_that_cannot_be_is_refused(train: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="above zero"):
        Train(*train)


def money(kind: TrafficKind, mph: int | None, trains: float = 12, growing: bool = True) -> float:
    speed = None if mph is None else Decimal(mph)
    worth = worth_per_day(
        traffic_of(kind, speed, speed),
        line_kmh=96.56,
        trains_per_day=trains,
        growing=growing,
        on=DAY,
    )
    return worth.per_day


def test_a_restriction_is_worth_its_minutes_times_trains_times_the_price_of_an_hour() -> None:
    minutes = lost_minutes(96.56, 16, DAY)
    wanted = minutes / 60 * 12 * price("train_hour", DAY)
    assert money(TrafficKind.RESTRICTED, 10) == pytest.approx(wanted)
    assert minutes == pytest.approx(lost_seconds(96.56, 16, 60, FREIGHT) / 60)


def test_each_train_adds_the_same() -> None:
    singles = sum(money(TrafficKind.RESTRICTED, 10, trains=1) for _ in range(12))
    assert money(TrafficKind.RESTRICTED, 10) == pytest.approx(singles)
    assert money(TrafficKind.RESTRICTED, 10, trains=0) == 0


def test_a_slower_restriction_is_worth_more_and_one_at_line_speed_nothing() -> None:
    assert money(TrafficKind.RESTRICTED, 10) > money(TrafficKind.RESTRICTED, 25) > 0
    assert money(TrafficKind.RESTRICTED, 60) < 1e-9 + money(TrafficKind.RESTRICTED, 50)
    assert money(TrafficKind.RESTRICTED, 80) == 0


def test_at_class_speed_only_a_growing_defect_is_worth_something() -> None:
    chance = price("daily_chance_of_restriction", DAY)
    at_ten = money(TrafficKind.RESTRICTED, 10)
    assert money(TrafficKind.CLASS_SPEED, 60) == pytest.approx(chance * at_ten, rel=0.01)
    assert money(TrafficKind.CLASS_SPEED, 60, growing=False) == 0
    assert money(TrafficKind.UNKNOWN, None) == money(TrafficKind.CLASS_SPEED, 60)


def test_stopped_traffic_is_worth_the_price_of_a_stopped_day() -> None:
    assert money(TrafficKind.STOP, 0) == price("stopped_day", DAY)


def test_before_the_first_price_nothing_is_priced() -> None:
    assert price("train_hour", date(2026, 1, 1)) > 0
    with pytest.raises(DatedError, match="train_hour"):
        price("train_hour", date(2025, 12, 31))
