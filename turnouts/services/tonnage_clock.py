"""The tonnage over a component at any moment, quick enough to be asked for every reading.

The analysis works in floating point; where a figure is kept or shown exactly, ``tonnage`` answers.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise

from django.utils import timezone

from turnouts.analysis.terms import Hand, Position, Route
from turnouts.analysis.tonnage import DAYS_IN_YEAR, routes_over
from turnouts.models import Component, Installation
from turnouts.services.errors import Refused

_YEAR = float(DAYS_IN_YEAR)


@dataclass(frozen=True)
class Clock:
    """Corners of the tonnage over time: days (as ordinals, hours as fractions) and MGT there.

    ``known_from`` is the first day from which it is known; ``mgt_a_year`` what passes now.
    """

    days: tuple[float, ...]
    mgts: tuple[float, ...]
    mgt_a_year: float

    @property
    def known_from(self) -> date:
        return date.fromordinal(int(self.days[0]))

    def at(self, moment: date | datetime) -> float | None:
        """MGT by then; ``None`` before it is known. After the last corner as now."""
        day = ordinal(moment)
        if day < self.days[0]:
            return None
        place = bisect_right(self.days, day) - 1
        if place == len(self.days) - 1:
            return self.mgts[-1] + self.mgt_a_year * (day - self.days[-1]) / _YEAR
        share = (day - self.days[place]) / (self.days[place + 1] - self.days[place])
        return self.mgts[place] + share * (self.mgts[place + 1] - self.mgts[place])

    def when(self, mgt: float) -> datetime | None:
        """The first moment by which so much had passed; ``None`` outside what is known."""
        if not self.mgts[0] <= mgt:
            return None
        place = bisect_left(self.mgts, mgt)
        if place == len(self.mgts):
            if self.mgt_a_year <= 0:
                return None
            return _moment(self.days[-1] + (mgt - self.mgts[-1]) / self.mgt_a_year * _YEAR)
        if place == 0:
            return _moment(self.days[0])
        risen = self.mgts[place] - self.mgts[place - 1]
        share = (mgt - self.mgts[place - 1]) / risen
        before = self.days[place - 1]
        return _moment(before + share * (self.days[place] - before))


def _moment(day: float) -> datetime | None:
    """A day as its number as a moment; ``None`` beyond the calendar."""
    if day >= date.max.toordinal():
        return None
    start = datetime.combine(date.fromordinal(int(day)), datetime.min.time())
    return timezone.make_aware(start + timedelta(days=day - int(day)))


def ordinal(moment: date | datetime) -> float:
    """A day as its number, a moment with the part of its day, in the railway's time."""
    if not isinstance(moment, datetime):
        return float(moment.toordinal())
    here = timezone.localtime(moment)
    return here.toordinal() + (here.hour * 3600 + here.minute * 60 + here.second) / 86400


def clock_of(component: Component) -> Clock:
    """The component's clock, from ``installations`` with turnout and traffic (prefetch them).

    Refused, with the reason, where it never stood in track or no tonnage is known of its stays.
    """
    stays = sorted(component.installations.all(), key=lambda stay: stay.installed_on)
    corners: list[tuple[float, float]] = []
    for stay in stays:
        corners += [corner for corner in _corners(stay) if not corners or corner > corners[-1]]
    if not corners:
        raise Refused(f"{component.serial}: no tonnage is known; it needs a stay and its traffic.")
    rate = _rate_now(stays[-1])
    _check_rising(component, corners)
    days, mgts = zip(*corners, strict=True)
    return Clock(days, mgts, rate)


def _corners(stay: Installation) -> Iterable[tuple[float, float]]:
    """Day and MGT at each change of traffic during a stay."""
    start, mgt = stay.installed_on.toordinal(), float(stay.mgt_at_installation)
    if stay.removed_on is not None and stay.mgt_at_removal is not None:
        yield float(start), mgt
        yield float(stay.removed_on.toordinal()), float(stay.mgt_at_removal)
        return
    changes = _changes(stay)
    end = float("inf") if stay.removed_on is None else float(stay.removed_on.toordinal())
    for (day, rate), (following, _) in pairwise([*changes, (end, 0.0)]):
        if following <= start or day >= end:
            continue
        begin, stop = max(day, float(start)), min(following, end)
        yield begin, mgt
        if stop != float("inf"):
            mgt += rate * (stop - begin) / _YEAR
            yield stop, mgt


def _changes(stay: Installation) -> list[tuple[float, float]]:
    """Days from which all routes over the part carry so much a year, the first known day first.

    A route without any row carries nothing.
    """
    over = routes_over(Position(stay.position), Hand(stay.turnout.hand))
    rows = [row for row in stay.turnout.traffic.all() if Route(row.route) in over]
    first = {row.route: min(r.since for r in rows if r.route == row.route) for row in rows}
    known_from = max(first.values(), default=None)
    days = sorted({max(row.since, known_from) for row in rows if known_from is not None})
    return [(float(day.toordinal()), _on(rows, day)) for day in days]


def _on(rows: list, day: date) -> float:  # type: ignore[type-arg]
    """The yearly tonnage of all routes on a day."""
    newest = {r.route: r for r in sorted(rows, key=lambda r: r.since) if r.since <= day}
    return float(sum(row.annual_mgt for row in newest.values()))


def _rate_now(stay: Installation) -> float:
    if stay.removed_on is not None:
        return 0.0
    changes = _changes(stay)
    return changes[-1][1] if changes else 0.0


def _check_rising(component: Component, corners: list[tuple[float, float]]) -> None:
    if any(later[1] < earlier[1] for earlier, later in pairwise(corners)):
        raise Refused(
            f"{component.serial}: its tonnage falls from one stay to the next; correct the tonnage "
            "at installation or removal."
        )
