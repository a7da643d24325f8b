"""Where zones and beads lie in the casting, and the box of cells the heat model takes for it.

Nobody draws a frog for a repair, so places along and across come from rows of zones.toml. Along
runs from toe to heel, across from the left edge; metres, as the heat model counts.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from repairs.welding.beads import Layer
from repairs.welding.heat.axes import Fine, graded_edges
from repairs.welding.heat.box import Box, Spot
from repairs.welding.rows_toml import table_of
from repairs.welding.zoneplan import ZonePlan
from turnouts.analysis.terms import ComponentKind

# Cells per distance to the measuring place, and the least and largest cell; chosen so that the
# closed forms are met within 2 % there (tests.benchmarks.heat prints the error of each).
CELLS_TO_PLACE = 3.5
FINEST_M, WIDEST_M, ON_THE_WELD_M = 0.006, 0.008, 0.007
LONG_CELL = 1.3
GROWTH = 0.3
FINE_DEPTH_M = 0.03
THINNEST_M = 5e-4


@dataclass(frozen=True, slots=True)
class Laid:
    """One zone in its place; ``low_m`` and ``high_m`` are its ends along the casting."""

    plan: ZonePlan
    low_m: float
    high_m: float
    across_share: float
    body_width_m: float
    spot: Spot
    spot_words: str

    def ends_m(self, layer: Layer) -> tuple[float, float]:
        """Where the beads of a layer begin and end along the casting."""
        middle, half = (self.low_m + self.high_m) / 2, layer.bead_length_mm / 2e3
        return middle - half, middle + half

    def depths_m(self, layer: Layer) -> tuple[float, float]:
        """Top and bottom of a layer under the running surface; over-fill lies at the surface."""
        depth_mm = self.plan.cavity.depth_mm
        top = max(0.0, (depth_mm - layer.high_mm) / 1e3)
        return top, max((depth_mm - layer.low_mm) / 1e3, top + THINNEST_M)

    def bead_across_m(self, layer: Layer, bead: int) -> tuple[float, float]:
        """The two edges of one bead across the casting."""
        width_mm = self.plan.cavity.width_at((layer.low_mm + layer.high_mm) / 2)
        low, _ = _span(self.across_share, width_mm / 1e3, self.body_width_m)
        wide = width_mm / 1e3 / layer.beads
        return low + bead * wide, low + (bead + 1) * wide


def laid_out(
    plans: Sequence[ZonePlan], component: ComponentKind, place_mm: float
) -> tuple[Laid, ...]:
    """Every zone in its place; one that would lie on another is moved on towards the heel."""
    width_m = body_width_m(plans, component)
    laid: list[Laid] = []
    for plan in plans:
        laid.append(_placed(plan, width_m, place_mm, laid))
    return tuple(laid)


def body_width_m(plans: Sequence[ZonePlan], component: ComponentKind) -> float:
    """Width of the box: that of the casting, or of the widest zone where that is wider."""
    width_mm = table_of("heating", section_key(component)).number("width_mm")
    return max(width_mm, *(_top_width_mm(plan) for plan in plans)) / 1e3


def section_key(component: ComponentKind) -> str:
    """The table of heating.toml that gives a component's section."""
    return "frog" if component is ComponentKind.FROG else "rail"


def pitch_m(place_mm: float) -> float:
    """Size of the cells where metal is laid, from how near the weld the limit is measured."""
    if place_mm == 0:
        return ON_THE_WELD_M
    return min(max(place_mm / 1e3 / CELLS_TO_PLACE, FINEST_M), WIDEST_M)


def model_box(laid: Sequence[Laid], component: ComponentKind, place_mm: float) -> Box:
    """The box of cells for a part: fine along and across where beads lie, wider elsewhere."""
    rows = table_of("heating", section_key(component))
    width_m, fine_m = laid[0].body_width_m, pitch_m(place_mm)
    depth_m = rows.number("section_mm2") / 1e6 / width_m
    beyond_m = table_of("heating", "model").number("beyond_mm") / 1e3
    low, high = min(each.low_m for each in laid), max(each.high_m for each in laid)
    welds = tuple(
        Fine(
            min(each.low_m, each.spot.along), max(each.high_m, each.spot.along), LONG_CELL * fine_m
        )
        for each in laid
    )
    ribs = (rows.number("perimeter_mm") / 1e3 - width_m) / (2 * depth_m + width_m)
    return Box(
        depth=_edges(0, depth_m, (Fine(0, min(FINE_DEPTH_M, depth_m), fine_m),)),
        across=_edges(0, width_m, (Fine(0, width_m, fine_m),)),
        along=_edges(low - beyond_m, high + beyond_m, welds),
        faces=(1.0, max(ribs, 1.0), max(ribs, 1.0), max(ribs, 1.0)),
    )


def _edges(low: float, high: float, fine: tuple[Fine, ...]) -> tuple[float, ...]:
    return tuple(float(edge) for edge in graded_edges(low, high, fine, GROWTH))


def _top_width_mm(plan: ZonePlan) -> float:
    return plan.cavity.width_at(plan.cavity.depth_mm)


def _span(share: float, width_m: float, body_width_m: float) -> tuple[float, float]:
    low = share * (body_width_m - width_m)
    return low, low + width_m


def _placed(plan: ZonePlan, width_m: float, place_mm: float, before: Sequence[Laid]) -> Laid:
    share = table_of("zones", "across").number(plan.work.zone)
    across = _span(share, _top_width_mm(plan) / 1e3, width_m)
    long_m = plan.cavity.length_at(plan.cavity.depth_mm) / 1e3
    low = table_of("zones", "along_mm").number(plan.work.zone) / 1e3 - long_m / 2
    for other in sorted(before, key=lambda each: each.low_m):
        beside = _span(other.across_share, _top_width_mm(other.plan) / 1e3, width_m)
        crossing = across[0] < beside[1] and beside[0] < across[1]
        if crossing and low < other.high_m and other.low_m < low + long_m:
            low = other.high_m
    spot, words = _spot(across, (low, low + long_m), width_m, place_mm)
    return Laid(plan, low, low + long_m, share, width_m, spot, words)


def _spot(
    across: tuple[float, float], along: tuple[float, float], width_m: float, place_mm: float
) -> tuple[Spot, str]:
    """The measuring place: beside the weld where the casting is wide enough, else past its end."""
    middle, half = (across[0] + across[1]) / 2, (along[0] + along[1]) / 2
    if place_mm == 0:
        return Spot(middle, half), "on the weld, at half its length"
    place = place_mm / 1e3
    if across[1] + place <= width_m:
        return Spot(across[1] + place, half), "beside the weld, at half its length"
    if across[0] - place >= 0:
        return Spot(across[0] - place, half), "beside the weld, at half its length"
    return Spot(middle, along[1] + place), "in line with the weld, past its end"
