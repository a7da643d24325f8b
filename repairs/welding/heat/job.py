"""What the heat model is asked: the steel, where each bead goes and what else takes time."""

from dataclasses import dataclass

from repairs.welding.heat.box import Block, Box, Spot
from repairs.welding.heat.steel import SteelCurves
from repairs.welding.heat.surroundings import Surroundings


@dataclass(frozen=True, slots=True)
class Pass:
    """One bead: the metal it fills from where it starts to where it ends, and its arc."""

    layer: int
    bead: int
    direction: str
    depth_m: tuple[float, float]
    across_m: tuple[float, float]
    start_m: float
    end_m: float
    arc_min: float
    handling_min: float
    set_up_min: float

    def block(self, begin: float, end: float) -> Block:
        """The metal laid between two shares of the bead's length."""
        here = self.start_m + begin * (self.end_m - self.start_m)
        there = self.start_m + end * (self.end_m - self.start_m)
        return Block(self.depth_m, self.across_m, (min(here, there), max(here, there)))


@dataclass(frozen=True, slots=True)
class Torch:
    """Steel along a zone brought up to a temperature, again before each layer if kept up."""

    degc: float
    along_m: tuple[float, float]
    kept_up: bool


@dataclass(frozen=True, slots=True)
class ZoneHeat:
    """One zone: its beads, its measuring place, and the minutes of work before and after."""

    key: str
    label: str
    spot: Spot
    spot_words: str
    before_min: float
    after_min: float
    passes: tuple[Pass, ...]
    torch: Torch
    post_heat_degc: float | None = None


@dataclass(frozen=True, slots=True)
class HeatJob:
    """One part with all its zones on one day.

    ``around`` is the day without the lance; ``quench_w_per_m2_k`` acts between beads only.
    ``by_turns`` lays each bead in the zone that is coolest, all cavities being open at once;
    otherwise zone follows zone. ``pitch_m`` is the size of the cells where metal is laid.
    """

    box: Box
    curves: SteelCurves
    around: Surroundings
    quench_w_per_m2_k: float
    start_degc: float
    watts: float
    limit_degc: float
    place_mm: float
    pitch_m: float
    opening_min: float
    swap_min: float
    zones: tuple[ZoneHeat, ...]
    by_turns: bool = False
    said: tuple[str, ...] = ()
