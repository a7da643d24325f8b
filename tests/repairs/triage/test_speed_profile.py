"""The parts of a slow order add up, and the drawn run is the run that was reckoned."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from repairs.triage.slow_order import Train, lost_seconds
from repairs.triage.speed_profile import speed_profile

TRAIN = Train(1500, 0.25, 0.06)


@given(st.floats(20, 160), st.floats(0.05, 0.95), st.floats(0, 5000))
def test_the_three_losses_are_the_whole_loss(line: float, share: float, length: float) -> None:
    profile = speed_profile(line, line * share, length, TRAIN)
    assert profile.lost_s == pytest.approx(lost_seconds(line, line * share, length, TRAIN))


def test_the_parts_by_hand() -> None:
    """20 m/s to 10 m/s at 0.25 m/s2: 40 s over 600 m, which takes 30 s at speed: 10 s lost."""
    profile = speed_profile(72, 36, 500, TRAIN)
    assert profile.braking_s == pytest.approx(10)
    assert profile.slow_s == pytest.approx(2000 / 10 - 2000 / 20)
    assert profile.slow_from_m == pytest.approx(600)
    assert profile.points[0] == pytest.approx((0, 72))
    assert profile.points[12] == pytest.approx((600, 36))
    assert profile.points[-1] == pytest.approx((600 + 2000 + 2500, 72))


@pytest.mark.parametrize("slow", [0, 72, 90])
def test_no_slower_than_the_line_is_no_restriction(slow: float) -> None:
    with pytest.raises(ValueError, match="below the line's"):
        speed_profile(72, slow, 60, TRAIN)
