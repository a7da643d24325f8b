"""How earlier forecasts did: how often the 50, 80 and 95 % times held."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log
from statistics import fmean

from scipy.stats import binomtest

from repairs.welding.refusals import OutsideValidity

PROMISES = (0.5, 0.8, 0.95)
CONFIDENCE = 0.95
ENOUGH = 5
"""Jobs under which nothing is said about the forecasts: any share would be chance."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One finished job: its times as forecast before it began, and what it took, in minutes."""

    reference: str
    p50_min: float
    p80_min: float
    p95_min: float
    actual_min: float

    def __post_init__(self) -> None:
        if not 0 < self.p50_min <= self.p80_min <= self.p95_min or self.actual_min <= 0:
            raise OutsideValidity(
                f"{self.reference}: times must be above zero and in order, 50 % first. Correct "
                "the record."
            )

    def promised(self, promise: float) -> float:
        """The time promised with a chance of 0.5, 0.8 or 0.95."""
        return {0.5: self.p50_min, 0.8: self.p80_min, 0.95: self.p95_min}[promise]


@dataclass(frozen=True, slots=True)
class Held:
    """How often one promise held, with the interval the share truly lies in (Clopper-Pearson)."""

    promise: float
    jobs: int
    held: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """Share of the jobs done within the promised time."""
        return self.held / self.jobs

    @property
    def stands(self) -> bool:
        """Whether the records speak neither for too short nor for too long times."""
        return self.low <= self.promise <= self.high

    @property
    def sentence(self) -> str:
        """What was found, in words."""
        said = (
            f"{self.held} of {self.jobs} jobs were done within the {self.promise:.0%} time "
            f"({self.share:.0%}; with {self.jobs} jobs the true share lies between {self.low:.0%} "
            f"and {self.high:.0%})"
        )
        if self.stands:
            return f"{said}: no sign that it is wrong."
        wrong = "short" if self.high < self.promise else "long"
        return f"{said}: the time is too {wrong}."


@dataclass(frozen=True, slots=True)
class Calibration:
    """The record of the forecasts: what held, and by how much jobs ran over or under."""

    jobs: int
    held: tuple[Held, ...]
    median_ratio: float | None

    @property
    def enough(self) -> bool:
        """Whether there are enough jobs to say anything."""
        return self.jobs >= ENOUGH


def calibration(outcomes: Sequence[Outcome]) -> Calibration:
    """How often each promise held; ``median_ratio`` is the geometric mean of actual over p50.

    With fewer than ``ENOUGH`` jobs there is no verdict.
    """
    n = len(outcomes)
    if n < ENOUGH:
        return Calibration(n, (), None)
    ratio = exp(fmean(log(o.actual_min / o.p50_min) for o in outcomes))
    return Calibration(n, tuple(_held(outcomes, promise) for promise in PROMISES), ratio)


def _held(outcomes: Sequence[Outcome], promise: float) -> Held:
    held = sum(o.actual_min <= o.promised(promise) for o in outcomes)
    interval = binomtest(held, len(outcomes), promise).proportion_ci(CONFIDENCE, method="exact")
    return Held(promise, len(outcomes), held, float(interval.low), float(interval.high))
