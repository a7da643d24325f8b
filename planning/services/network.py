"""The whole network's week: one task a territory, and shared crews settled between them.

Every territory is planned with its own crews first. A shift of a shared crew that found no work at
home is then lent to the territory that left most money undone, if the crew can get there, and only
the territories that were lent a crew are planned again. No territory loses anything by it: what is
lent was idle. All steps are kept in the database and may be taken twice, so a worker that dies
takes no plan with it.
"""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime

from celery import current_app
from django.db import transaction
from django.db.models import F, Q

from planning.models import CrewLoan, LeftOut, PlannedJob, Road, Shift, WeekPlan
from planning.services.calendar import Week
from planning.services.plans import request_plan, to_keep
from planning.services.stopping import NETWORK, stop_of
from turnouts.access import Action, require, visible
from turnouts.models import LongRun, Person, Territory
from turnouts.services.runs import start_run

TASK = "planning.network"


def request_network(
    *,
    by: Person,
    week: Week,
    request_key: str,
    seconds: float | None = None,
    as_of: datetime | None = None,
    keep: bool = False,
) -> tuple[LongRun, bool]:
    """Queue the planning of a week in every territory this person may plan.

    ``seconds`` is how long each territory may take instead of the railway's own choice; ``as_of``
    the moment that all are planned for, without it the one at which each planning begins. With
    ``keep`` each published plan is kept as far as it pays; a territory without one is planned
    freely.
    """
    require(by, Action.PLAN)
    codes = [t.code for t in visible(by, Territory.objects.order_by("code"), Action.PLAN)]
    asked = {
        "week": week.monday.isoformat(),
        "territories": codes,
        "seconds": seconds,
        "as_of": as_of.isoformat() if as_of else None,
        "keep": keep,
    }
    return start_run(kind=NETWORK, request_key=request_key, by=by, asked=asked, task=TASK)


@transaction.atomic
def step(*, run_id: int, at: datetime) -> LongRun:
    """Take the network's planning as far as it can go now; taking a step twice does no harm.

    Called when the run begins and whenever a territory of it has been planned.
    """
    run = LongRun.objects.select_for_update().get(pk=run_id)
    if run.finished:
        return run
    week = Week(date.fromisoformat(run.asked["week"]))
    first = [_part(run, week, code, 1) for code in run.asked["territories"]]
    if not all(part.finished for part in first):
        return _mark(run, "running", at, first)
    if "lent" not in run.result:
        run.result = {"lent": {} if stop_of(run) else _settle(run, week, first)}
        run.save(update_fields=["result"])
    again = [_part(run, week, code, 2) for code in sorted(set(run.result["lent"].values()))]
    done = all(part.finished for part in again)
    return _mark(run, "done" if done else "running", at, [*first, *again])


def _part(run: LongRun, week: Week, code: str, number: int) -> LongRun:
    """The run that plans one territory of the network, queued when it is new."""
    territory = Territory.objects.get(code=code)
    part, _ = request_plan(
        by=run.requested_by,
        territory=territory,
        week=week,
        request_key=f"network {run.pk} {code} {number}",
        network=run,
        seconds=run.asked["seconds"],
        as_of=datetime.fromisoformat(run.asked["as_of"]) if run.asked.get("as_of") else None,
        keep=bool(run.asked.get("keep")) and to_keep(territory, week, None) is not None,
    )
    return part


def _mark(run: LongRun, state: str, at: datetime, parts: list[LongRun]) -> LongRun:
    run.state, run.total = state, len(parts)
    run.done = sum(part.finished for part in parts)
    run.started_at = run.started_at or at
    if state == "done":
        failed = [part.asked["territory"] for part in parts if part.state == "failed"]
        plans = {p.asked["territory"]: p.result["plan"] for p in parts if p.state == "done"}
        stop = stop_of(run)
        stopped_by = str(stop.by) if stop else ""
        run.result |= {"plans": plans, "failed": failed, "stopped_by": stopped_by}
        run.finished_at = at
    run.save()
    return run


def _settle(run: LongRun, week: Week, parts: list[LongRun]) -> dict[str, str]:
    """Lend idle shifts of shared crews, each to where most is left undone; shift id to territory.

    A territory that was lent a shift is thought to have that much less undone: what the average
    worked shift brings there.
    """
    plans = [part.result["plan"] for part in parts if part.state == "done"]
    undone = _undone(plans)
    per_shift = _value_of_a_shift(plans)
    homes = _reachable()
    lent: dict[str, str] = {}
    for shift in _idle(week, plans):
        near = [code for code in undone if code in homes[shift.crew.depot.territory_id]]
        best = max(near, key=lambda code: undone[code], default=None)
        if best is None or undone[best] <= 0:
            continue
        CrewLoan.objects.get_or_create(
            shift=shift, defaults={"territory": Territory.objects.get(code=best)}
        )
        undone[best] -= per_shift
        lent[str(shift.pk)] = best
    return lent


def _undone(plans: Iterable[int]) -> dict[str, float]:
    """What the jobs left out in each territory would save a day."""
    found: dict[str, float] = defaultdict(float)
    rows = LeftOut.objects.filter(plan__in=plans).values_list(
        "plan__territory__code", "job__value_per_day"
    )
    for code, value in rows:
        found[code] += float(value)
    return dict(sorted(found.items()))


def _value_of_a_shift(plans: Iterable[int]) -> float:
    """What an average worked shift repairs, in savings a day."""
    rows = list(
        PlannedJob.objects.filter(plan__in=plans).values_list(
            "crew", "leaves_at__date", "job__value_per_day"
        )
    )
    shifts = {(crew, day) for crew, day, _ in rows}
    return sum(float(value) for _, _, value in rows) / len(shifts) if shifts else 0.0


def _idle(week: Week, plans: Iterable[int]) -> list[Shift]:
    """Shifts of shared crews in which no plan of the network gives them work."""
    worked = PlannedJob.objects.filter(
        plan__in=plans,
        starts_at__gte=F("crew__shifts__starts_at"),
        starts_at__lt=F("crew__shifts__ends_at"),
    ).values("crew__shifts")
    homes = WeekPlan.objects.filter(pk__in=plans).values("territory")
    rows = Shift.objects.filter(
        crew__shared=True,
        crew__depot__territory__in=homes,
        starts_at__gte=week.start,
        starts_at__lt=week.end,
        loan__isnull=True,
    ).exclude(pk__in=worked)
    return list(rows.select_related("crew__depot").order_by("starts_at", "pk"))


def _reachable() -> dict[int, set[str]]:
    """The territories a road leads to from each."""
    found: dict[int, set[str]] = defaultdict(set)
    apart = Road.objects.filter(~Q(from_line__territory=F("to_line__territory")))
    for road in apart.select_related("from_line__territory", "to_line__territory"):
        one, two = road.from_line.territory, road.to_line.territory
        found[one.pk].add(two.code)
        found[two.pk].add(one.code)
    return found


def tell_network(part: LongRun) -> None:
    """Queue the next step of the network that a territory's run belongs to."""
    network = part.asked.get("network")
    if network is not None:
        current_app.signature(TASK, args=(network,)).apply_async()
