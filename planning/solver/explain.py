"""Why a job is left out, and the single change that would let it in beside all the rest.

Each change is tried by putting the job into the plan as it stands, at every place of every crew's
day, with one thing eased: one window longer, one shift longer, one more qualified person on one
day, or material. Other jobs keep their crew, window and order; none is taken out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from planning.solver.plan import Change, LeftOut
from planning.solver.problem import MINUTES_A_DAY, Job
from planning.solver.ready import Ready
from planning.solver.rows import Rows
from planning.solver.search import Search
from planning.solver.shortage import Trial, trials
from planning.solver.stock import drawn_over, never_short, used
from planning.solver.timing import Route, follow, options_of

MOST_MIN = 480  # a longer window or shift is another shift or window, not a change to one
SHORT_MIN = 60  # up to this many minutes, more time is the smallest change; then stock, people


_NOT_LOOKED_FOR = Change(
    "none", "The time ran out before the smallest change was looked for; plan with more time."
)


def explain(
    ready: Ready, routes: Sequence[Route], jobs: Sequence[int], stop: Callable[[], bool]
) -> tuple[LeftOut, ...]:
    """For each of these jobs, none of them in the routes: the reason and the smallest change.

    Once `stop` holds, no more changes are looked for, and the answer for the other jobs says so.
    """
    present = _present(ready, routes)
    return tuple(
        LeftOut(_name(ready, job), _reason(ready, job), _NOT_LOOKED_FOR)
        if stop() and ready.windows_of[job]
        else _explained(ready, routes, present, job)
        for job in jobs
    )


def _explained(ready: Ready, routes: Sequence[Route], present: Search, job: int) -> LeftOut:
    one = ready.jobs[job]
    if not ready.windows_of[job]:
        return LeftOut(_name(ready, job), _no_window(ready, one), _new_window(ready, job))
    changes = [*_longer(ready, present, job), *_people(ready, routes, job)]
    changes += _longer_for_a_part(ready, routes, job)
    changes += _material(ready, routes, job)
    small = [change for change in changes if change.amount <= MOST_MIN or change.kind == "stock"]
    change = min(small, key=_size) if small else _none()
    return LeftOut(_name(ready, job), _reason(ready, job), change)


def _size(change: Change) -> tuple[int, float, str]:
    rank = {"stock": 1, "qualified": 2}.get(change.kind, 3)
    if change.kind in ("window", "overtime") and change.amount <= SHORT_MIN:
        rank = 0
    return rank, change.amount, change.what


def _longer(ready: Ready, present: Search, job: int) -> Iterator[Change]:
    """One window or one shift longer, all else as it is."""
    for trial in _allowed(ready, present, job):
        day = ready.crew_days[trial.route.day]
        if len(trial.windows) == 1 and trial.overtime == 0:
            [(w, minutes)] = trial.windows.items()
            name = ready.windows[w].id
            what = f"Window {name} longer by {minutes} min (crew {day.crew.id} would do it)."
            yield Change("window", what, minutes, day.crew.id, day.shift.day, window=name)
        elif not trial.windows and trial.overtime:
            what = (
                f"Crew {day.crew.id} working {trial.overtime} min longer on "
                f"day {day.shift.day + 1}."
            )
            yield Change("overtime", what, trial.overtime, day.crew.id, day.shift.day)


def _longer_for_a_part(ready: Ready, routes: Sequence[Route], job: int) -> Iterator[Change]:
    """One window or shift longer for one part of the job, its other parts put in as all is."""
    number = ready.group_of.get(job)
    if number is None:
        return
    group = ready.groups[number]
    for part in group.parts:
        present = _present(ready, routes)
        if part != job and present.take_in(group, without=part):
            yield from _longer(ready, present, part)


def _people(ready: Ready, routes: Sequence[Route], job: int) -> Iterator[Change]:
    """One more qualified person with one crew on one day: it must lack one qualification only."""
    asked = [ready.windows[w].needs for w in ready.windows_of[job]]
    needs = ready.jobs[job].needs.union(*asked)
    if all(needs <= day.holds for day in ready.crew_days):
        return
    eased = ready.with_job(job, replace(ready.jobs[job], needs=frozenset()))
    eased.windows = tuple(replace(window, needs=frozenset()) for window in ready.windows)
    for trial in _allowed(eased, _present(eased, routes), job):
        day = ready.crew_days[trial.route.day]
        there = next(step.window for step in trial.route.steps if step.job == job)
        lacking = (ready.jobs[job].needs | ready.windows[there].needs) - day.holds
        if len(lacking) == 1 and not trial.windows and not trial.overtime:
            what = (
                f"One more person with {', '.join(lacking)} in crew {day.crew.id} on "
                f"day {day.shift.day + 1}."
            )
            yield Change("qualified", what, 1, day.crew.id, day.shift.day)


def _material(ready: Ready, routes: Sequence[Route], job: int) -> Iterator[Change]:
    """More of one item at the depot, where nothing but material stands in the way."""
    if never_short(ready):
        return
    eased = ready.with_job(job, replace(ready.jobs[job], material={}))
    for trial in _allowed(eased, _present(eased, routes), job):
        day = ready.crew_days[trial.route.day]
        if trial.windows or trial.overtime or day.crew.truck is None:
            continue
        others = [route for route in routes if route.day != trial.route.day]
        over, room = drawn_over(ready.problem, used(ready, [*others, trial.route]))
        if len(over) == 1 and room:
            [(item, amount)] = over.items()
            what = f"{amount:g} more of {item} at the depot (crew {day.crew.id} would do it)."
            yield Change("stock", what, amount, day.crew.id, day.shift.day, item)


def _present(ready: Ready, routes: Sequence[Route]) -> Search:
    """The plan as it stands, ready to be tried on."""
    search = Search(ready, Rows(ready), 0)
    search.load(_again(ready, routes))
    return search


def _allowed(ready: Ready, present: Search, job: int) -> Iterator[Trial]:
    """The ways to put the job in that keep every rule between crews."""
    for number in range(len(ready.crew_days)):
        for trial in trials(ready, present.routes[number], job):
            if present.fits(trial.route):
                yield trial


def _again(ready: Ready, routes: Sequence[Route]) -> Iterator[Route]:
    """The same routes with this week's marks for the options."""
    for route in routes:
        again = follow(ready, ready.crew_days[route.day], options_of(ready, route))
        if again is not None:
            yield again


