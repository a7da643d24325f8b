"""The inner loops of the heat model, compiled: one time step of conduction in a box of steel.

The state is the enthalpy of each cell. With the integral of conductivity over temperature as
potential (Kirchhoff), heat flow between two cells is a fixed geometric factor times the difference
of potentials, whatever the temperatures. Each axis is swept by itself, implicitly; the three sweeps
of a box with losses at its faces commute, so taking them in turn adds no error where properties are
constant (locally one-dimensional splitting; Marchuk). At each face the end of the step weighs
1/2 - h2 / (12 a dt) instead of Crank and Nicolson's half, which is of fourth order in the size of
even cells (Crandall 1955); a is one typical diffusivity, so the gain fades where it is another.
What flows out of one cell flows into the next, so heat is conserved to rounding.

Columns are swept sixteen side by side, copied into one strip of memory in which every distance is a
constant: only then does the compiler use the processor's wide registers, which takes half the time
of going through the fields themselves.
"""

from collections.abc import Callable
from typing import ParamSpec, TypeVar, cast

import numba
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Fields = tuple[Floats, Floats, Floats, Floats]
P = ParamSpec("P")
R = TypeVar("R")

SIDE = 16
"""Columns swept together. A strip holds for each cell of them potential, its slope, and the two
rows of the elimination; ``AT_*`` is where each begins, ``CELL`` the way to the next cell."""
AT_SLOPE, AT_UPPER, AT_GAIN, CELL = SIDE, 2 * SIDE, 3 * SIDE, 4 * SIDE
FACE = 2 * SIDE
"""Of each face its loss and the slope of that, in a strip of their own."""


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


def fields_for(shape: tuple[int, int, int]) -> Fields:
    """Room for potential and its slope in each cell, a strip of columns, and a strip of faces."""
    cells = shape[0] * shape[1] * shape[2]
    strip = np.zeros((max(shape) + 2) * CELL)
    return np.zeros(cells), np.zeros(cells), strip, np.zeros(2 * FACE)


@compiled
def look_up(
    enthalpy: Floats, table: Floats, low: float, pitch: float, potential: Floats, slope: Floats
) -> None:
    """Potential of each cell and its slope over enthalpy.

    ``table`` holds rows of temperature, potential and loss coefficient at equal steps of enthalpy.
    """
    pushes, last, one, turned = table[1], table.shape[1] - 2, np.uint64(1), 1.0 / pitch
    for x in range(len(enthalpy)):
        place = (enthalpy[x] - low) * turned
        # Unsigned, for the compiler then need not look for counting from the end: half the time.
        n = np.uint64(min(max(int(place), 0), last))
        push = pushes[n + one] - pushes[n]
        potential[x] = pushes[n] + (place - n) * push
        slope[x] = push * turned


@compiled
def read_at(
    enthalpy: Floats,
    cells: NDArray[np.int64],
    weights: Floats,
    table: Floats,
    low: float,
    pitch: float,
) -> tuple[float, float]:
    """Weighed mean temperature of the first and of the second half of some cells."""
    half, last = len(cells) // 2, table.shape[1] - 2
    top, under = 0.0, 0.0
    for m in range(len(cells)):
        place = (enthalpy[cells[m]] - low) / pitch
        n = min(max(int(place), 0), last)
        degc = table[0, n] + (place - n) * (table[0, n + 1] - table[0, n])
        if m < half:
            top += weights[m] * degc
        else:
            under += weights[m] * degc
    return top, under


@compiled
def flows(widths: Floats, seconds: float, typical: float) -> Floats:
    """For each cell of an axis the factors of flow to the next and from the one before, the same
    as the end of the step weighs them, and what the cell holds.

    ``typical`` is the diffusivity the weights of the end state are made for.
    """
    cells = len(widths)
    made = np.zeros((cells, 5))
    for n in range(cells):
        made[n, 4] = widths[n] / seconds
        if n + 1 < cells:
            way = (widths[n] + widths[n + 1]) / 2.0
            made[n, 0] = made[n + 1, 1] = 1.0 / way
            end = (0.5 - way * way / (12.0 * typical * seconds)) / way
            made[n, 2] = made[n + 1, 3] = end
    return made


