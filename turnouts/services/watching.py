"""What the night watches: every length with a limit, and the day it is looked at again.

That is the next inspection on foot that the law or the local rule asks for (49 CFR 213.235), at
which somebody who is told to can measure it; where none is asked for, the day it is measured again
if it goes on as until now.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from statistics import median

from django.utils import timezone

from turnouts.analysis.early_warning import Watched
from turnouts.analysis.wear.limits import Limit
from turnouts.analysis.wear.runs import Run
from turnouts.inspections_wanted import Wanted, inspections_wanted_at_each
from turnouts.models import Turnout
from turnouts.services.component_file import standing_at
from turnouts.services.component_rows import Life, Place, Taken
from turnouts.wear_limits import WearLimit, wear_limits

ON_FOOT = "on_foot"
FIRST_LOOK_DAYS = 31
"""Days to the next look where nothing else says: the month of 49 CFR 213.235(a)."""


@dataclass(frozen=True)
class Series:
    """One watched length of one component with the limit it is held against.

    ``look_by`` is the clause that asks for the next look, or empty: then it is the usual gap.
    """

    life: Life
    turnout: Turnout
    place: Place
    taken: Sequence[Taken]
    limit: WearLimit
    began_mgt: float
    next_look_on: date
    look_by: str


def watch(
    lives: Sequence[Life], on: date
) -> tuple[dict[str, Series], list[Watched], list[tuple[str, Run]]]:
    """Every length with a limit, as the analysis watches it, and the finished runs of its like."""
    places = [(life, standing_at(life.component)) for life in lives]
    standing = [(life, turnout) for life, turnout in places if turnout is not None]
    limits = wear_limits([(life.component, turnout) for life, turnout in standing], on)
    wanted = inspections_wanted_at_each(list({t.pk: t for _, t in standing}.values()), on)
    series: dict[str, Series] = {}
    watched: list[Watched] = []
    past: list[tuple[str, Run]] = []
    for life, turnout in standing:
        by_quantity = defaultdict(list)
        for limit in limits.get(life.component.pk, []):
            by_quantity[limit.quantity].append(limit)
        for place, taken in life.readings.items():
            *earlier, run = life.runs(place)
            for limit in by_quantity[place[0]] if run.readings else []:
                last_read = timezone.localdate(taken[-1].at)
                look = _next_on_foot(wanted[turnout.pk], last_read) or (next_look(taken), "")
                one = Series(life, turnout, place, taken, limit, run.began_mgt, *look)
                key = f"{run.key}/{limit.clause}/{limit.mm}"
                family = f"{place[0]}/{place[1]}/{place[2]}/{limit.clause}"
                series[key] = one
                watched.append(_watch(one, Run(key, run.began_mgt, run.readings), family, on))
                past += [(family, gone) for gone in earlier if gone.readings]
    return series, watched, past


def _watch(one: Series, run: Run, family: str, on: date) -> Watched:
    clock = one.life.clock
    now = clock.at(on + timedelta(days=1)) or 0.0
    then = clock.at(max(one.next_look_on, on) + timedelta(days=1)) or 0.0
    limit = Limit(float(one.limit.mm), not one.limit.least, one.limit.clause)
    return Watched(run, family, limit, now, then)


def _next_on_foot(wanted: Sequence[Wanted], last_read: date) -> tuple[date, str] | None:
    """The day of the next inspection on foot that a rule asks for, and its clause.

    It may have passed already. One that is wanted before trains run, on track seldom used, has no
    day; a month from the last on foot is taken. Only on foot can a length be measured; nothing
    where no rule asks for such an inspection.
    """
    month = timedelta(days=FIRST_LOOK_DAYS)
    due = [
        (one.due_on or (one.last or last_read) + month, one.clause)
        for one in wanted
        if one.kind == ON_FOOT
    ]
    return min(due, default=None)


def next_look(taken: Sequence[Taken]) -> date:
    """The day it is measured again if it goes on as until now; it may have passed already."""
    days = sorted({timezone.localdate(one.at) for one in taken})
    gaps = [(later - earlier).days for earlier, later in pairwise(days)]
    return days[-1] + timedelta(days=int(median(gaps)) if gaps else FIRST_LOOK_DAYS)
