"""The night's look ahead: what like components have in common, repeat offenders among them, limits
that are reached before a look.

Family by family (kind, design, steel), so that memory does not grow with the railway.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.contrib.auth.hashers import make_password
from django.db import transaction
from django.utils import timezone

from turnouts.access import Action, require
from turnouts.analysis.early_warning import Night, Warned, look_ahead
from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.ranking.offenders import Observed, rank
from turnouts.models import (
    Component,
    ComponentRank,
    EarlyWarning,
    FamilyFigures,
    Installation,
    LongRun,
    Person,
)
from turnouts.services.component_file import standing_at, with_history
from turnouts.services.component_rows import Life, lives_of, records_begin
from turnouts.services.family_figures import keep, work_out
from turnouts.services.forecasts import keep_forecasts, renew_record, settle_forecasts
from turnouts.services.runs import Progress, start_run
from turnouts.services.watching import Series, watch

TASK = "turnouts.look_ahead"
KIND = "look ahead"

LEAST_SD_MM = 0.1
"""Scatter below which no reading is trusted (assumed: half of what a gauge in track can tell)."""

Family = tuple[str, str, str]


@dataclass
class Tally:
    """What one night came to."""

    ranked: int = 0
    warned: int = 0
    looked_at: int = 0
    forecasts_kept: int = 0
    forecasts_met: int = 0
    not_enough: int = 0
    without_tonnage: int = 0
    families_too_small: list[str] = field(default_factory=list)


def look_ahead_tonight(*, at: datetime) -> LongRun:
    """Queue the look ahead as on the day of ``at``; once a day, however often it is asked."""
    day = timezone.localdate(at)
    run, _ = start_run(
        kind=KIND,
        request_key=f"nightly look ahead {day}",
        by=_timetable(),
        asked={"on": day.isoformat()},
        task=TASK,
    )
    return run


def request_outlook(*, by: Person, on: date, request_key: str) -> LongRun:
    """Queue a look ahead over the whole railway before the night's; a key is carried out once."""
    require(by, Action.ESTIMATE)
    asked = {"on": on.isoformat()}
    run, _ = start_run(kind=KIND, request_key=request_key, by=by, asked=asked, task=TASK)
    return run


def _timetable() -> Person:
    """Who stands behind the steps of the night: somebody nobody can log in as."""
    person, _ = Person.objects.get_or_create(
        username="timetable", defaults={"first_name": "Timetable", "password": make_password(None)}
    )
    return person


def carry_out_outlook(run: LongRun, progress: Progress) -> dict[str, Any]:
    """Look ahead for a run; its result is what the night came to."""
    tally = renew_outlook(on=date.fromisoformat(run.asked["on"]), progress=progress)
    return vars(tally)


@transaction.atomic
def renew_outlook(*, on: date, progress: Progress) -> Tally:
    """Write figures and ranks anew and keep the warnings of a day, all or nothing."""
    tally, begins = Tally(), records_begin()
    ComponentRank.objects.all().delete()
    FamilyFigures.objects.all().delete()
    stood = Component.objects.filter(pk__in=Installation.objects.values("component"))
    families = list(stood.order_by().values_list("kind", "design", "steel").distinct())
    for done, family in enumerate(sorted(families)):
        kind, design, steel = family
        members = with_history(stood.filter(kind=kind, design=design, steel=steel))
        found, unknown = lives_of(members, on)
        lives = list(found.values())
        tally.without_tonnage += len(unknown)
        keep(family, work_out(lives, begins, on)).save()
        _rank(
            _named(family),
            [life for life in lives if standing_at(life.component)],
            begins,
            on,
            tally,
        )
        _warn(lives, on, tally)
        progress(done + 1, len(families), f"Looked at {_named(family)}")
    renew_record(on)
    return tally


def _named(family: Family) -> str:
    """The family in words: ``Frog, rail bound manganese, manganese``."""
    words = ", ".join(part.replace("_", " ") for part in family if part)
    return words[:1].upper() + words[1:]


def _rank(named: str, lives: Sequence[Life], begins: date | None, on: date, tally: Tally) -> None:
    histories = [(life, h) for life in lives if (h := life.history(begins, on)) is not None]
    events = sum(len(h.events_mgt) for _, h in histories)
    if not events:
        tally.families_too_small.append(f"{named}: not enough data: 0 events.")
        return
    rate = events / sum(h.ends_mgt - h.begins_mgt for _, h in histories)
    ranking = rank(
        [
            Observed(h.key, len(h.events_mgt), rate * (h.ends_mgt - h.begins_mgt))
            for _, h in histories
        ]
    )
    if isinstance(ranking, NotEnough):
        tally.families_too_small.append(f"{named}: {ranking.sentence}")
        return
    by_serial = {life.component.serial: life.component for life in lives}
    ComponentRank.objects.bulk_create(
        ComponentRank(
            component=by_serial[one.key],
            turnout=standing_at(by_serial[one.key]),
            family=named,
            events=one.events,
            expected=one.expected,
            relative=one.relative,
            low=one.low,
            high=one.high,
            chance_worse=one.chance_worse,
            chance_twice=one.chance_twice,
            repeat_offender=one.repeat_offender,
            made_on=on,
        )
        for one in ranking.offenders
    )
    tally.ranked += len(ranking.offenders)


def _warn(lives: Sequence[Life], on: date, tally: Tally) -> None:
    series, watched, past = watch(lives, on)
    night: Night = look_ahead(watched, past, least_sd=LEAST_SD_MM)
    tally.forecasts_met += settle_forecasts(lives)
    tally.forecasts_kept += keep_forecasts(series, night.foreseen, on, timezone.localdate())
    tally.looked_at += night.looked_at
    tally.not_enough += len(night.not_enough)
    tally.warned += len(night.warnings)
    EarlyWarning.objects.bulk_create(
        [_row(series[warned.key], warned, on) for warned in night.warnings],
        update_conflicts=True,
        update_fields=["stands_on"],
        unique_fields=[
            "component", "quantity", "route", "behind_point_mm", "clause", "limit_mm",
            "last_inspection", "next_look_on",
        ],
    )  # fmt: skip


def _row(one: Series, warned: Warned, on: date) -> EarlyWarning:
    quantity, route, behind = one.place
    return EarlyWarning(
        component=one.life.component,
        turnout=one.turnout,
        quantity=quantity.value,
        route=route,
        behind_point_mm=behind,
        clause=one.limit.clause,
        limit_mm=one.limit.mm,
        least=one.limit.least,
        next_look_on=one.next_look_on,
        look_by=one.look_by,
        chance_now=warned.chance_now,
        chance=warned.chance_by_next_look,
        level_mm=warned.level_at_next_look,
        readings=warned.readings,
        last_inspection=one.taken[-1].inspection,
        made_on=on,
        stands_on=on,
    )
