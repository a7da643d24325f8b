"""Pictures of wear against tonnage, and of defects against tonnage beside like components."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.recurrence.mean_cumulative import MeanCumulative
from turnouts.pages.pictures import Level, Point, Tick, level_step
from turnouts.services.component_file import Measured, Recurrence

WIDTH, HEIGHT, LEFT, RIGHT, TOP, FLOOR = 460, 220, 56, 14, 14, 172


@dataclass(frozen=True)
class LimitLine:
    """A limit across the picture; ``words`` stand over it."""

    y: float
    words: str


@dataclass(frozen=True)
class Drawing:
    """Points, a line with its band, steps and limits over tonnage."""

    levels: list[Level]
    ticks: list[Tick]
    points: list[Point]
    odd: list[Point]
    line: str
    band: str
    steps: str
    limits: list[LimitLine]
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    floor: int = FLOOR


class Axes:
    """Tonnage to the right and a value upwards, with round marks on both."""

    def __init__(self, x_values: Sequence[float], y_values: Sequence[float]) -> None:
        self.first, self.last = min(x_values), max(max(x_values), min(x_values) + 1)
        step = level_step(max(y_values) - min(y_values))
        self.low = step * floor(min(y_values) / step)
        self.high = max(step * ceil(max(y_values) / step), self.low + step)
        self.step = step

    def x(self, mgt: float) -> float:
        share = (mgt - self.first) / (self.last - self.first)
        return round(LEFT + 6 + share * (WIDTH - RIGHT - LEFT - 6), 1)

    def y(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return round(FLOOR - share * (FLOOR - TOP), 1)

    def levels(self) -> list[Level]:
        count = round((self.high - self.low) / self.step)
        marks = (self.low + self.step * n for n in range(count + 1))
        return [Level(self.y(mark), f"{mark:.6g}") for mark in marks]

    def ticks(self) -> list[Tick]:
        step = level_step(self.last - self.first)
        first, last = ceil(self.first / step), floor(self.last / step)
        return [Tick(self.x(n * step), f"{n * step:g}") for n in range(first, last + 1)]

    def path(self, corners: Sequence[tuple[float, float]]) -> str:
        return " ".join(f"{self.x(x)},{self.y(y)}" for x, y in corners)


def wear_drawing(one: Measured, unit_mm: float, words: Sequence[str]) -> Drawing:
    """The present run: readings, line and band, limits. ``unit_mm`` is the reader's unit in mm.

    ``words`` say each reading. Limits far off the readings would flatten them, so one further away
    than what is shown is high is left to the words.
    """
    readings = [(r.mgt - one.run.began_mgt, r.value / unit_mm) for r in one.run.readings]
    fitted = None if isinstance(one.wear, NotEnough) else one.wear
    band = [] if fitted is None else list(fitted.band)
    lows, highs = [b.low / unit_mm for b in band], [b.high / unit_mm for b in band]
    values = [value for _, value in readings] + lows + highs
    near = [
        (float(limit.mm) / unit_mm, limit.clause)
        for limit in one.limits
        if _near(float(limit.mm) / unit_mm, values)
    ]
    axes = Axes(
        [mgt for mgt, _ in readings] + [b.mgt for b in band],
        values + [value for value, _ in near],
    )
    odd = set() if fitted is None else {reading.reference for reading in fitted.odd}
    places = [
        (Point(axes.x(mgt), axes.y(value), said), reading.reference in odd)
        for (mgt, value), reading, said in zip(readings, one.run.readings, words, strict=True)
    ]
    outline = [(b.mgt, high) for b, high in zip(band, highs, strict=True)]
    outline += [(b.mgt, low) for b, low in zip(reversed(band), reversed(lows), strict=True)]
    return Drawing(
        levels=axes.levels(),
        ticks=axes.ticks(),
        points=[point for point, is_odd in places if not is_odd],
        odd=[point for point, is_odd in places if is_odd],
        line=axes.path([(b.mgt, b.middle / unit_mm) for b in band]),
        band=axes.path(outline),
        steps="",
        limits=[LimitLine(axes.y(value), clause) for value, clause in near],
    )


def _near(limit: float, values: Sequence[float]) -> bool:
    spread = max(max(values) - min(values), 1e-9)
    return min(values) - spread <= limit <= max(values) + spread


def defects_drawing(found: Recurrence) -> Drawing:
    """Defects so far on this component as steps, and the family's mean with its band."""
    history = found.own_history
    own = _corners([(mgt, 1.0) for mgt in history.events_mgt], history.begins_mgt, history.ends_mgt)
    steps = [] if found.family is None else list(found.family.steps)
    inside = [s for s in steps if history.begins_mgt < s.mgt <= history.ends_mgt]
    before = 0.0 if found.family is None else found.family.at(history.begins_mgt)
    middle = _levels(found.family, [(s.mgt, s.mean - before) for s in inside], history.ends_mgt)
    axes = Axes(
        [history.begins_mgt, history.ends_mgt],
        [0.0, 1.0, *(y for _, y in own), *(y for _, y in middle)],
    )
    return Drawing(
        levels=axes.levels(),
        ticks=axes.ticks(),
        points=[
            Point(axes.x(mgt), axes.y(n + 1), f"Defect {n + 1} at {mgt:.1f} MGT")
            for n, mgt in enumerate(sorted(history.events_mgt))
        ],
        odd=[],
        line=axes.path(middle),
        band="",
        steps=axes.path(own),
        limits=[],
    )


def _corners(
    events: Sequence[tuple[float, float]], begins: float, ends: float
) -> list[tuple[float, float]]:
    """A staircase from nothing, rising at each event."""
    corners, height = [(begins, 0.0)], 0.0
    for mgt, rise in sorted(events):
        corners += [(mgt, height), (mgt, height + rise)]
        height += rise
    return [*corners, (ends, height)]


def _levels(
    family: MeanCumulative | None, levels: Sequence[tuple[float, float]], ends: float
) -> list[tuple[float, float]]:
    if family is None or not levels:
        return []
    corners, height = list[tuple[float, float]](), 0.0
    for mgt, level in levels:
        corners += [(mgt, height), (mgt, level)]
        height = level
    return [*corners, (ends, height)]
