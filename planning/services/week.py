"""From rows to the problem the solver reads: a territory's week with all its crews and jobs."""

from collections import defaultdict
from collections.abc import Mapping
from datetime import date

from django.db.models import Q, Sum

from planning.models import PlannedJob, Road, Stock, Truck, WorkWindow
from planning.services.calendar import DAYS, Week
from planning.services.crew_days import LOOKOUT, crews_in, least_rest_min
from planning.services.holding import Held
from planning.services.job_orders import in_order
from planning.services.material_orders import arrivals
from planning.services.parts import not_elsewhere, tied
from planning.services.set_ups import set_up_of, sites_in, working_time
from planning.solver import problem as p
from planning.solver.choices import choice
from planning.solver.set_up import without
from planning.solver.travel import Link, Place, Roads
from repairs.models import Estimate, RepairJob
from repairs.services.estimates import material_use
from turnouts.models import Territory, Track

TRAINS_RUN = frozenset({"train_approach_warning"})
"""Forms of protection under which trains keep their way: no work may open the track."""

NEEDED_UNDER = {"train_approach_warning": frozenset({LOOKOUT})}
"""What a form of protection asks of the gang besides: watchmen or lookouts, 49 CFR 214.329."""

ALWAYS_NEEDED = "employee_in_charge"
"""Somebody of every gang is in charge of the track time: common practice and 49 CFR 214.321."""


def week_problem(territory: Territory, week: Week, held: Held | None = None) -> p.Problem:
    """The week as the solver sees it: ids are the rows' own references and codes.

    ``held`` are the jobs that stay where they are; those whose work has begun come in besides the
    ones that wait. Nothing else begins before ``held.since``.
    """
    monday = week.monday
    held = held or Held()
    jobs = [*jobs_to_place(territory, week), *_started(held)]
    crews = crews_in(territory, week, held)
    windows = _open_windows(territory, week, held)
    closed = frozenset(row.reference for row in windows if row.protection not in TRAINS_RUN)
    setup, sites = set_up_of([_estimate(job) for job in jobs]), sites_in(territory, monday)
    made = [_job(job, week, held, setup, sites, closed) for job in jobs]
    track_time = tuple(_window(row, week) for row in windows)
    stock = _depot_stock(territory)
    return p.Problem(
        jobs=in_order(tied(jobs, made, track_time), week),
        windows=track_time,
        crews=crews,
        trucks=_trucks(territory, crews),
        roads=_roads(territory, choice("road_speed", monday)),
        days=DAYS,
        tracks=_tracks(territory, crews),
        depot_stock=stock,
        arrives=_scarce(arrivals(territory, week), stock, made),
        item_kg=_item_kg(jobs),
        setup=setup,
        rest_min=least_rest_min(monday),
        chance=choice("hand_back_chance", monday),
        late_share=choice("late_share", monday),
    )


def jobs_to_place(territory: Territory, week: Week) -> list[RepairJob]:
    """Jobs that wait for track time: not in work, and not placed in another published week."""
    elsewhere = PlannedJob.objects.filter(live=True).exclude(plan__week=week.monday)
    waiting = RepairJob.objects.with_place().filter(
        turnout__track__line__territory=territory, state__in=["estimated", "issued"]
    )
    rows = not_elsewhere(waiting, elsewhere.values("job")).order_by("reference")
    estimates = {e.job_id: e for e in Estimate.objects.filter(current=True, job__in=rows)}
    jobs = [job for job in rows if job.pk in estimates]
    for job in jobs:
        job.present_estimate = estimates[job.pk]  # type: ignore[attr-defined]
    return jobs


def windows_in(territory: Territory, week: Week) -> list[WorkWindow]:
    """Track time that begins in the week."""
    rows = WorkWindow.objects.filter(
        track__line__territory=territory, starts_at__gte=week.start, starts_at__lt=week.end
    )
    return list(rows.select_related("track__line"))


def _open_windows(territory: Territory, week: Week, held: Held) -> list[WorkWindow]:
    """Track time that is not past, and what is held in track time that is."""
    needed = {lock.window for lock in held.locks.values()}
    since = week.moment(held.since)
    rows = windows_in(territory, week)
    return [row for row in rows if row.ends_at > since or row.reference in needed]


def _started(held: Held) -> list[RepairJob]:
    for reference, job in held.started.items():
        job.present_estimate = held.estimates[reference]  # type: ignore[attr-defined]
    return list(held.started.values())


def _estimate(job: RepairJob) -> Estimate:
    found: Estimate = job.present_estimate  # type: ignore[attr-defined]
    return found


