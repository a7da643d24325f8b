"""The cooling curve of a job: the measuring place against time, with the limit and the waits."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

WIDTH, HEIGHT, LEFT, TOP, FLOOR = 960.0, 400.0, 78.0, 22.0, 350.0
LEAST_WAIT_MIN = 0.5
"""Shorter waits are no wider than their own outline; the table says them."""


@dataclass(frozen=True)
class Wait:
    """A band of time in which the next bead waits for the steel to cool."""

    x: float
    width: float
    words: str


@dataclass(frozen=True)
class Tick:
    at: float
    words: str


@dataclass(frozen=True)
class HeatDrawing:
    """Lines of the picture in its own units, and the sentence that says the same."""

    curves: list[str]
    beads: list[tuple[float, float]]
    waits: list[Wait]
    limit_y: float
    limit_words: str
    across: list[Tick]
    up: list[Tick]
    sentence: str
    width: float = WIDTH
    height: float = HEIGHT
    left: float = LEFT
    top: float = TOP
    floor: float = FLOOR


def heat_drawing(heat: Mapping[str, Any], unit: str) -> HeatDrawing:
    """The picture of a heat forecast as an estimate keeps it; ``unit`` is degF or degC."""
    begin: float = heat["begin_min"]
    end: float = max(heat["end_min"], begin + 1)
    hottest: float = max([heat["limit_degc"], *(t for c in heat["curves"] for t in c["degc"])])
    coldest: float = min([heat["air_degc"], *(t for c in heat["curves"] for t in c["degc"])])
    top_degc = hottest + 0.06 * (hottest - coldest)

    def x(minute: float) -> float:
        return round(LEFT + (minute - begin) / (end - begin) * (WIDTH - LEFT - 12), 1)

    def y(degc: float) -> float:
        return round(FLOOR - (degc - coldest) / (top_degc - coldest) * (FLOOR - TOP), 1)

    return HeatDrawing(
        curves=[_points(c, x, y) for c in heat["curves"]],
        beads=[(x(b["start_min"]), y(b["start_degc"])) for b in heat["beads"]],
        waits=[_wait(b, x) for b in heat["beads"] if b["wait_min"] >= LEAST_WAIT_MIN],
        limit_y=y(heat["limit_degc"]),
        limit_words=f"limit {degrees(heat['limit_degc'], unit)}",
        across=[Tick(x(m), f"{m - begin:.0f}") for m in _minutes(begin, end)],
        up=[Tick(y(t), degrees(t, unit)) for t in _degrees(coldest, top_degc, unit)],
        sentence=_sentence(heat, unit),
    )


def _points(curve: Mapping[str, Any], x: Any, y: Any) -> str:
    pairs = zip(curve["minutes"], curve["degc"], strict=True)
    return " ".join(f"{x(minute)},{y(degc)}" for minute, degc in pairs)


def _wait(bead: Mapping[str, Any], x: Any) -> Wait:
    from_x, to_x = x(bead["start_min"] - bead["wait_min"]), x(bead["start_min"])
    words = f"layer {bead['layer']}, bead {bead['bead']} waits {bead['wait_min']:.0f} min"
    return Wait(from_x, round(to_x - from_x, 1), words)


def _minutes(begin: float, end: float) -> list[float]:
    step = next((m for m in (5, 10, 20, 30, 60, 120) if (end - begin) / m <= 9), 240)
    return [begin + n * step for n in range(int((end - begin) / step) + 1)]


def _degrees(coldest: float, hottest: float, unit: str) -> list[float]:
    """Round temperatures in the reader's unit that lie in the picture, in degC."""
    shown = [_shown(t, unit) for t in (coldest, hottest)]
    step = next((s for s in (20, 50, 100, 200) if (shown[1] - shown[0]) / s <= 6), 500)
    first = int(shown[0] // step) + 1
    found = [n * step for n in range(first, int(shown[1] // step) + 1)]
    return [(f - 32) * 5 / 9 if unit == "degF" else float(f) for f in found]


def _shown(degc: float, unit: str) -> float:
    return degc * 9 / 5 + 32 if unit == "degF" else degc


def degrees(degc: float, unit: str) -> str:
    """A temperature to whole degrees, in the reader's unit."""
    return f"{_shown(degc, unit):.0f} {'°F' if unit == 'degF' else '°C'}"


def _sentence(heat: Mapping[str, Any], unit: str) -> str:
    waits = [b for b in heat["beads"] if b["wait_min"] >= LEAST_WAIT_MIN]
    beads = len(heat["beads"])
    limit = degrees(heat["limit_degc"], unit)
    place = f"{heat['place_mm']:g} mm from the weld"
    if not waits:
        return f"None of the {beads} beads has to wait: {place} the steel stays under {limit}."
    longest = max(waits, key=lambda b: b["wait_min"])
    return (
        f"{len(waits)} of {beads} beads wait, {heat['wait_min']:.0f} min in all, until the steel "
        f"{place} is down to {limit}; the longest wait is {longest['wait_min']:.0f} min, before "
        f"bead {longest['bead']} of layer {longest['layer']}."
    )
