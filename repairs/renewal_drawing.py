"""The break-even drawn: what welding once more costs per MGT, by how long the weld lasts."""

from dataclasses import dataclass

from turnouts.analysis.renewal.ways import Advice
from turnouts.pages.pictures import Level, Tick
from turnouts.pages.why_drawing import FLOOR, HEIGHT, LEFT, RIGHT, TOP, WIDTH, Axes


@dataclass(frozen=True)
class TurningDrawing:
    """A falling curve, replacing now as a level with its band, and two places on the axis."""

    levels: list[Level]
    ticks: list[Tick]
    curve: str
    replacing_y: float
    band_y: float
    band_height: float
    turns: Tick | None
    expected: Tick
    expected_y: float
    least_x: float
    most_x: float
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    span: int = WIDTH - RIGHT - LEFT
    top: int = TOP
    floor: int = FLOOR


def turning_drawing(advice: Advice) -> TurningDrawing:
    """Mean life of the next weld to the right, cost per MGT upwards; what is far above the level
    of replacing would flatten the rest and is left to the table."""
    low, high = advice.steady_90
    most = 2 * high
    curve = [p for p in advice.curve if p.cost_per_mgt <= most]
    longest = advice.curve[-1].life_mgt
    axes = Axes([0.0, longest], [0.0, most])
    here = min(advice.curve, key=lambda p: abs(p.life_mgt - advice.mean_weld_life_mgt))
    even, mean = advice.break_even_mgt, advice.mean_weld_life_mgt
    return TurningDrawing(
        levels=axes.levels(),
        ticks=axes.ticks(),
        curve=axes.path([(p.life_mgt, p.cost_per_mgt) for p in curve]),
        replacing_y=axes.y(advice.steady_cost_per_mgt),
        band_y=axes.y(high),
        band_height=round(axes.y(low) - axes.y(high), 1),
        turns=None if even is None else Tick(axes.x(even), f"{even:.0f} MGT"),
        expected=Tick(axes.x(mean), f"{mean:.0f} MGT"),
        expected_y=axes.y(min(here.cost_per_mgt, most)),
        least_x=axes.x(advice.life_90[0]),
        most_x=axes.x(min(advice.life_90[1], longest)),
    )