def _name(ready: Ready, job: int) -> str:
    """The job's id; of a part that of the whole."""
    return ready.jobs[job].part_of or ready.jobs[job].id


def _reason(ready: Ready, job: int) -> str:
    number = ready.group_of.get(job)
    return _why(ready, job) + ("" if number is None else _why_not_in_parts(ready, number))


def _why_not_in_parts(ready: Ready, number: int) -> str:
    parts = ready.groups[number].parts
    setups = int(ready.problem.setup is not None)
    minutes = " and ".join(f"{ready.needed(1 << part, setups)} min" for part in parts)
    return (
        f" Done in {len(parts)} parts it would need {minutes} in windows one after another, each "
        "with a crew that may do it; the week has no place for all of them."
    )


def _why(ready: Ready, job: int) -> str:
    one = ready.jobs[job]
    windows = [ready.windows[w] for w in ready.windows_of[job]]
    minutes = ready.needed(1 << job, int(ready.problem.setup is not None))
    longest = max(w.end_min - max(w.start_min, one.earliest_min) for w in windows)
    percent = f"{100 * ready.problem.chance:g} %"
    if minutes > longest:
        return (
            f"It needs {minutes} min to be handed back in time with {percent} chance; the longest "
            f"window at its turnout has {max(0, longest)} min."
        )
    if not any(one.needs <= day.holds for day in ready.crew_days):
        return f"No crew holds all it needs on any day: {', '.join(sorted(one.needs))}."
    guarded = [one.needs | window.needs for window in windows]
    if not any(needs <= day.holds for needs in guarded for day in ready.crew_days):
        asked = frozenset[str]().union(*(window.needs for window in windows)) - one.needs
        return (
            "The track time at its turnout asks for more than any crew that could do it holds: "
            f"{', '.join(sorted(asked))}."
        )
    if not any(ready.loose_options(day, job) for day in ready.crew_days):
        return "No crew with what it needs has a truck for its material and a road to the turnout."
    if not any(o.job == job for options in ready.options for o in options):
        return "No crew with what it needs is on shift long enough while the track is free."
    return "The track time and crews it could have are taken by work that together saves more."


def _no_window(ready: Ready, job: Job) -> str:
    where = f"line {job.place.line}, track {job.track}, {job.place.chainage_m:g} m"
    when = "in what is left of this week" if job.earliest_min else "this week"
    if any(window.reaches(job) for window in ready.windows):
        return (
            f"It may be done in no work window at its turnout {job.turnout} ({where}) {when}: its "
            "repair opens the track and trains run there, or a job that comes first has no place."
        )
    return f"No work window covers its turnout {job.turnout} ({where}) {when}."


def _new_window(ready: Ready, job: int) -> Change:
    minutes = ready.needed(1 << job, int(ready.problem.setup is not None))
    hours = f"{minutes} min" if minutes < MINUTES_A_DAY else f"{minutes / MINUTES_A_DAY:.1f} days"
    what = f"A work window of {hours} at the turnout while a crew with what it needs is on shift."
    return Change("window", what, minutes)


def _none() -> Change:
    return Change("none", "No single longer window or shift, person or stock would let it in.")
