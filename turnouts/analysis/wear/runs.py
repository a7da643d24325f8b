"""Readings of one quantity against tonnage, cut where a repair or a new part starts them again."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Reading:
    """One measurement: tonnage over the component in MGT, value in its stored unit."""

    mgt: float
    value: float
    reference: str = ""


@dataclass(frozen=True, slots=True)
class Run:
    """Readings between two resets. ``began_mgt`` is the tonnage at the reset the run began with."""

    key: str
    began_mgt: float
    readings: tuple[Reading, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """Runs as arrays, one run a row: tonnage since the reset, values, and which places are used."""

    since_mgt: Floats
    values: Floats
    used: Flags


def runs_of(key: str, readings: Sequence[Reading], resets_mgt: Sequence[float]) -> tuple[Run, ...]:
    """The runs of one quantity of one component, the present one last; empty runs are kept.

    ``resets_mgt`` are the tonnages at which the quantity was brought back: installation (usually
    0), weld repairs, new parts. A reading at the tonnage of a reset was taken after it, as an
    inspection after a repair is. ValueError without any reset, or for a reading before the first.
    """
    starts = sorted(set(resets_mgt))
    if not starts:
        raise ValueError(f"{key}: give the tonnage at which the part was put in, at least.")
    early = [r for r in readings if r.mgt < starts[0]]
    if early:
        raise ValueError(
            f"{key}: a reading at {early[0].mgt:g} MGT was taken before the part was put in at "
            f"{starts[0]:g} MGT. Correct the tonnage of one of them."
        )
    ends = [*starts[1:], float("inf")]
    ordered = sorted(readings, key=lambda r: r.mgt)
    return tuple(
        Run(key, start, tuple(r for r in ordered if start <= r.mgt < end))
        for start, end in zip(starts, ends, strict=True)
    )


def table_of(runs: Sequence[Run]) -> Table:
    """The runs as one table, padded to the longest; tonnage counts from each run's reset."""
    width = max((len(run.readings) for run in runs), default=0)
    since, values = np.zeros((len(runs), width)), np.zeros((len(runs), width))
    used = np.zeros((len(runs), width), dtype=np.bool_)
    for row, run in enumerate(runs):
        n = len(run.readings)
        since[row, :n] = [r.mgt - run.began_mgt for r in run.readings]
        values[row, :n] = [r.value for r in run.readings]
        used[row, :n] = True
    return Table(since, values, used)
