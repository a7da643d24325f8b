"""Pictures drawn by templates as SVG: where each mark and each tick stands.

Everything is in the picture's own units, which are pixels at its natural size.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from math import ceil, floor, log10

from turnouts.lifeline import LANES, Event, at_start_of
from turnouts.services.tonnage_clock import Clock

LEFT, RIGHT, TOP, LANE_HEIGHT, WIDTH = 110, 20, 14, 30, 980
LETTER_WIDTH = 8
_SHAPES = ("bar", "square", "ring", "diamond", "cross", "dot")
_LONGEST_MONTHLY = timedelta(days=3 * 366)


@dataclass(frozen=True)
class Tick:
    x: float
    words: str


@dataclass(frozen=True)
class Mark:
    x: float
    y: float
    shape: str
    words: str


@dataclass(frozen=True)
class Bar:
    """A stay in track or in the shop; ``label`` is empty where there is no room for it."""

    x: float
    y: float
    width: float
    shape: str
    words: str
    label: str


@dataclass(frozen=True)
class Lane:
    y: float
    words: str
    shape: str


@dataclass(frozen=True)
class LifePicture:
    width: int
    height: float
    floor: float
    lanes: list[Lane]
    ticks: list[Tick]
    tonnage: list[Tick]
    marks: list[Mark]
    bars: list[Bar]


@dataclass(frozen=True)
class Span:
    """Something that lasted: from a day to another, in one lane."""

    kind: str
    since: date
    until: date
    words: str


class TimeScale:
    """Moments as places between the left and the right edge."""

    def __init__(self, first: datetime, last: datetime, left: float, right: float) -> None:
        self.first, self.left, self.right = first, left, right
        self.last = max(last, first + timedelta(days=30))

    def x(self, at: datetime) -> float:
        part = (at - self.first) / (self.last - self.first)
        return round(self.left + part * (self.right - self.left), 1)

    def ticks(self) -> list[Tick]:
        """The turn of each year, or of each quarter where the time is short; at most about ten."""
        months = 3 if self.last - self.first < _LONGEST_MONTHLY else 12
        span_years = (self.last - self.first).days / 365.25
        step = max(1, ceil(span_years / 10)) if months == 12 else 1
        starts = (
            datetime(year, month, 1, tzinfo=UTC)
            for year in range(self.first.year, self.last.year + 1, step)
            for month in range(1, 13, months)
        )
        form = "%Y" if months == 12 else "%b %Y"
        inside = [at for at in starts if self.first <= at <= self.last]
        return [Tick(self.x(at), at.strftime(form)) for at in inside]


def life_picture(
    events: Sequence[Event], spans: Iterable[Span], now: datetime, clock: Clock | None = None
) -> LifePicture:
    """The events side by side over time: one lane a kind, later to the right.

    With a clock the tonnage stands on a second axis, at the moments when it had passed.
    """
    spans = list(spans)
    moments = [e.at for e in events] + [at_start_of(s.since) for s in spans]
    scale = TimeScale(min(moments, default=now), now, LEFT + 8, WIDTH - RIGHT)
    lanes = _lanes(events)
    place = {lane.words: lane for lane in lanes}
    lasting = {span.kind for span in spans}
    return LifePicture(
        width=WIDTH,
        height=TOP + LANE_HEIGHT * len(lanes) + (26 if clock is None else 46),
        floor=TOP + LANE_HEIGHT * len(lanes),
        lanes=lanes,
        ticks=scale.ticks(),
        tonnage=[] if clock is None else _tonnage(clock, scale, now),
        marks=[
            Mark(scale.x(e.at), place[e.kind].y, place[e.kind].shape, _said(e))
            for e in events
            if e.kind not in lasting
        ],
        bars=[_bar(span, place[span.kind], scale) for span in spans],
    )


def _tonnage(clock: Clock, scale: TimeScale, now: datetime) -> list[Tick]:
    """Round tonnages where they had passed; none where one would be written over the last."""
    first, last = clock.mgts[0], clock.at(now) or clock.mgts[0]
    step = level_step((last - first) / 2)
    ticks: list[Tick] = []
    for nth in range(ceil(first / step), floor(last / step) + 1):
        at = clock.when(nth * step)
        if at is None or not scale.first <= at <= scale.last:
            continue
        tick = Tick(scale.x(at), f"{nth * step:g} MGT")
        if not ticks or tick.x - ticks[-1].x > LETTER_WIDTH * (len(tick.words) + 1):
            ticks.append(tick)
    return ticks


def _lanes(events: Sequence[Event]) -> list[Lane]:
    present = {event.kind for event in events}
    others = sorted(present - set(LANES))
    names = [name for name in LANES if name in present] + others
    return [
        Lane(TOP + LANE_HEIGHT * (index + 0.5), name, _shape(name))
        for index, name in enumerate(names)
    ]


def _shape(name: str) -> str:
    return _SHAPES[LANES.index(name)] if name in LANES else "triangle"


def _bar(span: Span, lane: Lane, scale: TimeScale) -> Bar:
    start, end = scale.x(at_start_of(span.since)), scale.x(at_start_of(span.until))
    width = max(round(end - start, 1), 3)
    words = f"{span.words}, {span.since} to {span.until}"
    label = span.words if width > LETTER_WIDTH * len(span.words) + 10 else ""
    return Bar(start, lane.y - 7, width, lane.shape, words, label)


def _said(event: Event) -> str:
    more = f" ({event.detail})" if event.detail else ""
    return f"{event.at:%Y-%m-%d} {event.words}{more}"


@dataclass(frozen=True)
class Point:
    x: float
    y: float
    words: str


@dataclass(frozen=True)
class Level:
    y: float
    words: str


@dataclass(frozen=True)
class Chart:
    """A quantity against time; ``path`` joins the points in order."""

    width: int
    height: int
    left: float
    floor: float
    points: list[Point]
    levels: list[Level]
    ticks: list[Tick]
    path: str


def chart(readings: Sequence[tuple[datetime, Decimal, str]]) -> Chart:
    """Readings (when, number in the reader's unit, words) as points over time, from zero up."""
    width, height, left, base = 460, 200, 46, 168
    ordered = sorted(readings, key=lambda reading: reading[0])
    scale = TimeScale(ordered[0][0], ordered[-1][0], left + 6, width - 14)
    step = level_step(max(float(value) for _, value, _ in ordered))
    top = step * ceil(max(float(value) for _, value, _ in ordered) / step) or step

    def y(value: float) -> float:
        return round(base - value / top * (base - 14), 1)

    points = [Point(scale.x(at), y(float(value)), words) for at, value, words in ordered]
    levels = [Level(y(step * n), f"{step * n:g}") for n in range(floor(top / step + 0.5) + 1)]
    path = "M" + " L".join(f"{point.x} {point.y}" for point in points)
    ticks = scale.ticks()
    every = ceil(len(ticks) / 5) or 1  # more words would run into one another
    return Chart(width, height, left, base, points, levels, ticks[::every], path)


def level_step(top: float) -> float:
    """A round step that gives two to five levels."""
    if top <= 0:
        return 1.0
    rough = top / 4
    power = 10.0 ** floor(log10(rough))
    return next(power * m for m in (1, 2, 2.5, 5, 10) if power * m >= rough)
