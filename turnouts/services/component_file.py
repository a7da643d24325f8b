"""The file of one component: how it wears, how often it fails, why perhaps, and what repairs last.

What its like have in common (same kind, design and steel) is worked out at night; only its own
record is read for a page, and set beside that.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.hints.hints import Hints, hints_for
from turnouts.analysis.recurrence.histories import History
from turnouts.analysis.recurrence.lives import Life as RepairLife
from turnouts.analysis.recurrence.lives import LifeFit
from turnouts.analysis.recurrence.mean_cumulative import MeanCumulative
from turnouts.analysis.recurrence.power_law import PowerLaw, power_law
from turnouts.analysis.showing import METRIC, UnitPreference
from turnouts.analysis.wear.limits import Limit
from turnouts.analysis.wear.runs import Run
from turnouts.analysis.wear.wear import Now, Wear, wear_of
from turnouts.models import Component, ComponentRank, Turnout
from turnouts.services.component_rows import Life, Place, Taken, lives_of, records_begin
from turnouts.services.errors import Refused
from turnouts.services.family_figures import Figures, figures_of, least_sd_of
from turnouts.services.hint_facts import facts_of
from turnouts.services.repair_lives import end_of, repair_lives
from turnouts.wear_limits import WearLimit, wear_limits

WITH_HISTORY = ("installations__turnout__track__line__territory", "shop_visits")

NO_FAMILY = NotEnough(0, 1, "What its like have in common has not been worked out yet.")


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

    own_history: History
    family: MeanCumulative | None
    law: PowerLaw | NotEnough
    own_repairs: tuple[RepairLife, ...]
    repairs: LifeFit | NotEnough


@dataclass(frozen=True)
class Ranked:
    """Its place among the ranked of its family, the surest to be worse than its like first."""

    row: ComponentRank
    place: int
    of: int


@dataclass(frozen=True)
class ComponentFile:
    """All of it. ``recurrence`` is a sentence where no tonnage has passed since records began.

    ``family`` and ``rank`` are as the last night worked them out, or nothing before the first.
    """

    component: Component
    on: date
    turnout: Turnout | None
    life: Life
    family: Figures | None
    rank: Ranked | None
    measured: tuple[Measured, ...]
    recurrence: Recurrence | NotEnough
    hints: Hints


def component_file(component: Component, on: date, units: UnitPreference = METRIC) -> ComponentFile:
    """The file as of the end of a day. ``component`` comes with ``WITH_HISTORY`` and traffic.

    ``units`` are the reader's, for what hints found.
    Refused, with the reason, where no tonnage is known of it.
    """
    lives, unknown = lives_of([component], on)
    if component.pk in unknown:
        raise Refused(unknown[component.pk])
    life = lives[component.pk]
    family = figures_of(component)
    turnout = standing_at(component)
    limits = wear_limits([(component, turnout)], on)[component.pk] if turnout else []
    return ComponentFile(
        component=component,
        on=on,
        turnout=turnout,
        life=life,
        family=family,
        rank=_ranked(component),
        measured=tuple(_measured(life, place, family, limits, on) for place in _places(life)),
        recurrence=_recurrence(life, family, on),
        hints=hints_for(facts_of(life, turnout, limits, on), on, units),
    )


def with_history(rows: QuerySet[Component]) -> QuerySet[Component]:
    """The rows with all that a clock is read from."""
    return rows.prefetch_related(*WITH_HISTORY, "installations__turnout__traffic")


def standing_at(component: Component) -> Turnout | None:
    """The turnout it stands in now, from prefetched installations."""
    stays = (s for s in component.installations.all() if s.removed_on is None)
    return next((stay.turnout for stay in stays), None)


def _ranked(component: Component) -> Ranked | None:
    mine = ComponentRank.objects.filter(component=component)
    family = ComponentRank.objects.filter(family__in=mine.values("family"))
    order = list(family.values_list("component_id", flat=True))
    row = mine.first()
    return None if row is None else Ranked(row, order.index(component.pk) + 1, len(order))


def _places(life: Life) -> list[Place]:
    return sorted(life.readings, key=lambda p: (p[0].value, p[1], p[2] is not None, p[2] or 0))


def _measured(
    life: Life, place: Place, family: Figures | None, limits: Sequence[WearLimit], on: date
) -> Measured:
    *earlier, run = life.runs(place)
    taken = life.readings[place]
    here = [limit for limit in limits if limit.quantity is place[0]]
    moving = life.clock.mgt_a_year > 0
    wear = wear_of(
        run,
        NO_FAMILY if family is None else family.wear.get(place, NO_FAMILY),
        [Limit(float(one.mm), not one.least, one.clause) for one in here] if moving else [],
        Now(end_of(life, on), on, life.clock.mgt_a_year),
        least_sd=least_sd_of(taken),
    )
    present = [one for one in taken if one.mgt >= run.began_mgt]
    return Measured(place, wear, run, present, sum(bool(r.readings) for r in earlier), here)


def _recurrence(life: Life, family: Figures | None, on: date) -> Recurrence | NotEnough:
    own = life.history(records_begin(), on)
    if own is None:
        return NotEnough(0, 1, "Not enough data: no tonnage has passed since the records began.")
    alone = family is None or family.components < 2
    return Recurrence(
        own_history=own,
        family=None if alone or family is None else family.mean,
        law=_law(own),
        own_repairs=repair_lives(life, on),
        repairs=NO_FAMILY if family is None else family.lasting,
    )


def _law(own: History) -> PowerLaw | NotEnough:
    try:
        return power_law([own])
    except ValueError as fault:
        return NotEnough(len(own.events_mgt), len(own.events_mgt) + 1, str(fault))
