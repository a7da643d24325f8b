"""From stages and materials to the figures an estimate carries."""

from collections.abc import Sequence
from typing import TypedDict

from repairs.welding.consumables import Material
from repairs.welding.learning import NO_EXPERIENCE, Experience, as_learnt
from repairs.welding.result import StageTime
from repairs.welding.rows_toml import rows_of
from repairs.welding.stages import spread
from repairs.welding.timeline import (
    Stage,
    chance_of,
    moments,
    quantile_of,
    remaining_quantiles,
    spread_shares,
    stage_spread,
)
from repairs.welding.work import Conditions

ROAD_NOT_COUNTED = (
    "The road to the place of access and home again is not counted, the plan has it; the clock "
    "starts when track time starts. The way from the place of access to the frog is a stage of "
    "its own, and the way back is in clearing."
)


class Times(TypedDict):
    """The fields of an estimate that come from its stages."""

    stages: tuple[StageTime, ...]
    total_median_min: float
    p50_min: float
    p80_min: float
    p95_min: float
    mean_min: float
    sd_min: float
    shared: float
    available_min: float | None
    chance_in_time: float | None
    seed: int
    remaining: tuple[tuple[float, ...], ...]


class Loads(TypedDict):
    """The fields of an estimate that come from its materials."""

    materials: tuple[Material, ...]
    load_kg: float


def loads(materials: tuple[Material, ...]) -> Loads:
    """Materials with the weight of all that is loaded."""
    return Loads(materials=materials, load_kg=sum(item.mass_kg for item in materials))


def times(
    by_rows: Sequence[Stage], conditions: Conditions, seed: int, known: Experience = NO_EXPERIENCE
) -> Times:
    """Simulate the stages as experience moves them; mean and deviation are of the closed form."""
    stages = as_learnt(by_rows, known)
    how = spread()
    remaining = remaining_quantiles(stages, how, seed)
    total = moments(stages, how)
    available = conditions.available_min
    median = quantile_of(remaining[0], 0.5)
    return Times(
        stages=tuple(
            _stage_time(stage, rows, left, share, conditions)
            for stage, rows, left, share in zip(
                stages, by_rows, remaining, spread_shares(stages, how), strict=True
            )
        ),
        total_median_min=median,
        p50_min=median,
        p80_min=quantile_of(remaining[0], 0.8),
        p95_min=quantile_of(remaining[0], 0.95),
        mean_min=total.mean_min,
        sd_min=total.sd_min,
        shared=total.shared,
        available_min=available,
        chance_in_time=None if available is None else chance_of(remaining[0], available),
        seed=seed,
        remaining=remaining,
    )


def _stage_time(
    stage: Stage,
    by_rows: Stage,
    remaining: Sequence[float],
    spread_share: float,
    conditions: Conditions,
) -> StageTime:
    own = stage_spread(stage, spread())
    available, chance = conditions.available_min, conditions.hand_back_chance
    latest = None if available is None else available - quantile_of(remaining, chance)
    return StageTime(
        key=stage.key,
        name=stage.name,
        fixed_min=stage.fixed_min,
        work_min=stage.work_min,
        work_sigma=stage.sigma,
        wait_min=stage.wait_min,
        rows_work_min=by_rows.work_min,
        median_min=own.median_min,
        p80_min=own.p80_min,
        sigma=own.sigma,
        spread_share=spread_share,
        open_cavity=stage.open_cavity,
        hand_back=stage.hand_back,
        remaining_p50_min=quantile_of(remaining, 0.5),
        remaining_p80_min=quantile_of(remaining, 0.8),
        remaining_p95_min=quantile_of(remaining, 0.95),
        latest_start_min=latest,
    )


def row_assumptions(name: str) -> tuple[str, ...]:
    """A sentence for each row of a file that has no published source, led by its table."""
    return tuple(
        f"{table.replace('_', ' ')}: {row.assumption}"
        for table, rows in rows_of(name).items()
        for row in rows.values()
        if row.assumption
    )