def _job(
    job: RepairJob,
    week: Week,
    held: Held,
    setup: p.Duration | None,
    sites: Mapping[str, str],
    closed: frozenset[str],
) -> p.Job:
    estimate = _estimate(job)
    whole = working_time(estimate)
    lock = held.locks.get(job.reference)
    turnout = job.turnout
    return p.Job(
        id=job.reference,
        turnout=turnout.code,
        place=Place(turnout.track.line.code, float(turnout.chainage_m)),
        track=turnout.track.name,
        work=whole if setup is None else without(whole, setup),
        value=_value_by_day(float(job.value_per_day), week.monday),
        needs=frozenset({job.procedure, ALWAYS_NEEDED}),
        due_min=_due_minute(job.due_on, week),
        earliest_min=0 if lock else held.since,
        material=material_use(estimate),
        lock=lock,
        windows=closed if lock is None and opens_the_track(estimate) else None,
        site=sites.get(turnout.code, ""),
    )


def opens_the_track(estimate: Estimate) -> bool:
    """Whether there is a stage after which trains could not run."""
    return any(stage["hand_back"] in ("never", "closed") for stage in estimate.detail["stages"])


def _value_by_day(per_day: float, monday: date) -> tuple[float, ...]:
    """What a repair saves from the day it is done until the end of the time counted.

    A job that saves nothing yet is still worth a little, or it would never be placed.
    """
    counted = choice("benefit_days", monday)
    return tuple(round(max(per_day, 1.0) * (counted - day), 2) for day in range(DAYS))


def _due_minute(due_on: date | None, week: Week) -> int | None:
    """The end of the due day; a due day before this week is past from its first minute."""
    if due_on is None:
        return None
    return max(0, ((due_on - week.monday).days + 1) * p.MINUTES_A_DAY)


def _window(row: WorkWindow, week: Week) -> p.Window:
    return p.Window(
        id=row.reference,
        line=row.track.line.code,
        track=row.track.name,
        from_m=float(row.from_m),
        to_m=float(row.to_m),
        start_min=week.minute(row.starts_at),
        end_min=week.minute(row.ends_at),
        protection=row.protection,
        gangs=row.gangs,
        needs=NEEDED_UNDER.get(row.protection, frozenset()),
    )


def _trucks(territory: Territory, crews: tuple[p.Crew, ...]) -> tuple[p.Truck, ...]:
    """The own trucks with what is on them, and those of lent crews, empty: what is on a lent truck
    is counted where it comes from, so here it draws all it needs from the depots."""
    own = Truck.objects.filter(depot__territory=territory).prefetch_related("stock")
    lent = Truck.objects.filter(code__in=[crew.truck for crew in crews if crew.truck])
    return tuple(
        p.Truck(
            row.code,
            float(row.capacity_kg),
            {s.material: float(s.quantity) for s in row.stock.all()},
        )
        for row in own
    ) + tuple(
        p.Truck(row.code, float(row.capacity_kg), {})
        for row in lent.exclude(depot__territory=territory)
    )


def _depot_stock(territory: Territory) -> dict[str, float]:
    """What all depots of the territory hold together; trucks may draw at any of them."""
    rows = Stock.objects.filter(depot__territory=territory).values_list("material")
    return {material: float(total) for material, total in rows.annotate(Sum("quantity"))}


def _scarce(arrives: dict[str, int], stock: dict[str, float], jobs: list[p.Job]) -> dict[str, int]:
    """Of what can be ordered, the materials that all jobs together could use up."""
    return {
        item: day
        for item, day in arrives.items()
        if sum(job.material.get(item, 0.0) for job in jobs) > stock.get(item, 0.0)
    }


def _item_kg(jobs: list[RepairJob]) -> dict[str, float]:
    """The mass of one unit of each material, from the estimates that use it."""
    masses: dict[str, float] = {}
    for job in jobs:
        for material in _estimate(job).detail["materials"]:
            if material["load_out"] > 0:
                masses[material["key"]] = material["mass_kg"] / material["load_out"]
    return masses


def _roads(territory: Territory, speed_kmh: float) -> Roads:
    rows = Road.objects.filter(
        Q(from_line__territory=territory) | Q(to_line__territory=territory)
    ).select_related("from_line", "to_line")
    return Roads(
        speed_kmh,
        tuple(
            Link(
                Place(row.from_line.code, float(row.from_m)),
                Place(row.to_line.code, float(row.to_m)),
                float(row.minutes),
            )
            for row in rows
        ),
    )


def _tracks(territory: Territory, crews: tuple[p.Crew, ...]) -> dict[str, frozenset[str]]:
    """The tracks of each line of the territory, and the lines that lent crews are based on."""
    names: dict[str, set[str]] = defaultdict(set)
    for track in Track.objects.filter(line__territory=territory).select_related("line"):
        names[track.line.code].add(track.name)
    for crew in crews:
        names[crew.base.line] |= set()
    return {line: frozenset(found) for line, found in names.items()}
