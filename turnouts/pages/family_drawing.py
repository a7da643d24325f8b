"""Pictures of groups side by side: defects so far against tonnage, figures with their limits."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, log

from turnouts.analysis.ranking.comparison import Look, Part
from turnouts.pages.pictures import Tick, level_step
from turnouts.pages.why_drawing import Axes, Drawing

NAMES, RIGHT, WIDTH, ROW, TOP = 162, 16, 440, 26, 10
RATIO_TICKS = (0.1, 0.2, 0.5, 1, 2, 5, 10)


@dataclass(frozen=True)
class Side:
    """One group's picture beside the others, all on the same axes, and its table: tonnage, under
    watch, mean, limits."""

    part: Part
    drawing: Drawing
    rows: list[tuple[str, str, str, str]]


def sides(parts: Sequence[Part]) -> list[Side]:
    """The mean number of defects of each group with its limits, all on the same axes."""
    if not (drawn := [part for part in parts if part.steps]):
        return []
    last = max(part.steps[-1].mgt for part in drawn)
    axes = Axes([0.0, last], [0.0, max(step.mean for part in drawn for step in part.steps) * 1.3])
    return [Side(part, _side(part, axes), _rows(part)) for part in drawn]


def _rows(part: Part) -> list[tuple[str, str, str, str]]:
    return [
        (f"{s.mgt:.1f}", f"{s.watched}", f"{s.mean:.2f}", f"{s.low:.2f} to {s.high:.2f}")
        for s in part.steps
    ]


def _side(part: Part, axes: Axes) -> Drawing:
    steps = part.steps
    upper = _stairs([(s.mgt, min(s.high, axes.high)) for s in steps])
    lower = _stairs([(s.mgt, s.low) for s in steps])
    return Drawing(
        levels=axes.levels(),
        ticks=axes.ticks(),
        points=[],
        odd=[],
        line="",
        band=axes.path([*upper, *reversed(lower)]),
        steps=axes.path([(0.0, 0.0), *_stairs([(s.mgt, s.mean) for s in steps])]),
        limits=[],
    )


def _stairs(corners: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Level from each corner to the next."""
    stairs: list[tuple[float, float]] = []
    for mgt, height in corners:
        if stairs:
            stairs.append((mgt, stairs[-1][1]))
        stairs.append((mgt, height))
    return stairs


@dataclass(frozen=True)
class Whisker:
    """One group's figure between its limits; what lies outside the picture is drawn at its edge."""

    y: float
    name: str
    x: float
    low: float
    high: float
    differs: bool
    words: str


@dataclass(frozen=True)
class Whiskers:
    """Groups one under another; ``usual`` is where they would be if they were like the others."""

    whiskers: list[Whisker]
    ticks: list[Tick]
    usual: float | None
    width: int
    height: int
    left: int
    right: int
    floor: int


def ratios(looks: Sequence[Look], words: Sequence[str]) -> Whiskers:
    """Times the others, on a scale of ratios from a tenth to ten."""

    def x(ratio: float) -> float:
        least, most = log(RATIO_TICKS[0]), log(RATIO_TICKS[-1])
        share = (min(max(log(ratio), least), most) - least) / (most - least)
        return round(NAMES + share * (WIDTH - RIGHT - NAMES), 1)

    places = [(x(look.value), x(look.low), x(look.high)) for look in looks]
    return _whiskers(looks, words, places, [Tick(x(t), f"{t:g}") for t in RATIO_TICKS], x(1))


def rates(looks: Sequence[Look], words: Sequence[str], unit_mm: float) -> Whiskers:
    """Wear in the reader's unit a MGT."""
    ends = [0.0, *(end / unit_mm for look in looks for end in (look.low, look.high))]
    step = level_step(max(ends) - min(ends))
    first, last = step * floor(min(ends) / step), step * ceil(max(ends) / step)

    def x(rate: float) -> float:
        return round(NAMES + (rate - first) / (last - first) * (WIDTH - RIGHT - NAMES), 1)

    places = [
        (x(look.value / unit_mm), x(look.low / unit_mm), x(look.high / unit_mm)) for look in looks
    ]
    marks = (first + step * n for n in range(round((last - first) / step) + 1))
    return _whiskers(looks, words, places, [Tick(x(m), f"{m:.3g}") for m in marks], None)


def _whiskers(
    looks: Sequence[Look],
    words: Sequence[str],
    places: Sequence[tuple[float, float, float]],
    ticks: list[Tick],
    usual: float | None,
) -> Whiskers:
    rows = [
        Whisker(TOP + ROW * (n + 0.5), look.group, x, low, high, look.differs, said)
        for n, (look, said, (x, low, high)) in enumerate(zip(looks, words, places, strict=True))
    ]
    base = TOP + ROW * len(rows)
    return Whiskers(rows, ticks, usual, WIDTH, base + 30, NAMES, WIDTH - RIGHT, base)