@compiled
def _load(
    strip: Floats,
    potential: Floats,
    slope: Floats,
    cells: int,
    begin: int,
    pace: tuple[int, int, int],
) -> None:
    """Copy columns in. Where fewer than a strip's are left, the rest keeps what it held."""
    along, aside, wide = np.uint64(pace[0]), np.uint64(pace[1]), np.uint64(pace[2])
    for n in range(cells):
        at, x = np.uint64((n + 1) * CELL), np.uint64(begin + n * along)
        for c in range(wide):
            strip[at + c] = potential[x + c * aside]
            strip[at + np.uint64(AT_SLOPE) + c] = slope[x + c * aside]


@compiled
def _store(
    strip: Floats,
    enthalpy: Floats,
    potential: Floats,
    cells: int,
    begin: int,
    pace: tuple[int, int, int],
) -> None:
    along, aside, wide = np.uint64(pace[0]), np.uint64(pace[1]), np.uint64(pace[2])
    for n in range(cells):
        at, x = np.uint64((n + 1) * CELL), np.uint64(begin + n * along)
        for c in range(wide):
            enthalpy[x + c * aside] += strip[at + np.uint64(AT_GAIN) + c]
            potential[x + c * aside] = strip[at + c]


@compiled
def _down(strip: Floats, n: int, weigh: Floats, face: Floats, losing: bool) -> None:
    """Eliminate one cell of every column; ``face`` holds what it loses to the air, if it does."""
    fore, back, fore_end, back_end, held = weigh[n]
    at = np.uint64((n + 1) * CELL)
    before, upper, gain = np.uint64(CELL), np.uint64(AT_UPPER), np.uint64(AT_GAIN)
    slope, one_on = np.uint64(AT_SLOPE), np.uint64(CELL)
    for c in range(np.uint64(SIDE)):
        x = at + c
        low = x - before
        lower = back_end * strip[low + slope]
        flow = fore * (strip[x + one_on] - strip[x]) - back * (strip[x] - strip[low])
        flow += lower * strip[low + gain]
        pivot = held + (back_end + fore_end) * strip[x + slope] + lower * strip[low + upper]
        if losing:
            flow -= face[c]
            pivot += face[c + np.uint64(SIDE)]
        turned = 1.0 / pivot
        strip[x + upper] = -fore_end * strip[x + one_on + slope] * turned
        strip[x + gain] = flow * turned


@compiled
def _up(strip: Floats, cells: int) -> None:
    """Substitute back: what each cell gains, and its potential with it."""
    upper, gain = np.uint64(AT_UPPER), np.uint64(AT_GAIN)
    slope, one_on = np.uint64(AT_SLOPE), np.uint64(CELL)
    for n in range(cells, 0, -1):
        at = np.uint64(n * CELL)
        for c in range(np.uint64(SIDE)):
            x = at + c
            more = strip[x + gain] - strip[x + upper] * strip[x + one_on + gain]
            strip[x + gain] = more
            strip[x] += strip[x + slope] * more


@compiled
def _face(
    face: Floats,
    enthalpy: Floats,
    begin: int,
    pace: tuple[int, int, int],
    factor: float,
    width: float,
    table: Floats,
    air: tuple[float, float, float],
) -> None:
    """What each column loses through a face, in W/m2, and half its slope over enthalpy.

    The coefficient is from the middle of the cell through its face to the air.
    """
    low, turned, air_degc = air
    aside, wide, one = np.uint64(pace[1]), np.uint64(pace[2]), np.uint64(1)
    last = table.shape[1] - 2
    for c in range(wide):
        place = (enthalpy[np.uint64(begin) + c * aside] - low) * turned
        n = np.uint64(min(max(int(place), 0), last))
        share = place - n
        rise = table[0, n + one] - table[0, n]
        loss = factor * (table[2, n] + share * (table[2, n + one] - table[2, n]))
        skin = 2.0 * (table[1, n + one] - table[1, n]) / (rise * width)
        through = loss * skin / (loss + skin)
        face[c] = through * (table[0, n] + share * rise - air_degc)
        face[c + np.uint64(SIDE)] = 0.5 * through * rise * turned


