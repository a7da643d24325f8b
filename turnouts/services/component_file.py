"""The file of one component: how it wears, how often it fails, why perhaps, and what repairs last.

Like components (same kind, design and steel) are read beside it; of many, a lot is drawn.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import median

from django.db.models import F, QuerySet, Value
from django.db.models.functions import MD5, Concat

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.hints.hints import Hints, hints_for
from turnouts.analysis.recurrence.histories import History
from turnouts.analysis.recurrence.life_fits import likelier
from turnouts.analysis.recurrence.lives import Life as RepairLife
from turnouts.analysis.recurrence.lives import LifeFit
from turnouts.analysis.recurrence.mean_cumulative import MeanCumulative, mean_cumulative
from turnouts.analysis.recurrence.power_law import PowerLaw, power_law
from turnouts.analysis.wear.limits import Limit
from turnouts.analysis.wear.resets import METAL_LOST
from turnouts.analysis.wear.runs import Run
from turnouts.analysis.wear.wear import Now, Wear, wear_of
from turnouts.models import Component, Installation, Turnout
from turnouts.services.component_rows import Life, Place, Taken, lives_of, records_begin
from turnouts.services.errors import Refused
from turnouts.services.hint_facts import facts_of
from turnouts.wear_limits import WearLimit, wear_limits

LIKE_COMPONENTS = 60
"""Like components read beside one (assumed: more hardly narrow a band, and a page has to wait)."""

LEAST_SD_MM = 0.05
"""Scatter below which no gauge used in track can be trusted (assumed)."""

WITH_HISTORY = ("installations__turnout__track__line__territory", "shop_visits")


@dataclass(frozen=True)
class Measured:
    """One quantity: what the present run says, its readings, and the limits where it stands."""

    place: Place
    wear: Wear | NotEnough
    run: Run
    readings: Sequence[Taken]
    earlier_runs: int
    limits: Sequence[WearLimit]


@dataclass(frozen=True)
class Recurrence:
    """How often defects come: on this component, on its like; and how long repairs last there."""

    own: MeanCumulative
    own_history: History
    family: MeanCumulative | None
    law: PowerLaw | NotEnough
    own_repairs: tuple[RepairLife, ...]
    repairs: LifeFit | NotEnough


@dataclass(frozen=True)
class ComponentFile:
    """All of it. ``recurrence`` is a sentence where no tonnage has passed since records began."""

    component: Component
    on: date
    turnout: Turnout | None
    life: Life
    like: int
    measured: tuple[Measured, ...]
    recurrence: Recurrence | NotEnough
    hints: Hints


def component_file(component: Component, on: date) -> ComponentFile:
    """The file as of the end of a day. ``component`` comes with ``WITH_HISTORY`` and traffic.

    Refused, with the reason, where no tonnage is known of it.
    """
    lives, unknown = lives_of([component, *like_components(component)], on)
    if component.pk in unknown:
        raise Refused(unknown[component.pk])
    life = lives.pop(component.pk)
    like = list(lives.values())
    turnout = standing_at(component)
    limits = wear_limits([(component, turnout)], on)[component.pk] if turnout else []
    return ComponentFile(
        component=component,
        on=on,
        turnout=turnout,
        life=life,
        like=len(like),
        measured=tuple(_measured(life, place, like, limits, on) for place in _places(life)),
        recurrence=_recurrence(life, like, on),
        hints=hints_for(facts_of(life, turnout, limits, on), on),
    )


def with_history(rows: QuerySet[Component]) -> QuerySet[Component]:
    """The rows with all that a clock is read from."""
    return rows.prefetch_related(*WITH_HISTORY, "installations__turnout__traffic")


def like_components(component: Component) -> QuerySet[Component]:
    """Others of its kind, design and steel that have stood in track; a lot, the same every day."""
    rows = Component.objects.filter(
        kind=component.kind, design=component.design, steel=component.steel
    ).exclude(pk=component.pk)
    stood = rows.filter(pk__in=Installation.objects.values("component"))
    lot = MD5(Concat(Value(component.kind), F("serial")))
    return with_history(stood).order_by(lot)[:LIKE_COMPONENTS]


def standing_at(component: Component) -> Turnout | None:
    """The turnout it stands in now, from prefetched installations."""
    stays = (s for s in component.installations.all() if s.removed_on is None)
    return next((stay.turnout for stay in stays), None)


def end_of(life: Life, on: date) -> float:
    """MGT by the end of a day."""
    mgt = life.clock.at(on + timedelta(days=1))
    return life.clock.mgts[0] if mgt is None else mgt


def _places(life: Life) -> list[Place]:
    return sorted(life.readings, key=lambda p: (p[0].value, p[1], p[2] is not None, p[2] or 0))


def _measured(
    life: Life, place: Place, like: Sequence[Life], limits: Sequence[WearLimit], on: date
) -> Measured:
    *earlier, run = life.runs(place)
    taken = life.readings[place]
    here = [limit for limit in limits if limit.quantity is place[0]]
    others = (run for one in like if place in one.readings for run in one.runs(place))
    beside = [run for run in (*earlier, *others) if run.readings]
    moving = life.clock.mgt_a_year > 0
    wear = wear_of(
        run,
        beside,
        [Limit(float(one.mm), not one.least, one.clause) for one in here] if moving else [],
        Now(end_of(life, on), on, life.clock.mgt_a_year),
        least_sd=max(float(median(one.uncertainty for one in taken)) / 2, LEAST_SD_MM),
    )
    present = [one for one in taken if one.mgt >= run.began_mgt]
    return Measured(place, wear, run, present, sum(bool(r.readings) for r in earlier), here)


def _recurrence(life: Life, like: Sequence[Life], on: date) -> Recurrence | NotEnough:
    begins = records_begin()
    own = life.history(begins, on)
    if own is None:
        return NotEnough(0, 1, "Not enough data: no tonnage has passed since the records began.")
    others = [history for one in like if (history := one.history(begins, on)) is not None]
    return Recurrence(
        own=mean_cumulative([own]),
        own_history=own,
        family=mean_cumulative([own, *others]) if others else None,
        law=_law(own),
        own_repairs=repair_lives(life, on),
        repairs=_lasting([r for one in [life, *like] for r in repair_lives(one, on)]),
    )


def _law(own: History) -> PowerLaw | NotEnough:
    try:
        return power_law([own])
    except ValueError as fault:
        return NotEnough(len(own.events_mgt), len(own.events_mgt) + 1, str(fault))


def _lasting(lives: Sequence[RepairLife]) -> LifeFit | NotEnough:
    try:
        return likelier(lives)
    except ValueError as fault:
        return NotEnough(len(lives), len(lives) + 1, str(fault))


def repair_lives(life: Life, on: date) -> tuple[RepairLife, ...]:
    """Tonnage from each repair of lost metal to the next such defect in its zone, or to today."""
    now = end_of(life, on)
    lost = [found for found in life.defects if found.fact.kind in METAL_LOST]
    by_zone: Mapping[str, list[float]] = {
        found.fact.zone: sorted(o.fact.mgt for o in lost if o.fact.zone is found.fact.zone)
        for found in lost
    }
    lives = []
    for found in lost:
        for repaired in found.repaired_mgt:
            again = next((mgt for mgt in by_zone[found.fact.zone] if mgt > repaired), None)
            lasted = (now if again is None else again) - repaired
            if lasted > 0:
                lives.append(RepairLife(lasted, again is not None))
    return tuple(lives)
