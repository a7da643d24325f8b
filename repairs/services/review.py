"""What a meeting looks at: one territory over some time, in sentences and tables of plain words.

What is found is read as of the last day of the time, or today where that is earlier; ranks and
warnings are those of the last night.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Max
from django.utils import timezone

from repairs.models import RenewalChoice
from repairs.services.holding import held_at
from repairs.services.learning import outcomes
from repairs.services.warnings_met import warnings_met
from repairs.welding.calibration import calibration
from turnouts.access import visible
from turnouts.analysis.evidence import said_chance
from turnouts.analysis.recurrence.power_law import PowerLaw
from turnouts.analysis.showing import UnitPreference, show
from turnouts.analysis.terms import Quantity
from turnouts.analysis.units import Dimension
from turnouts.models import (
    Component,
    ComponentRank,
    Defect,
    DefectStep,
    EarlyWarning,
    Person,
    Territory,
    Turnout,
)
from turnouts.services.component_file import Recurrence, component_file, with_history
from turnouts.services.errors import Refused
from turnouts.services.runs import Progress

MOST_WORST, MOST_WARNINGS, MOST_HINTS = 10, 20, 2
"""Components, warnings and hints of one component: what a meeting gets through."""


@dataclass(frozen=True)
class Asked:
    """Of which territory, from which day to which, as of which day, for whom."""

    territory: Territory
    since: date
    until: date
    today: date
    reader: Person

    @property
    def on(self) -> date:
        return min(self.until, self.today)

    @property
    def units(self) -> UnitPreference:
        return self.reader.units


def review_of(asked: Asked, progress: Progress) -> dict[str, Any]:
    """All that the review says, as plain values in the reader's units."""
    ranks = _ranks(asked)
    worst = []
    for done, rank in enumerate(ranks):
        progress(done, len(ranks) + 1, f"Reading the file of {rank.component.serial}")
        worst.append(_worst(rank, asked))
    months, warnings = _months(asked), list(_warnings(asked))
    return {
        "territory": asked.territory.name,
        "period": f"{asked.since} to {asked.until}",
        "made": f"{asked.today}",
        "summary": _summary(asked, months, worst, warnings),
        "months": months,
        "worst": worst,
        "warnings": warnings,
        "forecasts": _forecasts(asked),
        "decisions": list(_decisions(asked)),
    }


def _in_territory(asked: Asked) -> dict[str, Any]:
    return {"turnout__track__line__territory": asked.territory}


def _ranks(asked: Asked) -> Sequence[ComponentRank]:
    rows = ComponentRank.objects.filter(repeat_offender=True, **_in_territory(asked))
    seen = visible(asked.reader, rows).select_related("component", "turnout")
    return list(seen[:MOST_WORST])


def _worst(rank: ComponentRank, asked: Asked) -> dict[str, Any]:
    return {
        "component": rank.component.serial,
        "turnout": rank.turnout.code,
        "family": rank.family,
        "defects": rank.events,
        "expected": f"{rank.expected:.1f}",
        "relative": rank.relative,
        "low": rank.low,
        "high": rank.high,
        "chance": said_chance(rank.chance_worse),
        "why": _why(rank.component, asked),
    }


def _why(component: Component, asked: Asked) -> list[str]:
    """What its file says of causes and of the course of its defects."""
    try:
        read = component_file(
            with_history(Component.objects.all()).get(pk=component.pk), asked.on, asked.units
        )
    except Refused as refusal:
        return [str(refusal)]
    said = [
        f"{hint.rule.title}? {' '.join(hint.evidence)} Look at next: {hint.look_next}"
        for hint in read.hints.hints[:MOST_HINTS]
    ] or [read.hints.sentence]
    if isinstance(read.recurrence, Recurrence) and isinstance(read.recurrence.law, PowerLaw):
        said.append(read.recurrence.law.sentence)
    return said


def _months(asked: Asked) -> list[dict[str, Any]]:
    """Defects found and repairs done in each month of the time."""
    found = Defect.objects.filter(
        reported_on__range=(asked.since, asked.until), **_in_territory(asked)
    ).values_list("reported_on", flat=True)
    steps = DefectStep.objects.filter(
        state="repaired",
        at__date__range=(asked.since, asked.until),
        defect__turnout__track__line__territory=asked.territory,
    ).values_list("at", flat=True)
    defects = Counter((day.year, day.month) for day in found)
    repairs = Counter((at.year, at.month) for at in map(timezone.localtime, steps))
    return [
        {
            "month": f"{year}-{month:02}",
            "defects": defects[year, month],
            "repairs": repairs[year, month],
        }
        for year, month in _each_month(asked.since, asked.until)
    ]


def _each_month(since: date, until: date) -> Iterator[tuple[int, int]]:
    first, last = (day.year * 12 + day.month - 1 for day in (since, until))
    yield from ((n // 12, n % 12 + 1) for n in range(first, last + 1))


def _summary(
    asked: Asked,
    months: Sequence[dict[str, Any]],
    worst: Sequence[dict[str, Any]],
    warnings: Sequence[Sequence[str]],
) -> list[str]:
    turnouts = list(
        visible(
            asked.reader,
            Turnout.objects.with_place().filter(track__line__territory=asked.territory),
        )
    )
    held = held_at(turnouts, asked.today).values()
    still = Defect.objects.still_open().filter(**_in_territory(asked)).count()
    defects, repairs = (sum(one[name] for one in months) for name in ("defects", "repairs"))
    restricted = sum(one.restricted for one in held)
    return [
        f"{_many(defects, 'defect')} found and {_many(repairs, 'repair')} done on "
        f"{_many(len(turnouts), 'turnout')} in this time.",
        f"{_many(still, 'defect')} open today; at {_many(restricted, 'turnout')} trains are "
        "restricted or stopped by what was decided.",
        f"{_many(len(worst), 'component')} listed as worse than their like with a chance of 95 % "
        f"or more, and {_many(len(warnings), 'early warning')} listed.",
    ]


def _many(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _warnings(asked: Asked) -> Iterator[list[str]]:
    last = EarlyWarning.objects.aggregate(last=Max("stands_on"))["last"]
    rows = EarlyWarning.objects.filter(stands_on=last, **_in_territory(asked))
    seen = visible(asked.reader, rows).select_related("component", "turnout")
    for row in seen[:MOST_WARNINGS]:
        way = "not less than" if row.least else "not more than"
        limit = show(row.limit_mm, Dimension.LENGTH, asked.units)
        yield [
            row.component.serial,
            row.turnout.code,
            Quantity(row.quantity).label,
            f"{way} {limit} ({row.clause})",
            f"{row.next_look_on}",
            said_chance(row.chance),
        ]


def _forecasts(asked: Asked) -> list[str]:
    """How the times of jobs and the early warnings did."""
    times = calibration(outcomes(asked.reader))
    said = [one.sentence for one in times.held] if times.held else [
        f"Times of jobs: not enough data, {_many(times.jobs, 'signed job')}."
    ]  # fmt: skip
    return [*said, warnings_met(asked.reader, asked.territory, asked.since, asked.on)]


def _decisions(asked: Asked) -> Iterator[list[str]]:
    rows = RenewalChoice.objects.filter(
        at__date__range=(asked.since, asked.until), **_in_territory(asked)
    )
    for row in visible(asked.reader, rows).select_related("component", "turnout").order_by("at"):
        yield [
            f"{timezone.localdate(row.at)}",
            row.component.serial,
            row.turnout.code,
            row.words,
            "as advised" if row.follows_advice else "against the advice",
            row.reason,
        ]
