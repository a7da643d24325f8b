"""The week as the solver sees it: jobs, work windows, crews, trucks and stock.

Every time is a whole number of minutes from the start of the plan (Monday 00:00). Places are a
line and a chainage in metres on it. Money is in whatever unit the caller's values are in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from planning.solver.travel import Place, Roads

MINUTES_A_DAY = 1440


class ProblemError(ValueError):
    """The problem cannot be planned as given; `faults` holds one sentence for each reason."""

    def __init__(self, faults: tuple[str, ...]) -> None:
        super().__init__(" ".join(faults))
        self.faults = faults


@dataclass(frozen=True, slots=True)
class Duration:
    """A working time: log-normal with this mean and standard deviation, both in minutes.

    `shared` (0 to 0.98) is the share of the variance of its logarithm that comes from what all the
    work of one crew on one day has in common (weather, machine, crew); the logarithms of two
    working times of one crew-day then have the correlation sqrt(shared_a * shared_b).
    """

    mean_min: float
    sd_min: float
    shared: float


@dataclass(frozen=True, slots=True)
class Lock:
    """This crew, in this work window, from this minute: may not be changed."""

    crew: str
    window: str
    start_min: int


@dataclass(frozen=True, slots=True)
class Job:
    """One repair at one turnout.

    `value` holds the money saved by doing it on each day of the plan; `due_min` is the end of the
    time the law allows; `after` names jobs that must be done before it; `needs` names the
    qualifications at least one of the crew must hold that day; `material` is what it uses up.
    `part_of` names the job that this one and others of that name do together, in their order, each
    in a window of its own; the job itself may be offered as well, and is then done whole or in all
    its parts (see `parts`). `zones` are what it repairs, so that no zone is done twice.
    `windows` are those it may be done in, of all that cover it; None: any. Turnouts of one `site`
    lie so near that one set-up serves them; empty: the turnout has its own.
    """

    id: str
    turnout: str
    place: Place
    track: str
    work: Duration
    value: tuple[float, ...]
    needs: frozenset[str] = frozenset()
    due_min: int | None = None
    earliest_min: int = 0
    after: tuple[str, ...] = ()
    material: Mapping[str, float] = field(default_factory=dict)
    lock: Lock | None = None
    part_of: str | None = None
    zones: frozenset[str] = frozenset()
    windows: frozenset[str] | None = None
    site: str = ""

    @property
    def set_up_at(self) -> str:
        """What a set-up is for: the site of its turnout, or the turnout alone."""
        return self.site or self.turnout


@dataclass(frozen=True, slots=True)
class Window:
    """Track time: one track of one line between two chainages, and how many gangs may work in it.

    The end is the minute of handing back. `protection` is the kind of protection, for reading;
    `needs` names what somebody of every crew that works in it must hold because of it.
    """

    id: str
    line: str
    track: str
    from_m: float
    to_m: float
    start_min: int
    end_min: int
    protection: str
    gangs: int
    needs: frozenset[str] = frozenset()

    def covers(self, job: Job) -> bool:
        """Whether it reaches the job's turnout, and the job may be done in it."""
        return self.reaches(job) and (job.windows is None or self.id in job.windows)

    def reaches(self, job: Job) -> bool:
        """Whether the job's turnout lies inside (both ends count as inside)."""
        return (self.line, self.track) == (
            job.place.line,
            job.track,
        ) and self.from_m <= job.place.chainage_m <= self.to_m


@dataclass(frozen=True, slots=True)
class Shift:
    """When a crew may be away from its base, overtime included; `day` counts from 0."""

    start_min: int
    end_min: int
    day: int


@dataclass(frozen=True, slots=True)
class Crew:
    """A crew, where it is based, when it works, and what its people together hold on each day."""

    id: str
    base: Place
    shifts: tuple[Shift, ...]
    holds: Mapping[int, frozenset[str]]
    truck: str | None
    size: int


@dataclass(frozen=True, slots=True)
class Truck:
    """A truck, the most it may carry, and the material on it at the start of the week."""

    id: str
    capacity_kg: float
    stock: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Former:
    """Where a former plan has a job: the crew, the day of its shift, the window, the begin."""

    crew: str
    day: int
    window: str
    start_min: int


@dataclass(frozen=True, slots=True)
class Keep:
    """A former plan, by job, and what each difference from it costs (in the unit of the values).

    A job costs `crew` when another crew does it, `day` on another day, `window` in another window
    and `begin` unless it begins there at the same minute, added up; left out it costs all four. A
    begin that is kept is a planned minute and holds nobody back: the crew starts when it can, as
    everywhere in a plan.
    """

    places: Mapping[str, Former]
    crew: float = 0.0
    day: float = 0.0
    window: float = 0.0
    begin: float = 0.0

    @property
    def all_changed(self) -> float:
        """What one job costs of which nothing is as it was."""
        return self.crew + self.day + self.window + self.begin


@dataclass(frozen=True, slots=True)
class Problem:
    """A week to plan.

    `tracks` lists the tracks of each line. `depot_stock` is shared by all trucks over the week;
    of an item in `arrives` more can be ordered, which lies there from that day of the plan on;
    `item_kg` is the mass of one unit of an item (an item not listed is measured in kg).
    `setup` is the time to set up at a turnout: once a visit, shared by jobs done there, or at the
    turnouts of its site, one after another in one window. `rest_min` is the least rest of a crew
    between two shifts. `chance` is the least chance of every visit to be finished at the end
    of its work window. A job planned to end after `due_min` counts `late_share` of its value.
    `keep` prices what differs from a former plan; crews and windows it names may be gone by now.
    """

    jobs: tuple[Job, ...]
    windows: tuple[Window, ...]
    crews: tuple[Crew, ...]
    trucks: tuple[Truck, ...]
    roads: Roads
    days: int
    tracks: Mapping[str, frozenset[str]]
    depot_stock: Mapping[str, float] = field(default_factory=dict)
    arrives: Mapping[str, int] = field(default_factory=dict)
    item_kg: Mapping[str, float] = field(default_factory=dict)
    setup: Duration | None = None
    rest_min: int = 0
    chance: float = 0.95
    late_share: float = 0.0
    keep: Keep | None = None
