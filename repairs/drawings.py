"""Drawings as plain geometry that templates turn into SVG: no script, no inline style."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from repairs.models import Estimate

WIDTH, MARGIN, GAP = 640, 26, 34
CHART, LABELS, ROW = 980, 250, 24
ROUND_MINUTES = (15, 30, 60, 120, 240)


@dataclass(frozen=True)
class Box:
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class CavityDrawing:
    """One zone in plan, along the rail and across it, all to one scale.

    The bar of the scale is ``scale_mm`` long and runs from the margin to ``scale_end``.
    """

    zone: dict[str, Any]
    height: float
    plan_top: Box
    plan_floor: Box
    along: str
    along_y: float
    across: str
    across_x: float
    scale_mm: int
    scale_end: float
    ground: bool

    @property
    def label_y(self) -> float:
        """Where the names of the two sections stand."""
        return self.along_y - 7

    @property
    def scale_y(self) -> float:
        return self.height - 20

    @property
    def scale_text_y(self) -> float:
        return self.height - 4


def cavity_drawing(zone: dict[str, Any]) -> CavityDrawing:
    """Where each line of the drawing lies; sizes in mm from the zone of an estimate."""
    length, width, depth = zone["top_length_mm"], zone["top_width_mm"], zone["depth_mm"]
    scale = (WIDTH - 3 * MARGIN - GAP) / (length + width)
    plan = Box(MARGIN, MARGIN, length * scale, width * scale)
    floor = Box(
        MARGIN + (length - zone["floor_length_mm"]) / 2 * scale,
        MARGIN + (width - zone["floor_width_mm"]) / 2 * scale,
        zone["floor_length_mm"] * scale,
        zone["floor_width_mm"] * scale,
    )
    below = plan.y + plan.height + GAP
    across_x = plan.x + plan.width + GAP
    scale_mm = next((mm for mm in (20, 50, 100, 200) if mm * scale > 50), 400)
    return CavityDrawing(
        zone=zone,
        height=below + depth * scale + GAP + 16,
        plan_top=plan,
        plan_floor=floor,
        along=_trough(plan.x, below, length, zone["floor_length_mm"], depth, scale),
        along_y=below,
        across=_trough(across_x, below, width, zone["floor_width_mm"], depth, scale),
        across_x=across_x,
        scale_mm=scale_mm,
        scale_end=MARGIN + scale_mm * scale,
        ground=not zone["layers"],
    )


def _trough(x: float, y: float, top: float, floor: float, depth: float, scale: float) -> str:
    """The outline of a section: down one slope, along the floor, up the other."""
    slope = (top - floor) / 2 * scale
    points = (
        (x, y),
        (x + slope, y + depth * scale),
        (x + slope + floor * scale, y + depth * scale),
        (x + top * scale, y),
    )
    return " ".join(f"{px:.1f},{py:.1f}" for px, py in points)


@dataclass(frozen=True)
class StageBar:
    name: str
    y: int
    x: float
    width: float
    minutes: float
    no_hand_back: bool


@dataclass(frozen=True)
class Line:
    x: float
    words: str


@dataclass(frozen=True)
class StageChart:
    """The stages one below the other against minutes, with the 50, 80 and 95 % lines."""

    width: int
    height: int
    floor: int
    bars: list[StageBar]
    ticks: list[Line]
    chances: list[Line]
    ends: float | None = None


def stage_chart(estimate: Estimate) -> StageChart:
    """The picture of an estimate's time as it is kept."""
    return stage_chart_of(estimate.detail)


def stage_chart_of(detail: Mapping[str, Any], available_min: float | None = None) -> StageChart:
    """The picture of an estimate's time; each stage begins where the medians before it end.

    With the minutes of track time there is a line where it ends.
    """
    stages = detail["stages"]
    whole = max(detail["p95_min"], sum(stage["median_min"] for stage in stages), available_min or 0)
    scale = (CHART - LABELS - MARGIN) / whole
    bars, minute = [], 0.0
    for number, stage in enumerate(stages):
        bars.append(
            StageBar(
                name=stage["name"],
                y=MARGIN + number * ROW,
                x=round(LABELS + minute * scale, 1),
                width=round(max(stage["median_min"] * scale, 1.5), 1),
                minutes=stage["median_min"],
                no_hand_back=stage["hand_back"] == "never",
            )
        )
        minute += stage["median_min"]
    floor = MARGIN + len(stages) * ROW
    step = next((m for m in ROUND_MINUTES if whole / m <= 9), 480)
    chances = ((50, detail["p50_min"]), (80, detail["p80_min"]), (95, detail["p95_min"]))
    return StageChart(
        width=CHART,
        height=floor + 30,
        floor=floor,
        bars=bars,
        ticks=[
            Line(round(LABELS + minutes * scale, 1), f"{minutes / 60:g} h")
            for minutes in range(0, int(whole) + 1, step)
        ],
        chances=[Line(round(LABELS + m * scale, 1), f"{chance} %") for chance, m in chances],
        ends=None if available_min is None else round(LABELS + available_min * scale, 1),
    )


MOST_DRIVERS = 3


def drivers_of(detail: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The stages whose time is least sure, the first the most; none of an older estimate."""
    known = [stage for stage in detail["stages"] if stage.get("spread_share")]
    return sorted(known, key=lambda stage: -float(stage["spread_share"]))[:MOST_DRIVERS]
