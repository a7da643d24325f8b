"""The beads of one zone across the cavity, in the order and the direction they are laid."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

WIDTH, MARGIN, TALLEST = 640.0, 20.0, 300.0
NUMBERED = 26.0
"""A bead narrower than this in the picture has no room for its number."""


@dataclass(frozen=True)
class Bead:
    """One bead: its box, its number from the first of the zone, and which way it runs."""

    x: float
    y: float
    width: float
    height: float
    words: str
    back: bool
    top: bool


@dataclass(frozen=True)
class BeadDrawing:
    zone: Mapping[str, Any]
    outline: str
    surface_y: float
    beads: list[Bead]
    width: float
    height: float


def bead_drawing(zone: Mapping[str, Any]) -> BeadDrawing:
    """Layers of equal height from the floor up; the top pad stands over the surface to be ground.

    Sideways it is to scale, upwards the layers are drawn high enough to be read.
    """
    layers = zone["layers"]
    scale = (WIDTH - 2 * MARGIN) / zone["top_width_mm"]
    tall = min(44.0, TALLEST / len(layers))
    surface = MARGIN + tall  # about one layer is over-fill
    floor = MARGIN + tall * len(layers)
    beads: list[Bead] = []
    for layer in layers:
        beads += _layer(zone, layer, len(beads), tall, floor, surface, scale)
    half = zone["floor_width_mm"] * scale / 2
    middle = WIDTH / 2
    return BeadDrawing(
        zone=zone,
        outline=f"{MARGIN},{surface} {middle - half:.1f},{floor} {middle + half:.1f},{floor} "
        f"{WIDTH - MARGIN},{surface}",
        surface_y=surface,
        beads=beads,
        width=WIDTH,
        height=floor + MARGIN,
    )


def _layer(
    zone: Mapping[str, Any],
    layer: Mapping[str, Any],
    before: int,
    tall: float,
    floor: float,
    surface: float,
    scale: float,
) -> list[Bead]:
    y = floor - tall * layer["number"]
    share = min(1.0, (floor - y - tall / 2) / max(floor - surface, 1.0))
    wide = zone["floor_width_mm"] + (zone["top_width_mm"] - zone["floor_width_mm"]) * share
    each = wide * scale / layer["beads"]
    left = WIDTH / 2 - wide * scale / 2
    first_back = layer["first_direction"] != "toe to heel"
    return [
        Bead(
            x=round(left + n * each, 1),
            y=round(y, 1),
            width=round(each, 1),
            height=round(tall, 1),
            words=_words(before + n + 1, bool((n + first_back) % 2), each),
            back=bool((n + first_back) % 2),
            top=y < surface,
        )
        for n in range(layer["beads"])
    ]


def _words(number: int, back: bool, wide: float) -> str:
    if wide < NUMBERED:
        return ""
    return f"{number}{'←' if back else '→'}" if wide > 2 * NUMBERED else str(number)
