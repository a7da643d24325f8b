"""The wear of one quantity of one component: its line, band, limits, and readings that do not fit.

The present run, since installation or the last repair, is fitted. Where a family of like runs is
known, its line is the family's drawn toward its own readings; otherwise its own readings alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.wear.family import Family, family_of, posteriors, usual_scatter
from turnouts.analysis.wear.limits import Limit, Reach, reach
from turnouts.analysis.wear.line import Band, Line, line_of
from turnouts.analysis.wear.resistant import resistant
from turnouts.analysis.wear.runs import Flags, Reading, Run, Table, table_of

FEWEST_ALONE = 4
"""Readings the present run needs when no like components stand beside it (assumed: three leave one
degree of freedom, and a band twelve times the scatter)."""

BAND_POINTS = 13


@dataclass(frozen=True, slots=True)
class Wear:
    """What the readings of the present run say. ``weight_of_own`` is 1 without a family.

    ``line`` counts from the run's reset. ``odd`` are the readings that were left out.
    """

    key: str
    line: Line
    band: tuple[Band, ...]
    odd: tuple[Reading, ...]
    used: int
    like_runs: int
    weight_of_own: float
    reaches: tuple[Reach, ...]
    limits_of_inference: tuple[str, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class Now:
    """Where the component stands: tonnage over it, the day, and what passes in a year (MGT)."""

    mgt: float
    today: date
    mgt_a_year: float


def wear_of(
    run: Run, family: Family | NotEnough, limits: Sequence[Limit], now: Now, *, least_sd: float
) -> Wear | NotEnough:
    """The wear of a run. ``family`` is of all runs of its kind, this one among them.

    ``least_sd`` is the resolution of the gage as a standard deviation, in the unit of the values:
    readings that agree by chance are no more exact than the gage. ValueError when it is not above
    zero, or when the present tonnage lies before the run began.
    """
    if least_sd <= 0:
        raise ValueError("Give the resolution of the gage: a standard deviation above zero.")
    since = now.mgt - run.began_mgt
    if since < 0:
        raise ValueError(f"{run.key}: the present {now.mgt:g} MGT lies before the run began.")
    table = table_of([run])
    if isinstance(family, NotEnough):
        fit = _alone(table, least_sd)
    else:
        fit = _pooled(table, family, least_sd)
    return fit if isinstance(fit, NotEnough) else _told(run, *fit, family, limits, now, since)


def family_beside(runs: Sequence[Run], least_sd: float) -> Family | NotEnough:
    """The family of like runs, from the readings that fit their runs; ``least_sd`` as there."""
    table = table_of(runs)
    kept = resistant(table, least_sd, usual_scatter(table, least_sd)).kept
    return family_of(table, kept, least_sd)


def _alone(table: Table, least_sd: float) -> tuple[Line, Flags] | NotEnough:
    kept = resistant(table, least_sd).kept[0]
    at = table.since_mgt[0, kept]
    if len(at) < FEWEST_ALONE or len(set(at)) < 2:
        return NotEnough.of(
            "readings since the last repair, and too few like components", len(at), FEWEST_ALONE
        )
    return line_of(at, table.values[0, kept], least_sd), kept


def _pooled(table: Table, family: Family, least_sd: float) -> tuple[Line, Flags]:
    kept = resistant(table, least_sd, (family.sd, family.degrees)).kept
    means, covariances = posteriors(family, table, kept)
    (level, rate), cov = means[0], covariances[0]
    shown = (
        (float(cov[0, 0]), float(cov[0, 1])),
        (float(cov[0, 1]), float(cov[1, 1])),
    )
    return Line(float(level), float(rate), shown, family.sd, family.degrees), kept[0]


def _told(
    run: Run,
    line: Line,
    kept: Flags,
    family: Family | NotEnough,
    limits: Sequence[Limit],
    now: Now,
    since: float,
) -> Wear:
    odd = tuple(r for r, fits in zip(run.readings, kept, strict=False) if not fits)
    reaches = tuple(
        reach(line, limit, now_mgt=since, today=now.today, mgt_a_year=now.mgt_a_year)
        for limit in limits
    )
    last = max([since, *(r.mgt - run.began_mgt for r in run.readings)])
    end = last + 2 * now.mgt_a_year
    band = tuple(line.band(end * n / (BAND_POINTS - 1)) for n in range(BAND_POINTS))
    used = len(run.readings) - len(odd)
    weight = 1.0 if isinstance(family, NotEnough) else _weight(line, family)
    like_runs = 0 if isinstance(family, NotEnough) else family.runs - 1
    return Wear(
        key=run.key,
        line=line,
        band=band,
        odd=odd,
        used=used,
        like_runs=like_runs,
        weight_of_own=weight,
        reaches=reaches,
        limits_of_inference=_inference(used, like_runs, weight),
        sentence=_sentence(line, used, odd, like_runs),
    )


def _weight(line: Line, family: Family) -> float:
    """How much of what like components leave open about the rate this one's readings settle."""
    open_ = float(family.between[1, 1])
    return 0.0 if open_ == 0 else min(max(1 - line.covariance[1][1] / open_, 0.0), 1.0)


def _inference(used: int, like_runs: int, weight: float) -> tuple[str, ...]:
    said = ["A straight line in tonnage is assumed; new and freshly welded metal runs in faster."]
    if like_runs:
        said.append(
            f"Leans on {like_runs} like runs; {weight:.0%} of the answer on the rate is this "
            "component's own."
        )
    else:
        said.append(f"Rests on {used} readings of this run alone; no like components are used.")
    if used < 5:
        said.append("So few readings of its own cannot show a wrong one among them.")
    return tuple(said)


def _sentence(line: Line, used: int, odd: tuple[Reading, ...], like_runs: int) -> str:
    low, high = line.rate_interval()
    left = f" {len(odd)} did not fit and were left out." if odd else ""
    beside = f", read beside {like_runs} like runs" if like_runs else ""
    return (
        f"{used} readings since the last reset{beside}: {line.rate:.3g} a MGT, with 95 % "
        f"confidence between {low:.3g} and {high:.3g}.{left}"
    )
