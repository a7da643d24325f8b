"""What like components have in common: worked out at night from all of them, read by each page.

A family is all components of one kind, design and steel that have stood in track.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from decimal import Decimal
from hashlib import sha256
from statistics import median
from typing import Any

import numpy as np

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.recurrence.life_fits import fit_life, likelier
from turnouts.analysis.recurrence.lives import Life as RepairLife
from turnouts.analysis.recurrence.lives import LifeFit, Shape
from turnouts.analysis.recurrence.mean_cumulative import MeanCumulative, Step, mean_cumulative
from turnouts.analysis.renewal.weld_family import WeldFamily, weld_family
from turnouts.analysis.terms import Quantity
from turnouts.analysis.wear.family import Family
from turnouts.analysis.wear.runs import Run
from turnouts.analysis.wear.wear import family_beside
from turnouts.models import Component, FamilyFigures
from turnouts.services.component_rows import Life, Place, Taken
from turnouts.services.repair_lives import first_life, repair_lives

LEAST_SD_MM = 0.05
"""Scatter below which no gauge used in track can be trusted (assumed)."""

DRAWN_STEPS = 240
"""Steps of a family's mean that are kept: more than a picture shows apart."""

LOT = 1000
"""Components whose defects make a family's mean: its sums grow with components times defects, and
a thousand settle it within a few parts in a hundred."""


@dataclass(frozen=True)
class Figures:
    """The figures of one family as of the end of ``on``; what cannot be said is a ``NotEnough``.

    ``lasting`` are repairs of lost metal, ``welds`` the same with how components differ, ``first``
    the tonnage of a new component to its first such defect.
    """

    on: date
    components: int
    wear: Mapping[Place, Family | NotEnough]
    mean: MeanCumulative | None
    lasting: LifeFit | NotEnough
    welds: WeldFamily | NotEnough
    first: LifeFit | NotEnough


def figures_of(component: Component) -> Figures | None:
    """The figures of its family, or nothing where no night has worked them out yet."""
    row = FamilyFigures.objects.filter(
        kind=component.kind, design=component.design, steel=component.steel
    ).first()
    return None if row is None else _read(row)


def work_out(lives: Sequence[Life], begins: date | None, on: date) -> Figures:
    """The figures of a family from the lives of all its components."""
    repaired = [repair_lives(life, on) for life in lives]
    every = [one for own in repaired for one in own]
    first = [one for life in lives if (one := first_life(life, begins, on)) is not None]
    return Figures(
        on=on,
        components=len(lives),
        wear=_wear(lives),
        mean=_mean(lives, begins, on),
        lasting=_fitted(every, both=True),
        welds=weld_family(repaired),
        first=_fitted(first, both=False),
    )


def keep(family: tuple[str, str, str], figures: Figures) -> FamilyFigures:
    """The row to write for a family: kind, design, steel."""
    kind, design, steel = family
    return FamilyFigures(
        kind=kind,
        design=design,
        steel=steel,
        components=figures.components,
        figures=_plain(figures),
        made_on=figures.on,
    )


def least_sd_of(taken: Sequence[Taken]) -> float:
    """Half the usual uncertainty of the readings in mm, as a standard deviation."""
    return max(float(median(one.uncertainty for one in taken)) / 2, LEAST_SD_MM)


def _wear(lives: Sequence[Life]) -> dict[Place, Family | NotEnough]:
    runs: dict[Place, list[Run]] = defaultdict(list)
    taken: dict[Place, list[Taken]] = defaultdict(list)
    for life in lives:
        for place, readings in life.readings.items():
            runs[place] += [run for run in life.runs(place) if run.readings]
            taken[place] += readings
    return {place: family_beside(runs[place], least_sd_of(taken[place])) for place in runs}


def _mean(lives: Sequence[Life], begins: date | None, on: date) -> MeanCumulative | None:
    drawn = sorted(lives, key=lambda life: sha256(life.component.serial.encode()).digest())[:LOT]
    histories = [h for life in drawn if (h := life.history(begins, on)) is not None]
    return mean_cumulative(histories) if histories else None


def _fitted(lives: Sequence[RepairLife], *, both: bool) -> LifeFit | NotEnough:
    try:
        return likelier(lives) if both else fit_life(lives, Shape.WEIBULL)
    except ValueError as fault:
        return NotEnough(len(lives), len(lives) + 1, str(fault))


def _plain(figures: Figures) -> dict[str, Any]:
    return {
        "wear": [
            {"place": [quantity.value, route, None if behind is None else f"{behind:f}"],
             "family": _as_json(family)}
            for (quantity, route, behind), family in figures.wear.items()
        ],
        "mean": None if figures.mean is None else _thinned(figures.mean),
        "lasting": _as_json(figures.lasting),
        "welds": _as_json(figures.welds),
        "first": _as_json(figures.first),
    }  # fmt: skip


def _as_json(found: Any) -> dict[str, Any]:
    return {
        name: value.tolist() if isinstance(value, np.ndarray) else value
        for name, value in asdict(found).items()
    }


def _thinned(mean: MeanCumulative) -> dict[str, Any]:
    every = -(-len(mean.steps) // DRAWN_STEPS) or 1
    kept = [s for n, s in enumerate(mean.steps) if n % every == 0 or n == len(mean.steps) - 1]
    return asdict(mean) | {"steps": [list(asdict(step).values()) for step in kept]}


def _read(row: FamilyFigures) -> Figures:
    kept = row.figures
    return Figures(
        on=row.made_on,
        components=row.components,
        wear={_place(one["place"]): _family(one["family"]) for one in kept["wear"]},
        mean=None if kept["mean"] is None else _mean_of(kept["mean"]),
        lasting=_life_fit(kept["lasting"]),
        welds=_welds(kept["welds"]),
        first=_life_fit(kept["first"]),
    )


def _place(given: Sequence[str | None]) -> Place:
    quantity, route, behind = given
    return Quantity(str(quantity)), str(route), None if behind is None else Decimal(behind)


def _not_enough(given: dict[str, Any]) -> NotEnough | None:
    return NotEnough(**given) if "need" in given else None


def _family(given: dict[str, Any]) -> Family | NotEnough:
    if (lacking := _not_enough(given)) is not None:
        return lacking
    arrays = {name: np.array(given[name]) for name in ("mean", "between", "mean_covariance")}
    return Family(**given | arrays)


def _mean_of(given: dict[str, Any]) -> MeanCumulative:
    steps = tuple(Step(*one) for one in given["steps"])
    noted = tuple(given["limits_of_inference"])
    return MeanCumulative(**given | {"steps": steps, "limits_of_inference": noted})


def _life_fit(given: dict[str, Any]) -> LifeFit | NotEnough:
    if (lacking := _not_enough(given)) is not None:
        return lacking
    (v00, v01), (v10, v11) = given["covariance"]
    return LifeFit(
        **given | {"shape": Shape(given["shape"]), "covariance": ((v00, v01), (v10, v11))}
    )


def _welds(given: dict[str, Any]) -> WeldFamily | NotEnough:
    if (lacking := _not_enough(given)) is not None:
        return lacking
    fit = _life_fit(given["fit"])
    assert isinstance(fit, LifeFit)  # noqa: S101 - a family that is known has its fit
    return WeldFamily(**given | {"fit": fit})
