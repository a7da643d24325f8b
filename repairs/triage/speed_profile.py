"""The closed form of a speed restriction, part by part, and the points to draw it by.

Constant braking, constant speed over the restricted length and the train's own length, constant
acceleration (any mechanics text). The three losses add up to ``slow_order.lost_seconds``.
"""

from dataclasses import dataclass

from repairs.triage.slow_order import Train


@dataclass(frozen=True, slots=True)
class SpeedProfile:
    """What one train loses, in seconds, and where its head runs how fast: (m, km/h).

    Distances count from where braking begins; ``slow_from_m`` to ``slow_to_m`` is run slowly.
    """

    line_kmh: float
    slow_kmh: float
    braking_s: float
    slow_s: float
    accelerating_s: float
    slow_from_m: float
    slow_to_m: float
    points: tuple[tuple[float, float], ...]

    @property
    def lost_s(self) -> float:
        return self.braking_s + self.slow_s + self.accelerating_s


def speed_profile(
    line_kmh: float, slow_kmh: float, restricted_m: float, train: Train, steps: int = 12
) -> SpeedProfile:
    """The run of a train through a restriction slower than the line.

    Raises ValueError where it is not slower, or at or below zero, or the length is below zero.
    """
    if not 0 < slow_kmh < line_kmh or restricted_m < 0:
        raise ValueError(
            "A restriction is drawn where its speed is above zero and below the line's, "
            "and its length is not below zero."
        )
    fast, slow = line_kmh / 3.6, slow_kmh / 3.6
    brakes_m = (fast**2 - slow**2) / (2 * train.braking_m_s2)
    gains_m = (fast**2 - slow**2) / (2 * train.acceleration_m_s2)
    slow_m = restricted_m + train.length_m
    until = brakes_m + slow_m
    falling = [
        (brakes_m * n / steps, _after(fast, -train.braking_m_s2, brakes_m * n / steps))
        for n in range(steps + 1)
    ]
    rising = [
        (until + gains_m * n / steps, _after(slow, train.acceleration_m_s2, gains_m * n / steps))
        for n in range(steps + 1)
    ]
    return SpeedProfile(
        line_kmh=line_kmh,
        slow_kmh=slow_kmh,
        braking_s=(fast - slow) / train.braking_m_s2 - brakes_m / fast,
        slow_s=slow_m * (1 / slow - 1 / fast),
        accelerating_s=(fast - slow) / train.acceleration_m_s2 - gains_m / fast,
        slow_from_m=brakes_m,
        slow_to_m=until,
        points=(*falling, *rising),
    )


def _after(speed: float, rate: float, distance: float) -> float:
    """km/h after a distance at a constant rate: v2 = u2 + 2 a s."""
    return 3.6 * float(max(speed**2 + 2 * rate * distance, 0) ** 0.5)
