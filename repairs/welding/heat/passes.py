"""From a signed record to passes: when each bead was laid, and which of them had a temperature.

At the trackside stages and temperatures are written down, not beads. The beads of a layer are taken
to lie evenly in its time; a bead with a temperature begins when that was read.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from repairs.welding.heat.fit import PassReading

BEFORE_MIN = 2.0
"""A temperature read so shortly before its layer was started is that before the first bead."""


@dataclass(frozen=True, slots=True)
class LayerWorked:
    """One layer as it went: its beads, the arc minutes of one, and when it began and ended."""

    zone: str
    layer: int
    beads: int
    bead_arc_min: float
    start_min: float
    end_min: float


@dataclass(frozen=True, slots=True)
class TemperatureRead:
    """One metal temperature at the measuring place of a zone."""

    zone: str
    minute: float
    degc: float


def passes_of(
    layers: Iterable[LayerWorked], readings: Sequence[TemperatureRead]
) -> list[PassReading]:
    """Every bead with its minute, in order of time, and the temperature read before it, if any.

    Of two temperatures in the time of one bead the later counts: after a wait the bead followed.
    """
    found: list[PassReading] = []
    free_min = 0.0
    row = sorted(layers, key=lambda each: each.start_min)
    for layer in row:
        own = [reading for reading in readings if _layer_of(reading, row) is layer]
        for bead in range(layer.beads):
            minute, degc = _bead(layer, bead, own)
            minute = max(minute, free_min)
            found.append(PassReading(layer.zone, layer.layer, bead + 1, minute, degc))
            free_min = minute + layer.bead_arc_min
    return found


def _layer_of(reading: TemperatureRead, row: Sequence[LayerWorked]) -> LayerWorked | None:
    """The layer a temperature was read for: the last that had begun, or was about to."""
    begun = [
        layer
        for layer in row
        if layer.zone == reading.zone
        and layer.start_min - BEFORE_MIN <= reading.minute < layer.end_min
    ]
    return begun[-1] if begun else None


def _bead(
    layer: LayerWorked, bead: int, readings: Sequence[TemperatureRead]
) -> tuple[float, float | None]:
    pitch = (layer.end_min - layer.start_min) / layer.beads
    begin = layer.start_min + bead * pitch
    earliest = begin - BEFORE_MIN if bead == 0 else begin
    read = [r for r in readings if earliest <= r.minute < begin + pitch]
    if not read:
        return begin, None
    return max(begin, read[-1].minute), read[-1].degc
