"""Bodies with constant properties on the grid that jobs use, for the closed forms.

Cells, growth and steps are the product's own (``layout``, ``run``); only the outline is larger
than a casting where the closed form asks for an endless body.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil

import numpy as np

from repairs.welding import layout
from repairs.welding.heat import run
from repairs.welding.heat.axes import Fine, graded_edges
from repairs.welding.heat.box import Block, Box, Spot, shares_of
from repairs.welding.heat.casting import Casting, casting
from repairs.welding.heat.steel import constant_curves
from repairs.welding.heat.surroundings import Surroundings
from tests.repairs.welding.heat import closed_forms

# k in W/(m K) and rho c in J/(m3 K): manganese steel near 200 degC, and plain carbon steel of a
# public worked parameter set (k 0.041 W/mmK, rho c 4.54e-3 J/mm3K).
MANGANESE, CARBON = (16.0, 4.2e6), (41.0, 4.54e6)
INSULATED = Surroundings(0.0, loss_w_per_m2_k=0.0)
HALF_LENGTH_M, FAR_M = 0.25, 0.5
POINT_M = 1e-9


@dataclass(frozen=True)
class Seen:
    """Model and closed form at a place through time, and the closed form's own peak."""

    seconds: list[float]
    model: list[float]
    exact: list[float]

    @property
    def error(self) -> float:
        """The greatest difference from the closed form's peak on, over that peak."""
        peak = max(self.exact)
        first = self.exact.index(peak)
        pairs = zip(self.model[first:], self.exact[first:], strict=True)
        return max(abs(model - exact) for model, exact in pairs) / peak


def thick_body(place_mm: float, share: float = 1.0) -> Box:
    """Room enough on every side for ten minutes of heat; cells of a job times ``share``."""
    fine = layout.pitch_m(place_mm) * share
    growth = layout.GROWTH * share
    along = Fine(-HALF_LENGTH_M, HALF_LENGTH_M, layout.LONG_CELL * fine)
    across = Fine(-0.08, 0.08 + place_mm / 1e3, fine)
    return Box(
        depth=edges(0, FAR_M, Fine(0, layout.FINE_DEPTH_M, fine), growth),
        across=edges(-FAR_M, FAR_M, across, growth),
        along=edges(-HALF_LENGTH_M - FAR_M, HALF_LENGTH_M + FAR_M, along, growth),
    )


def edges(low: float, high: float, fine: Fine, growth: float) -> tuple[float, ...]:
    """Edges of cells as a box takes them."""
    return tuple(float(edge) for edge in graded_edges(low, high, (fine,), growth))


def still(box: Box, steel: tuple[float, float]) -> Casting:
    """A body at 0 degC with properties that do not change, losing nothing."""
    return casting(box, constant_curves(*steel), INSULATED, 0.0)


def steps(total_s: float, fine_m: float, steel: tuple[float, float]) -> Iterator[float]:
    """The steps a job takes after heat has gone in."""
    first = run.FIRST_STEP * fine_m**2 * steel[1] / steel[0]
    passed = 0.0
    while passed < total_s:
        step = max(first, run.STEP_SHARE * passed)
        yield step
        passed += step


def after_point(place_mm: float, steel: tuple[float, float], share: float = 1.0) -> Seen:
    """Heat let go at one point of a thick body, read at the measuring place."""
    body, place = still(thick_body(place_mm, share), steel), place_mm / 1e3
    here = (-POINT_M, POINT_M)
    body.put(shares_of(body.box, Block((0, POINT_M), here, here)), 1e5)
    return _watched(
        body,
        Spot(place, 0.0),
        layout.pitch_m(place_mm) * share,
        steel,
        place**2 / 6,
        lambda t: closed_forms.point_rise(1e5, place, t, *steel),
    )


def after_line(place_mm: float, steel: tuple[float, float], share: float = 1.0) -> Seen:
    """Heat let go along a line through a thick body, read at the measuring place."""
    body, place = still(thick_body(place_mm, share), steel), place_mm / 1e3
    ends = body.box.along[0], body.box.along[-1]
    block = Block((0, POINT_M), (-POINT_M, POINT_M), ends)
    body.put(shares_of(body.box, block), 1e6 * (ends[1] - ends[0]))
    return _watched(
        body,
        Spot(place, 0.0),
        layout.pitch_m(place_mm) * share,
        steel,
        place**2 / 4,
        lambda t: closed_forms.line_rise(1e6, place, t, *steel),
    )


def _watched(body, spot, fine_m, steel, peak_m2, exact) -> Seen:  # type: ignore[no-untyped-def]
    """Follow a spot for six times the time its peak takes, one reading at the peak itself."""
    peak_s = peak_m2 * steel[1] / steel[0]
    seconds, model, wanted = [], [], []
    now = 0.0
    for step in steps(6 * peak_s, fine_m, steel):
        for part in (peak_s - now, now + step - peak_s) if now < peak_s < now + step else (step,):
            body.rest(part)
            now += part
            seconds.append(now)
            model.append(body.degc_at(spot))
            wanted.append(exact(now))
    body.check_balance()
    return Seen(seconds, model, wanted)


def moving_source(
    box: Box,
    steel: tuple[float, float],
    *,
    watts: float,
    speed: float,
    depth: float,
    spot: Spot,
    fine_m: float,
    beyond_s: float,
) -> float:
    """Peak at a spot beside a source that moves along the whole fine part of a body.

    The source goes as deep as asked; it moves as a bead does, in the steps a job takes.
    """
    body = still(box, steel)
    first = run.FIRST_STEP * fine_m**2 * steel[1] / steel[0]
    total = 2 * HALF_LENGTH_M / speed
    count = ceil(total / first)
    seconds, peak = total / count, 0.0
    for n in range(count):
        start = -HALF_LENGTH_M + 2 * HALF_LENGTH_M * n / count
        span = start, start + 2 * HALF_LENGTH_M / count
        shares = shares_of(box, Block((0, depth), (-POINT_M, POINT_M), span))
        body.put(shares, watts * seconds / 2)
        body.rest(seconds)
        body.put(shares, watts * seconds / 2)
        peak = max(peak, body.degc_at(spot))
    for step in np.full(ceil(beyond_s / first), first):
        body.rest(float(step))
        peak = max(peak, body.degc_at(spot))
    body.check_balance()
    return peak
