"""Learning from work done: what the rows say is moved by what the railway's own records say.

The logarithm of actual over forecast is normal with unknown mean and variance; the rows are its
normal-inverse-gamma prior, so the posterior is in closed form (Gelman and others, Bayesian Data
Analysis, 3rd ed. 2013, section 3.3; from memory, checked by integration in the tests). With no
record at all the answer is the row itself.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, log, sqrt

from repairs.welding.refusals import OutsideValidity
from repairs.welding.rows_toml import table_of
from repairs.welding.stages import kind_of
from repairs.welding.timeline import Stage

WIDEST_FACTOR = 10.0
"""An actual more than this many times over or under its forecast is a slip of the pen or a stage
that was interrupted; it is refused, so that somebody looks at it."""


@dataclass(frozen=True, slots=True)
class Record:
    """One stage or one material as it went: what the rows alone forecast, and what it took.

    ``kind`` is a stage kind or a material key; both figures are in the same unit. ``crew`` is who
    did it, for pooling only: crews are never ranked.
    """

    kind: str
    crew: str
    forecast: float
    actual: float

    def __post_init__(self) -> None:
        if self.forecast <= 0 or self.actual <= 0:
            raise OutsideValidity(
                f"A record of {self.kind} has a forecast of {self.forecast:g} and took "
                f"{self.actual:g}; both must be above zero. Correct the record."
            )
        if not 1 / WIDEST_FACTOR <= self.actual / self.forecast <= WIDEST_FACTOR:
            raise OutsideValidity(
                f"A record of {self.kind} took {self.actual:g} against a forecast of "
                f"{self.forecast:g}, more than {WIDEST_FACTOR:g} times off. Correct it, or mark "
                "the stage as interrupted."
            )

    @property
    def log_ratio(self) -> float:
        """Logarithm of actual over forecast."""
        return log(self.actual / self.forecast)


@dataclass(frozen=True, slots=True)
class Prior:
    """What a row is worth: ``sigma`` of its forecast, counted as so many records.

    ``mean_records`` weighs its median, ``sigma_records`` (over 2) its spread, and ``crew_records``
    is how many records of its own move a crew halfway from the whole railway's median to its own.
    """

    sigma: float
    mean_records: float
    sigma_records: float
    crew_records: float


@dataclass(frozen=True, slots=True)
class Learned:
    """What the next forecast of a kind is multiplied by, its sigma, and what that rests on."""

    kind: str
    factor: float
    sigma: float
    records: int
    crews: int
    row_sigma: float

    @property
    def sentence(self) -> str:
        """What was learnt, in words for a person."""
        name = self.kind.replace("_", " ").capitalize()
        if not self.records:
            return f"{name}: no record yet, the row stands as it is."
        noun = "record" if self.records == 1 else "records"
        return (
            f"{name}: {self.records} {noun} put it at {self.factor:.2f} of the row's median, "
            f"with a spread of {self.sigma:.2f} (row: {self.row_sigma:.2f})."
        )


@dataclass(frozen=True, slots=True)
class Experience:
    """All that was learnt for one procedure, by stage kind; kinds not in it stay as the rows say.

    ``lance_w_per_m2_k`` is the convection under the air lance, fitted from logged pass temperatures
    and taken over by the railway; None where the row of heating.toml stands.
    """

    stages: Mapping[str, Learned]
    materials: Mapping[str, Learned]
    lance_w_per_m2_k: float | None = None

    @property
    def records(self) -> int:
        """Number of stage records it rests on."""
        return sum(learned.records for learned in self.stages.values())


NO_EXPERIENCE = Experience({}, {})


def stage_record(
    stage: Stage, crew: str, took_min: float, waited_min: float | None = None
) -> Record:
    """The record of a stage that took some minutes, against its work by the rows alone.

    ``stage`` must not have been moved by experience. Where the waits for cooling were logged they
    are taken off; else they stay in on both sides. Raises OutsideValidity for a slip of the pen.
    """
    left_min = took_min - stage.fixed_min
    if waited_min is None:
        return Record(kind_of(stage), crew, stage.work_min + stage.wait_min, left_min)
    return Record(kind_of(stage), crew, stage.work_min, left_min - waited_min)


def prior_of(sigma: float) -> Prior:
    """The prior of a row with this sigma, its worth in records by ``learning.toml``."""
    rows = table_of("learning", "prior")
    return Prior(
        sigma,
        mean_records=rows.number("mean_records"),
        sigma_records=rows.number("sigma_records"),
        crew_records=rows.number("crew_records"),
    )


def learn(kind: str, records: Sequence[Record], prior: Prior, crew: str | None = None) -> Learned:
    """The posterior forecast of one kind, for one crew or (``None``) for any.

    All records move the median and the spread; a crew's own then pull its median away from the
    whole by n / (n + crew_records). Raises OutsideValidity when the prior cannot be one.
    """
    _check(prior)
    ratios = [record.log_ratio for record in records]
    mean, variance = _posterior(ratios, prior)
    own = [record.log_ratio for record in records if record.crew == crew]
    if own:
        weight = len(own) / (len(own) + prior.crew_records)
        mean += weight * (sum(own) / len(own) - mean)
    crews = len({record.crew for record in records})
    return Learned(kind, exp(mean), sqrt(variance), len(records), crews, prior.sigma)


def _posterior(ratios: Sequence[float], prior: Prior) -> tuple[float, float]:
    """Mean and variance of the next log ratio: those of the predictive Student t.

    The prior's own scale is set so that with no record the variance is the row's, sigma squared.
    """
    n = len(ratios)
    weight, shape = prior.mean_records + n, (prior.sigma_records + n) / 2
    average = sum(ratios) / n if n else 0.0
    mean = n * average / weight
    kept = prior.mean_records / (prior.mean_records + 1)
    scale = prior.sigma**2 * kept * (prior.sigma_records / 2 - 1)
    scale += sum((ratio - average) ** 2 for ratio in ratios) / 2
    scale += prior.mean_records * n * average**2 / (2 * weight)
    return mean, scale * (weight + 1) / ((shape - 1) * weight)


def _check(prior: Prior) -> None:
    if prior.sigma <= 0 or prior.mean_records <= 0 or prior.crew_records <= 0:
        raise OutsideValidity("A prior needs a spread and worths above zero; correct the rows.")
    if prior.sigma_records <= 2:
        raise OutsideValidity(
            "A spread worth 2 records or fewer has no finite variance; raise sigma_records."
        )


def experience(
    stages: Iterable[Record],
    materials: Iterable[Record],
    stage_sigmas: Mapping[str, float],
    material_sigmas: Mapping[str, float],
    *,
    crew: str | None = None,
    lance_w_per_m2_k: float | None = None,
) -> Experience:
    """What records of one procedure teach, for each kind that has a row with a spread.

    Raises OutsideValidity for a record of a kind without a row: it would be lost without a word.
    """
    return Experience(
        _by_kind(stages, stage_sigmas, crew),
        _by_kind(materials, material_sigmas, crew),
        lance_w_per_m2_k,
    )


def _by_kind(
    records: Iterable[Record], sigmas: Mapping[str, float], crew: str | None
) -> dict[str, Learned]:
    found: dict[str, list[Record]] = defaultdict(list)
    for record in records:
        if record.kind not in sigmas:
            raise OutsideValidity(
                f"There is no row with a spread for {record.kind}, so nothing can be learnt from "
                f"its records; known kinds are {', '.join(sorted(sigmas))}."
            )
        found[record.kind].append(record)
    return {kind: learn(kind, rows, prior_of(sigmas[kind]), crew) for kind, rows in found.items()}


def as_learnt(stages: Iterable[Stage], known: Experience) -> tuple[Stage, ...]:
    """The stages with the median and spread of their work moved by experience.

    Fixed minutes (dwell, developing) and waits for cooling stay: the first are laid down, the
    second are worked out from heat.
    """
    return tuple(_moved(stage, known.stages.get(kind_of(stage))) for stage in stages)


def _moved(stage: Stage, learned: Learned | None) -> Stage:
    if learned is None:
        return stage
    return replace(stage, work_min=stage.work_min * learned.factor, sigma=learned.sigma)
