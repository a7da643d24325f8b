"""The estimate as it is handed over: frozen, with its reasons, plain when serialised."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from datetime import date
from typing import Any

from repairs.welding.consumables import Material
from repairs.welding.heat.run_result import HeatRun
from repairs.welding.refusals import WeldingRefusal
from repairs.welding.safety import Caution
from repairs.welding.timeline import PROBABILITIES, HandBack, chance_of, quantile_of
from turnouts.analysis.terms import Zone

KEPT = (0, *range(4, len(PROBABILITIES) - 1, 5), len(PROBABILITIES) - 1)
"""Which of PROBABILITIES are kept for each stage: every fortieth of the way, and both ends."""


@dataclass(frozen=True, slots=True)
class LayerEstimate:
    """One layer: beads, their length and first direction, metal, arc, waiting and heat."""

    number: int
    kind: str
    beads: int
    bead_length_mm: float
    first_direction: str
    deposit_kg: float
    arc_min: float
    wait_min: float
    hottest_degc: float


@dataclass(frozen=True, slots=True)
class ZoneEstimate:
    """One zone: its cavity, what is taken out and what is put in. Grinding has no layers."""

    key: str
    zone: Zone
    floor_length_mm: float
    floor_width_mm: float
    depth_mm: float
    top_length_mm: float
    top_width_mm: float
    volume_mm3: float
    gouged_kg: float
    deposit_kg: float
    over_fill_kg: float
    beads: int
    layers: tuple[LayerEstimate, ...]


@dataclass(frozen=True, slots=True)
class StageTime:
    """One stage: its own time, and the latest it may begin.

    ``spread_share`` is its part of the variance of the whole job's time. ``hand_back`` is the
    state the track could be handed back in if work stopped as it ends.
    ``remaining_*`` count from its start to the end of the job. ``latest_start_min`` counts from the
    start of the track time, at the hand-back chance asked for; None when no track time was given,
    below 0 when the track time is too short from the first.

    What it is made of stands beside it: fixed minutes, median and sigma of the work, waiting; and
    ``rows_work_min``, the median of the work before any record of work done moved it.
    """

    key: str
    name: str
    fixed_min: float
    work_min: float
    work_sigma: float
    wait_min: float
    rows_work_min: float
    median_min: float
    p80_min: float
    sigma: float
    spread_share: float
    open_cavity: bool
    hand_back: HandBack
    remaining_p50_min: float
    remaining_p80_min: float
    remaining_p95_min: float
    latest_start_min: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """What a repair takes, as a distribution, with materials, cautions, steps and assumptions.

    ``shared`` is the share of the variance of the total that is the crew and the day: jobs of one
    crew on one day move together by it. For grinding ``cavity_mm3`` is 0: nothing is opened, and
    there is no ``heat``.
    """

    procedure_id: str
    procedure_since: date
    zones: tuple[ZoneEstimate, ...]
    cavity_mm3: float
    deposit_kg: float
    filler_kg: float
    arc_min: float
    beads: int
    layers: int
    wait_min: float
    heat_input_kj_per_mm: float | None
    stages: tuple[StageTime, ...]
    total_median_min: float
    p50_min: float
    p80_min: float
    p95_min: float
    mean_min: float
    sd_min: float
    shared: float
    materials: tuple[Material, ...]
    load_kg: float
    cautions: tuple[Caution, ...]
    hold_points: tuple[str, ...]
    steps: tuple[str, ...]
    assumptions: tuple[str, ...]
    available_min: float | None
    chance_in_time: float | None
    seed: int
    remaining: tuple[tuple[float, ...], ...]
    heat: HeatRun | None = None

    def quantile(self, probability: float) -> float:
        """Minutes the whole job does not pass with a probability between 0.005 and 0.995."""
        return quantile_of(self.remaining[0], probability)

    def chance_within(self, minutes: float) -> float:
        """Chance that the whole job is done in some minutes, between 0 and 0.995."""
        return chance_of(self.remaining[0], minutes)

    def last_start(self, stage_key: str, available_min: float, chance: float) -> float:
        """Latest minute of the track time at which a stage may begin, so that the rest is done in
        time with a chance. Below 0 when even the whole track time is too short for the rest.
        """
        keys = [stage.key for stage in self.stages]
        if stage_key not in keys:
            raise WeldingRefusal(f"There is no stage {stage_key}; stages are {', '.join(keys)}.")
        return available_min - quantile_of(self.remaining[keys.index(stage_key)], chance)

    def as_dict(self) -> dict[str, Any]:
        """Plain numbers, words, lists and dicts.

        Of the whole job all quantiles; of what is left from each stage on those at ``KEPT``, to a
        tenth of a minute, which is what a clock in the hand can show.
        """
        kept = {f.name: plain(getattr(self, f.name)) for f in fields(self) if f.name != "remaining"}
        return kept | {
            "quantiles": {"probabilities": list(PROBABILITIES), "minutes": list(self.remaining[0])},
            "remaining": {
                "probabilities": [PROBABILITIES[place] for place in KEPT],
                "minutes": [[round(row[place], 1) for place in KEPT] for row in self.remaining],
            },
        }


def plain(value: object) -> Any:
    """A value as JSON can hold it."""
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(held) for key, held in value.items()}
    if isinstance(value, tuple | list):
        return [plain(held) for held in value]
    if isinstance(value, date):
        return value.isoformat()
    return str(value) if isinstance(value, str) else value
