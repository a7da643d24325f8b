"""What the heat model answers: the curve at the measuring place and what it means for each bead."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import log

from repairs.welding.refusals import OutsideValidity, WeldingRefusal


@dataclass(frozen=True, slots=True)
class BeadHeat:
    """One bead; minutes count from the start of the track time, by median stage times.

    ``ready_degc`` is the measuring place as the bead could start, ``start_degc`` as it does.
    """

    zone: str
    layer: int
    bead: int
    direction: str
    wait_min: float
    start_min: float
    end_min: float
    ready_degc: float
    start_degc: float


@dataclass(frozen=True, slots=True)
class PlaceCurve:
    """The measuring place of one zone through the time it is worked: minutes and degC."""

    zone: str
    place: str
    minutes: tuple[float, ...]
    degc: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class LayerCooling:
    """How the measuring place cools after a layer: minutes, and the share of its excess left."""

    zone: str
    layer: int
    minutes: tuple[float, ...]
    shares: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class HeatRun:
    """The casting's heat through one job.

    ``curves`` hold at most 400 points in all. Heat in is what arc and torch put into the steel;
    it equals what is stored and lost within 0.5 %, or there is no answer.
    """

    limit_degc: float
    place_mm: float
    air_degc: float
    begin_min: float
    end_min: float
    wait_min: float
    beads: tuple[BeadHeat, ...]
    curves: tuple[PlaceCurve, ...]
    cooling: tuple[LayerCooling, ...]
    heat_in_kj: float
    stored_kj: float
    lost_kj: float
    grid: str
    assumptions: tuple[str, ...]

    def layer_beads(self, zone: str, layer: int) -> tuple[BeadHeat, ...]:
        """The beads of one layer of a zone."""
        return tuple(bead for bead in self.beads if (bead.zone, bead.layer) == (zone, layer))

    @property
    def hottest_degc(self) -> float:
        """The hottest the measuring place is as a bead starts."""
        return max(bead.start_degc for bead in self.beads)


def wait_from(run: HeatRun, zone: str, layer: int, reading_degc: float) -> float:
    """Minutes until the next bead may start, from a temperature just measured at the place.

    The model's own cooling after that layer, scaled so that it begins at the reading. Past its
    last minute the excess over the air goes on falling as it fell at the end. Raises WeldingRefusal
    for a layer the run does not hold, OutsideValidity where the air is not under the limit.
    """
    if reading_degc <= run.limit_degc:
        return 0.0
    found = [cool for cool in run.cooling if (cool.zone, cool.layer) == (zone, layer)]
    if not found:
        raise WeldingRefusal(f"This forecast has no layer {layer} of {zone}; choose one it has.")
    if run.limit_degc <= run.air_degc:
        raise OutsideValidity(never_cools(run.air_degc, run.limit_degc))
    wanted = (run.limit_degc - run.air_degc) / (reading_degc - run.air_degc)
    return _minutes_to(found[0], wanted)


def never_cools(air_degc: float, limit_degc: float) -> str:
    """The sentence for a day on which no waiting helps."""
    return (
        f"At {air_degc:g} degC air the steel never cools to {limit_degc:g} degC; work in a "
        "cooler hour or by another procedure."
    )


def _minutes_to(cool: LayerCooling, wanted: float) -> float:
    points = list(zip(cool.minutes, cool.shares, strict=True))
    for (early, more), (late, less) in pairwise(points):
        if less <= wanted:
            return early + (late - early) * log(more / max(wanted, 1e-12)) / log(more / less)
    (early, more), (late, less) = points[-2:]
    rate = log(more / less) / (late - early)
    return late + log(less / wanted) / rate


def thinned(samples: list[tuple[float, float]], keep: int) -> list[tuple[float, float]]:
    """At most ``keep`` samples of a curve: its turning points first, then those between evenly."""
    if len(samples) <= keep:
        return samples
    turns = [
        n
        for n in range(1, len(samples) - 1)
        if (samples[n][1] - samples[n - 1][1]) * (samples[n + 1][1] - samples[n][1]) <= 0
    ]
    kept = {0, len(samples) - 1, *_evenly(turns, keep - 2)}
    rest = [n for n in range(len(samples)) if n not in kept]
    kept.update(_evenly(rest, keep - len(kept)))
    return [samples[n] for n in sorted(kept)]


def _evenly(numbers: list[int], count: int) -> list[int]:
    if count <= 0:
        return []
    if len(numbers) <= count:
        return numbers
    return [numbers[n * len(numbers) // count] for n in range(count)]


def falling(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """The points of a curve that lie under all before them, and over 0."""
    kept = [points[0]]
    for point in points[1:]:
        if 0 < point[1] < kept[-1][1]:
            kept.append(point)
    return kept


def rounded(values: Iterable[float], digits: int) -> tuple[float, ...]:
    """Values as they are kept: a curve is drawn, not calculated with."""
    return tuple(round(value, digits) for value in values)
