"""How earlier forecasts did: whether intervals held, and whether chances came true.

Intervals are judged by how often they held (Clopper-Pearson) and by the interval score of Gneiting
and Raftery (JASA 102, 2007), chances by the Brier score (1950) against always saying the mean, and
by whether events came as often as was said.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp, fsum, pi, sqrt
from statistics import fmean

from scipy.special import ndtr, stdtr
from scipy.stats import binomtest

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.wear.limits import Limit
from turnouts.analysis.wear.line import Line

ENOUGH = 5
"""Forecasts under which nothing is said: any share would be chance (as for times of jobs)."""

PROMISE = 0.95
"""Chance that the interval of a next reading promises."""

CONFIDENCE = 0.95
BINS = (0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0)


@dataclass(frozen=True, slots=True)
class IntervalForecast:
    """A forecast interval with its promised chance, and what came: a reading, a tonnage."""

    reference: str
    low: float
    high: float
    chance: float
    came: float

    def __post_init__(self) -> None:
        if not self.low <= self.high or not 0 < self.chance < 1:
            raise ValueError(f"{self.reference}: bounds must be in order, the chance in 0 to 1.")


@dataclass(frozen=True, slots=True)
class ChanceForecast:
    """A forecast chance of an event (a limit reached before the next look), and whether it came."""

    reference: str
    chance: float
    came: bool

    def __post_init__(self) -> None:
        if not 0 <= self.chance <= 1:
            raise ValueError(f"{self.reference}: a chance lies between 0 and 1.")


@dataclass(frozen=True, slots=True)
class Met:
    """What a kept line had said of a reading that came later: its interval of ``PROMISE``, and the
    chance that the reading is past the limit; ``None`` without a limit."""

    low: float
    high: float
    chance: float | None


def met(line: Line, since_mgt: float, limit: Limit | None) -> Met:
    """What a line says of the next reading, scatter counted, so much tonnage after its reset."""
    band = line.band(since_mgt, PROMISE)
    if limit is None:
        return Met(band.low, band.high, None)
    spread = (line.error_at(since_mgt) ** 2 + line.sd**2) ** 0.5
    above = float(stdtr(line.degrees, (band.middle - limit.value) / spread))
    return Met(band.low, band.high, above if limit.rising else 1 - above)


@dataclass(frozen=True, slots=True)
class IntervalRecord:
    """How often intervals of one promise held; the true share lies from ``low`` to ``high``."""

    promise: float
    forecasts: int
    held: int
    low: float
    high: float
    mean_score: float
    stands: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class Bin:
    """Forecasts that said about the same chance: the mean said, how many, and how many came."""

    said: float
    forecasts: int
    came: int


@dataclass(frozen=True, slots=True)
class ChanceRecord:
    """``brier`` is 0 for a seer; ``skill`` is 1 less Brier over that of always saying the mean
    share, above 0 when the forecasts tell more than that; ``None`` when all or none came.

    ``expected`` events were said to come in all, ``came`` did.
    """

    forecasts: int
    brier: float
    skill: float | None
    expected: float
    came: int
    z: float
    stands: bool
    bins: tuple[Bin, ...]
    sentence: str


def interval_record(forecasts: Sequence[IntervalForecast]) -> IntervalRecord | NotEnough:
    """The record of intervals that all promise the same chance; ValueError when they differ."""
    if len({f.chance for f in forecasts}) > 1:
        raise ValueError("Judge intervals of one promised chance at a time.")
    if len(forecasts) < ENOUGH:
        return NotEnough.of("forecasts whose outcome is known", len(forecasts), ENOUGH)
    n, promise = len(forecasts), forecasts[0].chance
    held = sum(f.low <= f.came <= f.high for f in forecasts)
    share = binomtest(held, n, promise).proportion_ci(CONFIDENCE, method="exact")
    low, high = float(share.low), float(share.high)
    stands = low <= promise <= high
    wrong = "" if stands else " narrow" if high < promise else " wide"
    said = (
        f"{held} of {n} intervals of {promise:.0%} held (the true share lies between {low:.0%} and "
        f"{high:.0%})"
    )
    return IntervalRecord(
        promise=promise,
        forecasts=n,
        held=held,
        low=low,
        high=high,
        mean_score=fmean(interval_score(f) for f in forecasts),
        stands=stands,
        sentence=f"{said}: {'no sign that they are wrong' if stands else f'they are too{wrong}'}.",
    )


def interval_score(forecast: IntervalForecast) -> float:
    """Width, and 2/(1 - chance) times the distance by which it missed: the lower the better."""
    missed = max(forecast.low - forecast.came, 0.0) + max(forecast.came - forecast.high, 0.0)
    return forecast.high - forecast.low + 2 / (1 - forecast.chance) * missed


def chance_record(forecasts: Sequence[ChanceForecast]) -> ChanceRecord | NotEnough:
    """The record of forecast chances. They stand when as many events came as was said, within two
    standard deviations (Spiegelhalter, Statistics in Medicine 5, 1986, for the sum)."""
    n = len(forecasts)
    if n < ENOUGH:
        return NotEnough.of("forecasts whose outcome is known", n, ENOUGH)
    brier = fmean((f.chance - f.came) ** 2 for f in forecasts)
    came, expected = sum(f.came for f in forecasts), fsum(f.chance for f in forecasts)
    usual = came / n * (1 - came / n)
    spread = sqrt(sum(f.chance * (1 - f.chance) for f in forecasts))
    off = came - expected
    z = off / spread if spread else (0.0 if off == 0 else float("inf") * off)
    stands = abs(z) <= 2
    said = f"{came} of {n} came where {expected:.1f} were expected"
    return ChanceRecord(
        forecasts=n,
        brier=brier,
        skill=1 - brier / usual if usual else None,
        expected=expected,
        came=came,
        z=z,
        stands=stands,
        bins=_bins(forecasts),
        sentence=(
            f"{said}: no sign that the chances are wrong."
            if stands
            else f"{said}: the chances are too {'low' if z > 0 else 'high'}."
        ),
    )


def crps_normal(mean: float, sd: float, came: float) -> float:
    """Continuous ranked probability score of a normal forecast, in the unit of what came.

    Gneiting and Raftery (2007), equation 21: 0 for a seer, |came - mean| for a sure forecast.
    ValueError for a standard deviation below zero.
    """
    if sd < 0:
        raise ValueError("A standard deviation is not below zero.")
    if sd == 0:
        return abs(came - mean)
    z = (came - mean) / sd
    density = exp(-z * z / 2) / sqrt(2 * pi)
    return sd * (z * (2 * float(ndtr(z)) - 1) + 2 * density - 1 / sqrt(pi))


def _bins(forecasts: Sequence[ChanceForecast]) -> tuple[Bin, ...]:
    bins = []
    for low, high in pairwise(BINS):
        here = [f for f in forecasts if low <= f.chance < high or f.chance == high == 1]
        if here:
            bins.append(Bin(fmean(f.chance for f in here), len(here), sum(f.came for f in here)))
    return tuple(bins)
