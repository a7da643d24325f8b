"""A crew's roster as it may be worked: rest between shifts, and overtime where it is allowed."""

from collections.abc import Sequence
from dataclasses import replace

from planning.solver.problem import Shift


def rested(shifts: Sequence[tuple[Shift, int]], rest_min: int) -> tuple[Shift | None, ...]:
    """Each shift as it may be worked, given in order with the minutes of overtime allowed in it.

    A shift that follows too soon begins when the crew has rested, counted from the end of the one
    before in the roster; None where nothing of it is left then. Overtime ends where the rest before
    the next shift begins. Shifts do not overlap.
    """
    found: list[Shift | None] = []
    free = None
    for shift, _ in shifts:
        start = shift.start_min if free is None else max(free, shift.start_min)
        found.append(replace(shift, start_min=start) if start < shift.end_min else None)
        if found[-1] is not None:
            free = shift.end_min + rest_min
    return tuple(_longer(found, i, overtime, rest_min) for i, (_, overtime) in enumerate(shifts))


def _longer(
    shifts: Sequence[Shift | None], number: int, overtime: int, rest_min: int
) -> Shift | None:
    shift = shifts[number]
    if shift is None:
        return None
    later = (other.start_min - rest_min for other in shifts[number + 1 :] if other is not None)
    last = min(shift.end_min + overtime, *later, shift.end_min + overtime)
    return replace(shift, end_min=max(shift.end_min, last))
