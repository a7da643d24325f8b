"""Bodies with constant properties on the grid that jobs use, for the closed forms.

Cells, growth and steps are the product's own (``layout``, ``run``); only the outline is larger
than a casting where the closed form asks for an endless body.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil

from repairs.welding import layout
from repairs.welding.heat import run
from repairs.welding.heat.axes import Fine, graded_edges
from repairs.welding.heat.box import Block, Box, Spot
from repairs.welding.heat.casting import Casting, casting
from repairs.welding.heat.steel import constant_curves
from repairs.welding.heat.surroundings import Surroundings
from tests.repairs.welding.heat import closed_forms

# k in W/(m K) and rho c in J/(m3 K): manganese steel near 200 degC, and plain carbon steel of a
# public worked parameter set (k 0.041 W/mmK, rho c 4.54e-3 J/mm3K).
MANGANESE, CARBON = (16.0, 4.2e6), (41.0, 4.54e6)
INSULATED = Surroundings(0.0, loss_w_per_m2_k=0.0)
HALF_LENGTH_M, FAR_M = 0.25, 0.5


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


def still(box: Box, steel: tuple[float, float], pitch_m: float) -> Casting:
    """A body at 0 degC with properties that do not change, losing nothing."""
    return casting(box, constant_curves(*steel), INSULATED, 0.0, pitch_m)


def first_step_s(pitch_m: float, steel: tuple[float, float]) -> float:
    """The step a job takes under the arc and right after it."""
    return run.FIRST_STEP * pitch_m**2 * steel[1] / steel[0]


def youngest_s(pitch_m: float, steel: tuple[float, float]) -> float:
    """How old the youngest piece of a bead's heat is as its step ends."""
    return first_step_s(pitch_m, steel) / (2 * run.PIECES)


def steps(
    total_s: float, pitch_m: float, share: float, steel: tuple[float, float]
) -> Iterator[float]:
    """The steps a job takes after the youngest piece of a bead, finer with the cells."""
    first, passed = first_step_s(pitch_m * share, steel), youngest_s(pitch_m, steel)
    while passed < total_s:
        step = max(first, run.STEP_SHARE * share * passed)
        yield step
        passed += step


def after_point(
    place_mm: float,
    steel: tuple[float, float],
    share: float = 1.0,
    moved: tuple[float, float] = (0.0, 0.0),
) -> Seen:
    """Heat let go at one point of a thick body, read at the measuring place.

    ``moved`` puts point and place so many cells across and along from where the cells are even.
    Of cells coarser or finer than a job's the heat comes into them as old as into a job's.
    """
    place, pitch = place_mm / 1e3, layout.pitch_m(place_mm)
    body = still(thick_body(place_mm, share), steel, pitch)
    aside, along = moved[0] * pitch, moved[1] * pitch * layout.LONG_CELL
    block = Block((0, 0), (aside, aside), (along, along))
    body.let_go(block, 1e3, youngest_s(pitch, steel))
    return _watched(
        body,
        Spot(aside + place, along),
        (pitch, share),
        steel,
        place**2 / 6,
        lambda t: closed_forms.point_rise(1e3, place, t, *steel),
    )


def after_line(place_mm: float, steel: tuple[float, float], share: float = 1.0) -> Seen:
    """Heat let go along a line through a thick body, read at the measuring place."""
    place, pitch = place_mm / 1e3, layout.pitch_m(place_mm)
    body = still(thick_body(place_mm, share), steel, pitch)
    ends = body.box.along[0], body.box.along[-1]
    body.let_go(Block((0, 0), (0, 0), ends), 1e4 * (ends[1] - ends[0]), youngest_s(pitch, steel))
    return _watched(
        body,
        Spot(place, 0.0),
        (pitch, share),
        steel,
        place**2 / 4,
        lambda t: closed_forms.line_rise(1e4, place, t, *steel),
    )


def _watched(body, spot, sizes, steel, peak_m2, exact) -> Seen:  # type: ignore[no-untyped-def]
    """Follow a spot for six times the time its peak takes, one reading at the peak itself."""
    peak_s, (pitch_m, share) = peak_m2 * steel[1] / steel[0], sizes
    seconds, model, wanted = [], [], []
    now = youngest_s(pitch_m, steel)
    for step in steps(6 * peak_s, pitch_m, share, steel):
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
    pitch_m: float,
    beyond_s: float,
) -> list[tuple[float, float]]:
    """What a spot reads while a source moves along the whole fine part of a body, and after.

    Each reading with how far the spot lies ahead of where the source is, or would be. The source
    goes as deep as asked; it moves as a bead does, in the steps a job takes.
    """
    body, read = still(box, steel, pitch_m), []
    first = first_step_s(pitch_m, steel)
    count = ceil(2 * HALF_LENGTH_M / speed / first)
    seconds = 2 * HALF_LENGTH_M / speed / count
    for n in range(count + ceil(beyond_s / seconds)):
        body.rest(seconds)
        for piece in range(run.PIECES if n < count else 0):
            begin = n + piece / run.PIECES
            span = _reached(begin / count), _reached((begin + 1 / run.PIECES) / count)
            age_s = (n + 1 - begin - 0.5 / run.PIECES) * seconds
            body.let_go(Block((0, depth), (0, 0), span), watts * seconds / run.PIECES, age_s)
        read.append((spot.along - _reached((n + 1) / count), body.degc_at(spot)))
    body.check_balance()
    return read


def _reached(share: float) -> float:
    return HALF_LENGTH_M * (2 * share - 1)
