"""The week drawn: track time is the ground, jobs sit in it, crews are threads through it.

Everything is in the units of the drawing's own box; the template only writes it out.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils import timezone

from planning.models import PlannedJob, WorkWindow
from planning.services.places import Offer

WIDTH = 1000
LEFT = 215  # where the hours begin; the names of the tracks stand before it
TOP = 26
ROW, BAR = 54, 38
INSET = 3  # between a bar and the jobs in it
FREE_ROW, FREE_BAR = 30, 20  # track time that nobody uses takes less of the page
LEAST_JOB = 4
CHANCE_ROOM = 90  # what the words "over 99.9 %" need behind the last job


@dataclass(frozen=True)
class Hour:
    x: float
    words: str


@dataclass(frozen=True)
class JobMark:
    """One placed job on its ground."""

    placed: PlannedJob
    x: float
    y: float
    width: float
    height: float
    middle: float
    thread: int
    tight: bool

    @property
    def name_y(self) -> float:
        """Where the letters stand, so that they are in the middle of the job."""
        return round(self.y + self.height / 2 + 5, 1)


@dataclass(frozen=True)
class Ground:
    """One work window: the track time that jobs sit in."""

    window: WorkWindow
    x: float
    y: float
    width: float
    height: float
    chance: float | None
    free: bool
    room: bool


@dataclass(frozen=True)
class Thread:
    """The way of one crew through the day, as the points of a line."""

    crew: str
    number: int
    points: str


@dataclass(frozen=True)
class Opening:
    """A place a job could go to, drawn as an empty frame that can be chosen."""

    number: int
    offer: Offer
    x: float
    y: float
    width: float
    height: float
    chosen: bool


@dataclass(frozen=True)
class Day:
    """One day of the week, ready to be drawn."""

    day: date
    hours: list[Hour]
    grounds: list[Ground]
    marks: list[JobMark]
    threads: list[Thread]
    openings: list[Opening]
    height: float


def week_picture(
    windows: Sequence[WorkWindow],
    placed: Sequence[PlannedJob],
    chances: dict[str, float],
    threads: dict[int, int],
    offers: Sequence[Offer] = (),
    chosen: int | None = None,
) -> list[Day]:
    """A day for each day with track time. ``threads`` numbers the crews by id.

    With ``offers`` only the days that have one are drawn, and the places with them.
    """
    by_day: dict[date, list[WorkWindow]] = defaultdict(list)
    for window in windows:
        by_day[timezone.localtime(window.starts_at).date()].append(window)
    drawings = [
        _Drawing(day, rows, placed, chances, threads, list(enumerate(offers)), chosen)
        for day, rows in sorted(by_day.items())
    ]
    return [one.day() for one in drawings if one.offers or not offers]


class _Drawing:
    """One day being drawn: the scale of its hours and the row of each window."""

    def __init__(
        self,
        day: date,
        windows: list[WorkWindow],
        placed: Sequence[PlannedJob],
        chances: dict[str, float],
        threads: dict[int, int],
        offers: list[tuple[int, Offer]],
        chosen: int | None,
    ) -> None:
        self.date = day
        self.windows = sorted(windows, key=lambda w: (str(w.track), w.starts_at))
        mine = {window.pk for window in windows}
        self.placed = sorted(
            (one for one in placed if one.window_id in mine), key=lambda one: one.starts_at
        )
        self.named = {window.reference: window for window in windows}
        self.offers = [(number, offer) for number, offer in offers if offer.window in self.named]
        self.chosen = chosen
        self.used = {one.window_id for one in self.placed}
        self.top, self.height = self._rows()
        self.chances = chances
        self.threads = threads
        starts = [w.starts_at for w in windows] + [one.leaves_at for one in self.placed]
        self.first = min(starts).replace(minute=0, second=0, microsecond=0)
        self.last = max([w.ends_at for w in windows] + [one.ends_at for one in self.placed])

    def day(self) -> Day:
        return Day(
            self.date,
            self._hours(),
            [self._ground(window) for window in self.windows],
            [self._mark(one) for one in self.placed],
            self._threads(),
            [self._opening(number, offer) for number, offer in self.offers],
            self.height,
        )

    def _rows(self) -> tuple[dict[int, float], float]:
        """Where the row of each window begins, and where the last one ends."""
        tops: dict[int, float] = {}
        y = float(TOP)
        for window in self.windows:
            tops[window.pk] = y
            y += ROW if window.pk in self.used else FREE_ROW
        return tops, y + 4

    def _x(self, at: datetime) -> float:
        whole = (self.last - self.first).total_seconds()
        return round(LEFT + (WIDTH - LEFT) * (at - self.first).total_seconds() / whole, 1)

    def _hours(self) -> list[Hour]:
        hours = int((self.last - self.first).total_seconds() // 3600)
        step = 1 if hours <= 12 else 2
        times = [self.first + timedelta(hours=n) for n in range(0, hours + 1, step)]
        return [Hour(self._x(at), f"{timezone.localtime(at):%H}") for at in times]

    def _ground(self, window: WorkWindow) -> Ground:
        x = self._x(window.starts_at)
        free = window.pk not in self.used
        width = round(self._x(window.ends_at) - x, 1)
        chance = None if free else self.chances.get(window.reference)
        height = FREE_BAR if free else BAR
        ends = [self._x(one.ends_at) for one in self.placed if one.window_id == window.pk]
        room = x + width - max(ends, default=0.0) > CHANCE_ROOM
        return Ground(window, x, self.top[window.pk], width, height, chance, free, room)

    def _mark(self, one: PlannedJob) -> JobMark:
        x = self._x(one.starts_at)
        width = max(round(self._x(one.ends_at) - x, 1), LEAST_JOB)
        y, height = self._lane(one)
        thread = self.threads[one.crew_id]
        return JobMark(one, x, y, width, height, round(x + width / 2, 1), thread, width < 60)

    def _opening(self, number: int, offer: Offer) -> Opening:
        window = self.named[offer.window]
        x = self._x(offer.starts_at)
        width = max(round(self._x(offer.ends_at) - x, 1), LEAST_JOB)
        height = FREE_BAR if window.pk not in self.used else BAR
        top = self.top[window.pk]
        return Opening(number, offer, x, top, width, height, number == self.chosen)

    def _lane(self, one: PlannedJob) -> tuple[float, float]:
        """Top and height of a job in its bar; gangs that share a window each have a lane."""
        gangs = sorted({p.crew_id for p in self.placed if p.window_id == one.window_id})
        height = (BAR - 2 * INSET) / len(gangs)
        return round(self.top[one.window_id] + INSET + height * gangs.index(one.crew_id), 1), height

    def _threads(self) -> list[Thread]:
        stops: dict[int, list[PlannedJob]] = defaultdict(list)
        for one in self.placed:
            stops[one.crew_id].append(one)
        return [
            Thread(jobs[0].crew.name, self.threads[crew], self._line(jobs))
            for crew, jobs in sorted(stops.items())
        ]

    def _line(self, jobs: list[PlannedJob]) -> str:
        """From leaving the base through each job, in the middle of its bar."""
        points = []
        for one in jobs:
            top, height = self._lane(one)
            y = round(top + height / 2, 1)
            points += [(self._x(one.leaves_at), y), (self._x(one.starts_at), y)]
            points.append((self._x(one.ends_at), y))
        return " ".join(f"{x},{y}" for x, y in points)