@compiled
def _lost(face: Floats, strip: Floats, cell: int, area: Floats, start: int, wide: int) -> float:
    """Watts lost through a face of one strip, at the middle of the step."""
    lost, at = 0.0, (cell + 1) * CELL + AT_GAIN
    for c in range(wide):
        lost += (face[c] + face[SIDE + c] * strip[at + c]) * area[start + c]
    return lost


@compiled
def sweep(
    enthalpy: Floats,
    fields: Fields,
    widths: Floats,
    weigh: Floats,
    lay: tuple[int, int, int],
    first: int,
    factors: tuple[float, float],
    area: Floats,
    table: Floats,
    air: tuple[float, float, float],
) -> float:
    """One step along one axis; returns the heat lost at its two ends in W.

    Arrays are flat. ``lay`` says how they lie: the stride along the axis, the stride from one
    column to the next, the number of columns; ``first`` is where the first column begins. ``air``
    is where the table begins, one over its pitch, and the air's temperature.
    """
    potential, slope, strip, faces = fields
    along, aside, columns = lay
    cells, lost = len(widths), 0.0
    low_face, high_face = faces[:FACE], faces[FACE:]
    for start in range(0, columns, SIDE):
        begin, wide = first + start * aside, min(SIDE, columns - start)
        pace = along, aside, wide
        _load(strip, potential, slope, cells, begin, pace)
        if factors[0] > 0.0:
            _face(low_face, enthalpy, begin, pace, factors[0], widths[0], table, air)
        if factors[1] > 0.0:
            at = begin + (cells - 1) * along
            _face(high_face, enthalpy, at, pace, factors[1], widths[cells - 1], table, air)
        _down(strip, 0, weigh, low_face, factors[0] > 0.0)
        for n in range(1, cells - 1):
            _down(strip, n, weigh, low_face, False)
        _down(strip, cells - 1, weigh, high_face, factors[1] > 0.0)
        _up(strip, cells)
        _store(strip, enthalpy, potential, cells, begin, pace)
        if factors[0] > 0.0:
            lost += _lost(low_face, strip, 0, area, start, wide)
        if factors[1] > 0.0:
            lost += _lost(high_face, strip, cells - 1, area, start, wide)
    return lost


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

    Axes are depth, across and along, each of two cells or more; ``factors`` weigh the loss at top,
    bottom, low and high side. The order of the sweeps is turned round in every other step, which
    keeps second order in time.
    """
    look_up(enthalpy, table, low, pitch, fields[0], fields[1])
    depth, across, along = sizes
    layers, rows, columns = len(depth), len(across), len(along)
    plane, air = rows * columns, (low, 1.0 / pitch, air_degc)
    sides, ends = (factors[2], factors[3]), (factors[0], factors[1])
    lost = 0.0
    for turn in range(3):
        axis = turn if downward_first else 2 - turn
        if axis == 0:
            weigh, lay = flows(depth, seconds, typical), (plane, 1, plane)
            area = np.outer(across, along).reshape(plane)
            lost += sweep(enthalpy, fields, depth, weigh, lay, 0, ends, area, table, air)
        elif axis == 1:
            weigh, lay = flows(across, seconds, typical), (columns, 1, columns)
            for k in range(layers):
                area = along * depth[k]
                first = k * plane
                lost += sweep(enthalpy, fields, across, weigh, lay, first, sides, area, table, air)
        else:
            weigh, lay = flows(along, seconds, typical), (1, columns, layers * rows)
            none = (0.0, 0.0)
            lost += sweep(enthalpy, fields, along, weigh, lay, 0, none, across, table, air)
    return lost * seconds
