"""The inner loops of the heat model, compiled: one time step of conduction in a box of steel.

The state is the enthalpy of each cell. With the integral of conductivity over temperature as
potential (Kirchhoff), heat flow between two cells is a fixed geometric factor times the difference
of potentials, whatever the temperatures. Each axis is swept by itself, implicitly; the three sweeps
of a box with losses at its faces commute, so taking them in turn adds no error where properties are
constant (locally one-dimensional splitting; Marchuk). At each face the end of the step weighs
1/2 - h2 / (12 a dt) instead of Crank and Nicolson's half, which is of fourth order in the size of
even cells (Crandall 1955); a is one typical diffusivity, so the gain fades where it is another.
What flows out of one cell flows into the next, so heat is conserved to rounding.
"""

from collections.abc import Callable
from typing import ParamSpec, TypeVar, cast

import numba
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Fields = tuple[Floats, Floats, Floats, Floats, Floats, Floats, Floats]
P = ParamSpec("P")
R = TypeVar("R")


def compiled(function: Callable[P, R]) -> Callable[P, R]:
    """Compile a function, keeping the machine code on disk where any place can be written.

    Numba writes beside the source, else in the user's own cache; where neither can be written it
    refuses, and the function is then compiled anew in each process.
    """
    try:
        return cast(Callable[P, R], numba.njit(cache=True, error_model="numpy")(function))
    except RuntimeError as refusal:
        if "cannot cache" not in str(refusal):
            raise
        return cast(Callable[P, R], numba.njit(error_model="numpy")(function))


@compiled
def look_up(enthalpy: Floats, table: Floats, low: float, pitch: float, fields: Fields) -> None:
    """Temperature, potential, their slopes over enthalpy and the loss coefficient of each cell.

    ``table`` holds rows of temperature, potential and loss coefficient at equal steps of enthalpy.
    """
    degc, per_c, potential, spread, loss, _, _ = fields
    last, one = table.shape[1] - 2, np.uint64(1)
    heats, pushes, losses = table[0], table[1], table[2]
    for x in range(len(enthalpy)):
        place = (enthalpy[x] - low) / pitch
        n = np.uint64(min(max(int(place), 0), last))
        share = place - n
        rise = heats[n + one] - heats[n]
        push = pushes[n + one] - pushes[n]
        degc[x] = heats[n] + share * rise
        per_c[x] = rise / pitch
        potential[x] = pushes[n] + share * push
        spread[x] = push / pitch
        loss[x] = losses[n] + share * (losses[n + one] - losses[n])


@compiled
def sweep(
    enthalpy: Floats,
    fields: Fields,
    widths: Floats,
    lay: tuple[int, int, int],
    first: int,
    seconds: float,
    factors: tuple[float, float],
    area: Floats,
    air_degc: float,
    typical: float,
) -> float:
    """One step along one axis; returns the heat lost at its two ends in J.

    Arrays are flat. ``lay`` says how they lie: the stride along the axis, the stride from one
    column to the next, the number of columns; ``first`` is where the first column begins.
    ``typical`` is the diffusivity the weights of the end state are made for.
    """
    degc, per_c, potential, spread, loss, upper, gain = fields
    along, aside, columns = lay
    # Unsigned, for the compiler then need not look for counting from the end: half the time.
    count, pace = np.uint64(columns), np.uint64(aside)
    cells = len(widths)
    lost = 0.0
    for n in range(cells):
        base = np.uint64(first + n * along)
        below = np.uint64(along if n > 0 else 0)
        above = np.uint64(along if n + 1 < cells else 0)
        back_m = (widths[n - 1] + widths[n]) / 2.0 if n > 0 else 1.0
        fore_m = (widths[n] + widths[n + 1]) / 2.0 if n + 1 < cells else 1.0
        back = 1.0 / back_m if n > 0 else 0.0
        fore = 1.0 / fore_m if n + 1 < cells else 0.0
        back_end = back * (0.5 - back_m * back_m / (12.0 * typical * seconds))
        fore_end = fore * (0.5 - fore_m * fore_m / (12.0 * typical * seconds))
        factor = (factors[0] if n == 0 else 0.0) + (factors[1] if n + 1 == cells else 0.0)
        stored = widths[n] / seconds
        for c in range(count):
            x = base + c * pace
            low, high = x - below, x + above
            flow = fore * (potential[high] - potential[x]) - back * (potential[x] - potential[low])
            pivot = stored + (back_end + fore_end) * spread[x]
            if factor > 0.0:
                through = _through(factor * loss[x], spread[x] / per_c[x], widths[n])
                flow -= through * (degc[x] - air_degc)
                pivot += 0.5 * through * per_c[x]
            if n > 0:
                lower = -back_end * spread[low]
                pivot -= lower * upper[low]
                flow -= lower * gain[low]
            turned = 1.0 / pivot
            upper[x] = -fore_end * spread[high] * turned
            gain[x] = flow * turned
    for n in range(cells - 1, -1, -1):
        base = np.uint64(first + n * along)
        factor = (factors[0] if n == 0 else 0.0) + (factors[1] if n + 1 == cells else 0.0)
        above = np.uint64(along if n + 1 < cells else 0)
        for c in range(count):
            x = base + c * pace
            if n + 1 < cells:
                gain[x] -= upper[x] * gain[x + above]
            if factor > 0.0:
                through = _through(factor * loss[x], spread[x] / per_c[x], widths[n])
                middle = degc[x] + 0.5 * per_c[x] * gain[x]
                lost += through * (middle - air_degc) * area[c] * seconds
            enthalpy[x] += gain[x]
            degc[x] += per_c[x] * gain[x]
            potential[x] += spread[x] * gain[x]
    return lost


@compiled
def _through(loss: float, conductivity: float, width: float) -> float:
    """Coefficient from the middle of a cell through its face to the air, W/m2K."""
    skin = 2.0 * conductivity / width
    return loss * skin / (loss + skin)


@compiled
def step(
    enthalpy: Floats,
    fields: Fields,
    sizes: tuple[Floats, Floats, Floats],
    factors: Floats,
    table: Floats,
    low: float,
    pitch: float,
    air_degc: float,
    seconds: float,
    typical: float,
    downward_first: bool,
) -> float:
    """One time step of the whole box, in place; returns the heat lost to the air in J.

    Axes are depth, across and along; ``factors`` weigh the loss at top, bottom, low and high side.
    The order of the sweeps is turned round in every other step, which keeps second order in time.
    """
    look_up(enthalpy, table, low, pitch, fields)
    depth, across, along = sizes
    layers, rows, columns = len(depth), len(across), len(along)
    plane = rows * columns
    lost = 0.0
    for turn in range(3):
        axis = turn if downward_first else 2 - turn
        if axis == 0:
            area = np.outer(across, along).reshape(plane)
            lay, ends = (plane, 1, plane), (factors[0], factors[1])
            lost += sweep(enthalpy, fields, depth, lay, 0, seconds, ends, area, air_degc, typical)
            continue
        for k in range(layers):
            if axis == 1:
                area = along * depth[k]
                lay, ends = (columns, 1, columns), (factors[2], factors[3])
                lost += sweep(
                    enthalpy, fields, across, lay, k * plane, seconds, ends, area, air_degc, typical
                )
            else:
                lay, ends = (1, columns, rows), (0.0, 0.0)
                lost += sweep(
                    enthalpy,
                    fields,
                    along,
                    lay,
                    k * plane,
                    seconds,
                    ends,
                    across,
                    air_degc,
                    typical,
                )
    return lost
