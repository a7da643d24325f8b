"""Pictures of money and time: a train through a slow order, and cost a year against life."""

from collections.abc import Callable
from dataclasses import dataclass

from repairs.services.costs import LifeCosts
from repairs.triage.break_even import curve
from repairs.triage.speed_profile import SpeedProfile

WIDTH, LEFT, RIGHT, TOP, FLOOR = 640.0, 64.0, 14.0, 26.0, 210.0
HEIGHT = FLOOR + 62


@dataclass(frozen=True)
class Tick:
    place: float
    words: str


@dataclass(frozen=True)
class SpeedDrawing:
    """Speed against distance: the run as a line, the slow stretch as a box."""

    run: str
    box_x: float
    box_width: float
    fast_y: float
    slow_y: float
    ticks: list[Tick]
    floor: float = FLOOR
    height: float = HEIGHT


def speed_drawing(profile: SpeedProfile) -> SpeedDrawing:
    """Where the run of one train lies; distances in km from where braking begins."""
    whole = profile.points[-1][0]

    def x(metres: float) -> float:
        return round(LEFT + metres / whole * (WIDTH - LEFT - RIGHT), 1)

    def y(kmh: float) -> float:
        return round(FLOOR - kmh / profile.line_kmh * (FLOOR - TOP), 1)

    step = next((m for m in (500, 1000, 2000, 5000) if whole / m <= 6), 10_000)
    return SpeedDrawing(
        run=" ".join(f"{x(m)},{y(kmh)}" for m, kmh in profile.points),
        box_x=x(profile.slow_from_m),
        box_width=round(x(profile.slow_to_m) - x(profile.slow_from_m), 1),
        fast_y=y(profile.line_kmh),
        slow_y=y(profile.slow_kmh),
        ticks=[Tick(x(m), f"{m / 1000:g}") for m in range(0, int(whole) + 1, step)],
    )


@dataclass(frozen=True)
class Curve:
    points: str
    number: int
    dot_x: float
    dot_y: float
    words: str


@dataclass(frozen=True)
class LifeDrawing:
    """Cost a year against life in MGT: a line for each open way, a dot at the life taken for it.

    ``level`` is the cost of the second cheapest; ``turns`` where the cheapest would cost as much.
    """

    curves: list[Curve]
    level: float | None
    turns: Tick | None
    across: list[Tick]
    up: list[Tick]
    floor: float = FLOOR
    height: float = HEIGHT


def life_drawing(costs: LifeCosts) -> LifeDrawing | None:
    """The picture of the break-even; ``None`` where there is nothing to compare."""
    if costs.cost is None or costs.line is None:
        return None
    line, options = costs.line, [o for o in costs.cost.options if o.open]
    longest = max(o.way.life_mgt for o in options) * 1.1
    most = max(o.equal_annual for o in options) * 1.8

    def x(mgt: float) -> float:
        return round(LEFT + mgt / longest * (WIDTH - LEFT - RIGHT), 1)

    def y(money: float) -> float:
        return round(FLOOR - min(money / most, 1) * (FLOOR - TOP), 1)

    curves = []
    for number, option in enumerate(options, 1):
        points = [p for p in curve(option, line, costs.interest, longest, 50) if p[1] <= most]
        curves.append(
            Curve(
                points=" ".join(f"{x(life)},{y(money)}" for life, money in points),
                number=number,
                dot_x=x(option.way.life_mgt),
                dot_y=y(option.equal_annual),
                words=option.way.disposition.label,
            )
        )
    return LifeDrawing(
        curves=curves,
        level=y(options[1].equal_annual) if len(options) > 1 else None,
        turns=_turning(costs, x),
        across=[Tick(x(mgt), str(mgt)) for mgt in range(0, int(longest) + 1, _step(longest))],
        up=[Tick(y(m), f"{m:,}") for m in range(0, int(most) + 1, _step(most))],
    )


def _turning(costs: LifeCosts, x: Callable[[float], float]) -> Tick | None:
    life = costs.turning[0].value if costs.turning else None
    return None if life is None else Tick(x(life), f"{life:.0f} MGT")


def _step(most: float) -> int:
    """A round step that leaves at most six ticks."""
    return next((s * 10**n for n in range(7) for s in (1, 2, 5) if most / (s * 10**n) <= 6), 10**7)
