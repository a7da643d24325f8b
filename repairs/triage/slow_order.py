"""What a speed restriction costs: the running time each train loses to it.

A train brakes evenly from line speed to the restriction, runs the restricted length and its own
length at that speed, and accelerates evenly back. Closed-form kinematics of constant acceleration
(any mechanics text). Valid where the distance between restrictions leaves room to brake and
accelerate; trains that would stop there anyway lose less.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Train:
    """A typical train of the line. Lengths in m, accelerations in m/s2, all above zero."""

    length_m: float
    braking_m_s2: float
    acceleration_m_s2: float

    def __post_init__(self) -> None:
        if min(self.length_m, self.braking_m_s2, self.acceleration_m_s2) <= 0:
            raise ValueError("A train needs a length, a braking and an acceleration above zero.")


def lost_seconds(line_kmh: float, slow_kmh: float, restricted_m: float, train: Train) -> float:
    """Seconds one train loses; 0 where the restriction is no slower than the line.

    Raises ValueError for a restriction at or below zero (a stop loses no finite time) or a
    negative length.
    """
    if slow_kmh <= 0 or restricted_m < 0:
        raise ValueError("A restriction needs a speed above zero and a length not below zero.")
    fast, slow = line_kmh / 3.6, slow_kmh / 3.6
    if slow >= fast:
        return 0.0
    at_slow = (restricted_m + train.length_m) * (1 / slow - 1 / fast)
    return at_slow + sum(_changing(fast, slow, rate) for rate in _rates(train))


def _rates(train: Train) -> tuple[float, float]:
    return train.braking_m_s2, train.acceleration_m_s2


def _changing(fast: float, slow: float, rate: float) -> float:
    """Time lost while the speed changes: (fast - slow) / rate, less the time at full speed."""
    distance = (fast**2 - slow**2) / (2 * rate)
    return (fast - slow) / rate - distance / fast
