"""The lines of a territory with their turnouts, and what there is to know of each at a glance.

A number of queries that does not grow with the turnouts.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum

from django.db.models import Count, Max, Q

from turnouts.access import visible
from turnouts.analysis.life import OPEN_STATES
from turnouts.models import (
    ComponentRank,
    EarlyWarning,
    Line,
    Milepost,
    Person,
    Territory,
    Turnout,
)
from turnouts.what_holds import Held, held_at

SOON = timedelta(days=7)
"""How far ahead "due soon" looks (assumed: the week that is planned)."""


class Show(StrEnum):
    """What the reader wants to see picked out."""

    ALL = "all"
    RESTRICTED = "restricted"
    DUE = "due"
    REPEAT = "repeat"
    WARNED = "warned"

    @property
    def words(self) -> str:
        return {
            Show.ALL: "all turnouts",
            Show.RESTRICTED: "under a restriction",
            Show.DUE: f"due within {SOON.days} days or overdue",
            Show.REPEAT: "with a repeat offender",
            Show.WARNED: "with an early warning",
        }[self]


@dataclass(frozen=True)
class Spot:
    """One turnout on its line."""

    turnout: Turnout
    open_defects: int
    held: Held
    repeat_offenders: int
    warnings: int
    on: date

    @property
    def due_on(self) -> date | None:
        """The first day by which something is due, a repair or an inspection."""
        days = (self.held.repair_due, self.held.inspection_due)
        return min((day for day in days if day is not None), default=None)

    @property
    def due_soon(self) -> bool:
        return self.held.inspect_now or (self.due_on is not None and self.due_on <= self.on + SOON)

    def is_in(self, show: Show) -> bool:
        """Whether it belongs to what is picked out."""
        return {
            Show.ALL: True,
            Show.RESTRICTED: self.held.restricted,
            Show.DUE: self.due_soon,
            Show.REPEAT: self.repeat_offenders > 0,
            Show.WARNED: self.warnings > 0,
        }[show]


@dataclass(frozen=True)
class LineOverview:
    """One line with its posts (reading, metres along the line) and its turnouts in order."""

    line: Line
    posts: tuple[tuple[Decimal, Decimal], ...]
    spots: tuple[Spot, ...]


def overview_of(reader: Person, territory: Territory, on: date) -> list[LineOverview]:
    """The lines of one territory; nothing where the reader may not see it."""
    lines = list(visible(reader, Line.objects.filter(territory=territory)))
    posts: dict[int, list[tuple[Decimal, Decimal]]] = defaultdict(list)
    for pk, reading, chainage_m in (
        Milepost.objects.filter(line__in=lines)
        .order_by("chainage_m")
        .values_list("line_id", "reading", "chainage_m")
    ):
        posts[pk].append((reading, chainage_m))
    spots: dict[int, list[Spot]] = defaultdict(list)
    for spot in _spots(lines, on):
        spots[spot.turnout.track.line_id].append(spot)
    return [LineOverview(line, tuple(posts[line.pk]), tuple(spots[line.pk])) for line in lines]


def _spots(lines: Sequence[Line], on: date) -> list[Spot]:
    still_open = Q(defects__state__in=[state.value for state in OPEN_STATES])
    rows = (
        Turnout.objects.with_place()
        .filter(track__line__in=lines)
        .annotate(open_defects=Count("defects", still_open))
        .order_by("chainage_m", "code")
    )
    turnouts = list(rows)
    held = held_at(turnouts, on)
    ranks = ComponentRank.objects.filter(turnout__in=turnouts, repeat_offender=True)
    last = EarlyWarning.objects.aggregate(last=Max("stands_on"))["last"]
    warned = EarlyWarning.objects.filter(turnout__in=turnouts, stands_on=last)
    repeat, warnings = (
        dict(some.order_by().values_list("turnout").annotate(Count("pk")))
        for some in (ranks, warned)
    )
    return [
        Spot(
            turnout=row,
            open_defects=row.open_defects,  # type: ignore[attr-defined]
            held=held[row.pk],
            repeat_offenders=repeat.get(row.pk, 0),
            warnings=warnings.get(row.pk, 0),
            on=on,
        )
        for row in turnouts
    ]
