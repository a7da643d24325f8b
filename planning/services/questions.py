"""What a supervisor may ask of a week: one change to its track time, crews, trucks or people.

A question says itself as the second half of a sentence that begins with "What if", and how the
week's problem would be with it. What has begun cannot be asked away.
"""

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from django.utils import timezone

from planning.services.calendar import Week
from planning.services.holding import Held
from planning.solver.problem import Crew, Job, Lock, Problem, Shift, Window
from turnouts.services.errors import Refused

NEW = "NEW"
"""The name of track time that is only asked about."""


def clock(week: Week, minute: int) -> str:
    return f"{timezone.localtime(week.moment(minute)):%a %H:%M}"


def day_names(days: Sequence[int]) -> str:
    """``Monday and Tuesday``; 0 is Monday."""
    names = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
    said = [names[day] for day in days]
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"


@dataclass(frozen=True, slots=True)
class AddWindow:
    """Track time that is not there yet; ``where`` names its track and mileposts.

    No trains run in it, so it suits also the jobs that need that.
    """

    window: Window
    where: str

    def words(self, week: Week) -> str:
        begin, end = clock(week, self.window.start_min), clock(week, self.window.end_min)
        return f"there were track time on {self.where} from {begin} to {end}"

    def put_to(self, problem: Problem) -> Problem:
        jobs = tuple(
            job if job.windows is None else replace(job, windows=job.windows | {self.window.id})
            for job in problem.jobs
        )
        return replace(problem, jobs=jobs, windows=(*problem.windows, self.window))


@dataclass(frozen=True, slots=True)
class MoveWindow:
    """A window that begins and ends so many minutes later; earlier where they are negative."""

    window: str
    begin_by: int
    end_by: int

    def words(self, week: Week) -> str:
        said = [
            f"{verb} {abs(by)} min {'later' if by > 0 else 'earlier'}"
            for verb, by in (("began", self.begin_by), ("ended", self.end_by))
            if by
        ]
        return f"window {self.window} {' and '.join(said)}"

    def put_to(self, problem: Problem) -> Problem:
        moved = tuple(
            replace(w, start_min=w.start_min + self.begin_by, end_min=w.end_min + self.end_by)
            if w.id == self.window
            else w
            for w in problem.windows
        )
        return replace(problem, windows=moved)


@dataclass(frozen=True, slots=True)
class CancelWindow:
    """A window that is taken away."""

    window: str

    def words(self, week: Week) -> str:
        return f"window {self.window} were cancelled"

    def put_to(self, problem: Problem) -> Problem:
        left = tuple(window for window in problem.windows if window.id != self.window)
        return replace(problem, windows=left)


@dataclass(frozen=True, slots=True)
class DropCrew:
    """A crew that does not come on some days, 0 for Monday."""

    crew: str
    days: tuple[int, ...]
    name: str

    def words(self, week: Week) -> str:
        return f"{self.name} did not come on {day_names(self.days)}"

    def put_to(self, problem: Problem) -> Problem:
        def without(crew: Crew) -> Crew:
            return replace(crew, shifts=tuple(s for s in crew.shifts if s.day not in self.days))

        return _crews(problem, {self.crew}, without)


@dataclass(frozen=True, slots=True)
class LateTruck:
    """A truck that comes so many minutes late on a day: its crew cannot leave the base before."""

    truck: str
    day: int
    minutes: int
    name: str

    def words(self, week: Week) -> str:
        return f"{self.name} came {self.minutes / 60:g} h late on {day_names([self.day])}"

    def put_to(self, problem: Problem) -> Problem:
        def later(crew: Crew) -> Crew:
            return replace(crew, shifts=tuple(self._later(crew.shifts)))

        crews = {crew.id for crew in problem.crews if crew.truck == self.truck}
        return _crews(problem, crews, later)

    def _later(self, shifts: Iterable[Shift]) -> Iterable[Shift]:
        for shift in shifts:
            start = shift.start_min + (self.minutes if shift.day == self.day else 0)
            if start < shift.end_min:
                yield replace(shift, start_min=start)


@dataclass(frozen=True, slots=True)
class MoreWelders:
    """One more person with this qualification in a crew on some days."""

    crew: str
    procedure: str
    days: tuple[int, ...]
    name: str

    def words(self, week: Week) -> str:
        what = self.procedure.replace("_", " ")
        days = day_names(self.days)
        return f"{self.name} had one more person qualified for {what} on {days}"

    def put_to(self, problem: Problem) -> Problem:
        def with_one(crew: Crew) -> Crew:
            more = {d: crew.holds.get(d, frozenset()) | {self.procedure} for d in self.days}
            return replace(crew, holds={**crew.holds, **more}, size=crew.size + 1)

        return _crews(problem, {self.crew}, with_one)


@dataclass(frozen=True, slots=True)
class FewerWelders:
    """One person of a crew who does not come on some days; ``left`` is what the others hold."""

    crew: str
    person: str
    days: tuple[int, ...]
    name: str
    left: tuple[tuple[int, frozenset[str]], ...]

    def words(self, week: Week) -> str:
        return f"{self.person} of {self.name} did not come on {day_names(self.days)}"

    def put_to(self, problem: Problem) -> Problem:
        def without(crew: Crew) -> Crew:
            return replace(crew, holds={**crew.holds, **dict(self.left)})

        return _crews(problem, {self.crew}, without)


Question = AddWindow | MoveWindow | CancelWindow | DropCrew | LateTruck | MoreWelders | FewerWelders


def _crews(problem: Problem, which: set[str], change: Callable[[Crew], Crew]) -> Problem:
    crews = tuple(change(crew) if crew.id in which else crew for crew in problem.crews)
    return replace(problem, crews=crews)


def asked_of(question: Question, problem: Problem, held: Held) -> tuple[Problem, tuple[str, ...]]:
    """The problem as it would be, and the jobs whose locks fall away because they cannot hold.

    Raises Refused when a job that has begun could not stay where it is.
    """
    changed = question.put_to(problem)
    broken = {job.id for job in changed.jobs if job.lock and not _holds(changed, job.lock, job)}
    begun = sorted(broken & set(held.started))
    if begun:
        raise Refused(
            f"Work on {', '.join(begun)} has begun there, and what has begun never moves. Ask "
            "about another window, crew or day."
        )
    return free(changed, broken, held.since), tuple(sorted(broken))


def free(problem: Problem, which: Collection[str], since: int) -> Problem:
    """The problem with these jobs locked no more; they begin no earlier than ``since``."""
    jobs = tuple(
        replace(job, lock=None, earliest_min=since) if job.id in which else job
        for job in problem.jobs
    )
    return replace(problem, jobs=jobs)


def _holds(problem: Problem, lock: Lock, job: Job) -> bool:
    window = next((w for w in problem.windows if w.id == lock.window), None)
    crew = next((c for c in problem.crews if c.id == lock.crew), None)
    if window is None or crew is None or not window.start_min <= lock.start_min < window.end_min:
        return False
    shift = next((s for s in crew.shifts if s.start_min <= lock.start_min < s.end_min), None)
    return shift is not None and job.needs <= crew.holds.get(shift.day, frozenset())
