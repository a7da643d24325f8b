"""The answers along one value as a scale: bands, turning points, the value now and the one asked.

The scale of the picture and of the slider under it begin and end at the same values.
"""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from repairs.services.what_if import WhatIf
from repairs.triage.bands import Band, Turned
from turnouts.analysis.showing import UnitPreference

WIDTH, EDGE, BAR_Y, BAR_HEIGHT, ROW = 640.0, 14.0, 62.0, 34.0, 30.0
LETTER = 13.0
"""Width of a letter at the size used on a phone: names further apart never run together."""

INCH = Decimal("25.4")


@dataclass(frozen=True)
class Slider:
    """Least, most and step of the scale in the reader's unit, each a multiple of the step."""

    unit: str
    factor: Decimal
    step: Decimal
    low: Decimal
    high: Decimal

    def mm(self, position: Decimal) -> Decimal:
        return position * self.factor

    def position(self, mm: Decimal) -> Decimal:
        """The nearest place the slider can stand at."""
        steps = (mm / self.factor / self.step).to_integral_value()
        return min(max(steps * self.step, self.low), self.high)


def slider_for(of: Turned, also: Decimal | None, units: UnitPreference) -> Slider:
    """A scale that holds every figure, the value now and the one asked, with room on both sides."""
    inches = units.length == "in"
    factor, step = (INCH, Decimal(1) / 64) if inches else (Decimal(1), Decimal("0.5"))
    round_to = Decimal(1) / 8 if inches else Decimal(5)
    held = [*of.limits, *(mm for mm in (of.now, also) if mm is not None)]
    room = max((max(held) - min(held)) / 4, Decimal(8))
    low = min(held) - room
    low = Decimal(0) if low < max(held) / 4 else low
    return Slider(
        unit=units.length,
        factor=factor,
        step=step,
        low=(low / factor / round_to).to_integral_value(ROUND_FLOOR) * round_to,
        high=((max(held) + room) / factor / round_to).to_integral_value(ROUND_CEILING) * round_to,
    )


@dataclass(frozen=True)
class Stretch:
    x: float
    width: float
    kind: str


@dataclass(frozen=True)
class Mark:
    """A value on the scale with its words, in a row where it runs into no other."""

    x: float
    y: float
    words: str
    anchor: str


@dataclass(frozen=True)
class ScaleDrawing:
    height: float
    stretches: list[Stretch]
    edges: list[Mark]
    now: float | None
    asked: float
    bar_y: float = BAR_Y
    bar_height: float = BAR_HEIGHT


def scale_drawing(asked: WhatIf, slider: Slider, show: Callable[[Decimal], str]) -> ScaleDrawing:
    """Where each band, edge and mark lies; ``show`` writes a length as the reader reads it."""
    low, high = slider.mm(slider.low), slider.mm(slider.high)

    def x(mm: Decimal) -> float:
        share = (min(max(mm, low), high) - low) / (high - low)
        return round(EDGE + float(share) * (WIDTH - 2 * EDGE), 1)

    edges = _in_rows([(x(band.low), show(band.low)) for band in asked.bands[1:]])
    rows = max((round((mark.y - BAR_Y - BAR_HEIGHT) / ROW) for mark in edges), default=0)
    return ScaleDrawing(
        height=BAR_Y + BAR_HEIGHT + (rows + 0.6) * ROW,
        stretches=[_stretch(band, x, high) for band in asked.bands],
        edges=edges,
        now=None if asked.of.now is None else x(asked.of.now),
        asked=x(asked.mm),
    )


def _stretch(band: Band, x: Callable[[Decimal], float], high: Decimal) -> Stretch:
    begins, ends = x(band.low), x(high if band.high is None else band.high)
    return Stretch(begins, round(max(ends - begins, 0), 1), band.traffic.kind.value)


def _in_rows(edges: list[tuple[float, str]]) -> list[Mark]:
    """Each name under its edge, in the first row where there is room."""
    ends: list[float] = []
    marks = []
    for x, words in edges:
        half = len(words) * LETTER / 2
        anchor = "start" if x - half < 0 else "end" if x + half > WIDTH else "middle"
        begins = {"start": x, "middle": x - half, "end": x - 2 * half}[anchor]
        row = next((n for n, end in enumerate(ends) if begins > end), len(ends))
        ends[row : row + 1] = [begins + 2 * half + LETTER]
        marks.append(Mark(x, BAR_Y + BAR_HEIGHT + (row + 1) * ROW, words, anchor))
    return marks
