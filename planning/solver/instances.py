"""Public instances of team orienteering with time windows, read from CSV files.

One file an instance, `id,x,y,service,score,open,close`; the first row is the depot and its close
the latest return. Distance and travel time are Euclidean, cut to one decimal place, or to two
where the file's name starts with `pr`; so every time here is a whole number of tenths or
hundredths. Service starts inside the window, waiting is allowed, each visit counts once.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from planning.solver.visits import Ints, Visits, without_railway

COLUMNS = ("id", "x", "y", "service", "score", "open", "close")
NOT_AN_INSTANCE = "best_known.csv"


class InstanceError(ValueError):
    """A folder or file that cannot be read as instances; the text says where and what to do."""


@dataclass(frozen=True)
class Instance:
    """An instance; row 0 of each array is the depot. Times in 1/`scale` of the file's unit."""

    name: str
    scale: int
    travel: Ints
    service: Ints
    score: tuple[float, ...]
    opens: Ints
    closes: Ints

    def visits(self, routes: int) -> Visits:
        """The instance for so many routes; visit i here is row i + 1 of the file."""
        return without_railway(
            release=self.opens[1:].copy(),
            latest_start=self.closes[1:].copy(),
            service=self.service[1:].copy(),
            prize=np.array(self.score[1:], dtype=np.float64),
            travel=self.travel[1:, 1:].copy(),
            out=self.travel[0, 1:].copy(),
            home=self.travel[1:, 0].copy(),
            routes=routes,
            closes=int(self.closes[0]),
        )

    def scored(self, tours: Sequence[Sequence[int]], routes: int) -> float:
        """What the tours (row numbers) score, each re-timed here; ValueError when a rule breaks."""
        seen = [row for tour in tours for row in tour]
        if len(tours) > routes or len(seen) != len(set(seen)):
            raise ValueError(f"{self.name}: too many routes, or a visit twice.")
        for tour in tours:
            self._keep_time(tour)
        return float(sum(self.score[row] for row in seen))

    def _keep_time(self, tour: Sequence[int]) -> None:
        at, time = 0, int(self.opens[0])
        for row in tour:
            time = max(time + int(self.travel[at, row]), int(self.opens[row]))
            if time > self.closes[row]:
                raise ValueError(f"{self.name}: visit {row} is reached after it closes.")
            at, time = row, time + int(self.service[row])
        if time + int(self.travel[at, 0]) > self.closes[0]:
            raise ValueError(f"{self.name}: a route is back after the depot closes.")


def read_folder(folder: Path) -> list[Instance]:
    """All instances of the folder, by name; InstanceError when there are none or one is broken."""
    if not folder.is_dir():
        raise InstanceError(f"{folder} is not a folder; give the folder that holds the CSV files.")
    files = sorted(f for f in folder.glob("*.csv") if f.name != NOT_AN_INSTANCE)
    if not files:
        raise InstanceError(f"There is no CSV file of an instance in {folder}.")
    return [read_instance(file) for file in files]


def read_instance(file: Path) -> Instance:
    """One instance; InstanceError naming file and line where it is not as it should be."""
    try:
        with file.open(newline="", encoding="utf-8-sig") as lines:
            rows = [row for row in csv.reader(lines) if row]
    except (OSError, UnicodeDecodeError, csv.Error) as problem:
        raise InstanceError(f"{file} cannot be read as a CSV file: {problem}.") from problem
    if not rows or tuple(name.strip() for name in rows[0]) != COLUMNS:
        raise InstanceError(f"{file}: the first line must be {','.join(COLUMNS)}.")
    if len(rows) < 3:
        raise InstanceError(f"{file}: give the depot and at least one visit.")
    table = np.array([_numbers(file, n, row) for n, row in enumerate(rows[1:], start=2)])
    scale = 100 if file.name.startswith("pr") else 10
    return Instance(
        name=file.stem,
        scale=scale,
        travel=_travel(table[:, 1:3], scale),
        service=_whole(np.ceil, table[:, 3], scale),
        score=tuple(table[:, 4].tolist()),
        opens=_whole(np.ceil, table[:, 5], scale),
        closes=_whole(np.floor, table[:, 6], scale),
    )


def _numbers(file: Path, line: int, row: list[str]) -> list[float]:
    where = f"{file}, line {line}"
    if len(row) != len(COLUMNS):
        raise InstanceError(f"{where}: {len(row)} values; give {len(COLUMNS)}.")
    try:
        numbers = [float(value) for value in row]
    except ValueError:
        raise InstanceError(f"{where}: give numbers only, not {','.join(row)}.") from None
    if not all(math.isfinite(number) for number in numbers):
        raise InstanceError(f"{where}: give finite numbers only.")
    if min(numbers[3:]) < 0:
        raise InstanceError(f"{where}: service, score, open and close may not be below 0.")
    return numbers


def _travel(places: np.typing.NDArray[np.float64], scale: int) -> Ints:
    apart = np.hypot(*(places[:, None, :] - places[None, :, :]).transpose(2, 0, 1))
    # A distance that is a whole tenth must stay one, whatever its last bits.
    return np.asarray(np.floor(apart * scale + 1e-7), dtype=np.int64)


def _whole(up_or_down: np.ufunc, column: np.typing.NDArray[np.float64], scale: int) -> Ints:
    """Times in whole units, never to the advantage of the planner where they are finer."""
    return np.asarray(up_or_down(np.round(column * scale, 6)), dtype=np.int64)
