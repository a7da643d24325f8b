"""All territories' weeks on one page: plans, how planning them went, and which crews were lent."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, F, Q, QuerySet, Sum

from planning.models import CrewLoan, LeftOut, PlannedJob, WeekPlan
from planning.services.calendar import Week
from planning.services.stopping import KIND, NETWORK
from turnouts.access import Action, visible
from turnouts.models import LongRun, Person, Territory
from turnouts.services.runs import with_progress


@dataclass(frozen=True)
class TerritoryWeek:
    """One territory: its newest plan of the week, what is in it, and its part of the run."""

    territory: Territory
    plan: WeekPlan | None
    placed: int
    left_out: int
    late: int
    crew_hours: float
    undone_a_day: float
    part: LongRun | None

    @property
    def gap(self) -> float | None:
        return self.plan.detail["gap"] if self.plan else None

    @property
    def keeping_costs(self) -> float | None:
        """What the plan saves less for having kept to a former one; None where it was made freely.

        Both plannings had their time only, so the kept plan may even save more.
        """
        kept = self.plan.detail.get("stability") if self.plan else None
        return None if kept is None or self.plan is None else kept["free_value"] - self.plan.value


@dataclass(frozen=True)
class NetworkWeek:
    """The week of every territory the reader sees, and the run that planned them last."""

    week: Week
    rows: list[TerritoryWeek]
    loans: list[CrewLoan]
    run: LongRun | None
    published: int

    @property
    def totals(self) -> dict[str, float | None]:
        """What all plans come to together; ``keeping_costs`` None where none was kept to."""
        kept = [row.keeping_costs for row in self.rows if row.keeping_costs is not None]
        return {
            "keeping_costs": sum(kept) if kept else None,
            "kept": len(kept),
            "territories": len(self.rows),
            "planned": sum(row.plan is not None for row in self.rows),
            "placed": sum(row.placed for row in self.rows),
            "left_out": sum(row.left_out for row in self.rows),
            "late": sum(row.late for row in self.rows),
            "value": sum(row.plan.value for row in self.rows if row.plan),
            "undone_a_day": sum(row.undone_a_day for row in self.rows),
        }

    @property
    def seconds(self) -> float | None:
        """How long the run took, from its begin to its end."""
        if self.run is None or self.run.started_at is None or self.run.finished_at is None:
            return None
        return (self.run.finished_at - self.run.started_at).total_seconds()

    @property
    def jobs_a_minute(self) -> float | None:
        """Jobs decided on, placed or left out with their reason, in a minute of the run."""
        if not self.seconds:
            return None
        ours = [row for row in self.rows if row.part is not None]
        return 60 * sum(row.placed + row.left_out for row in ours) / self.seconds


def network_week(reader: Person, week: Week) -> NetworkWeek:
    """Read in a number of queries that no network's size changes."""
    places = list(visible(reader, Territory.objects.order_by("name"), Action.SEE_SHEETS))
    plans = {plan.territory_id: plan for plan in _newest(places, week)}
    numbers = _numbers(plans.values())
    run = _run(places, week)
    parts = _parts(run)
    return NetworkWeek(
        week=week,
        rows=[_row(place, plans.get(place.pk), numbers, parts.get(place.code)) for place in places],
        loans=_loans(places, week),
        run=run,
        published=_of(places, week).filter(state="published").count(),
    )


def _of(places: list[Territory], week: Week) -> QuerySet[WeekPlan]:
    return WeekPlan.objects.filter(territory__in=places, week=week.monday)


def _newest(places: list[Territory], week: Week) -> QuerySet[WeekPlan]:
    rows = _of(places, week)
    return rows.order_by("territory_id", "-number").distinct("territory_id")


def _numbers(plans: Iterable[WeekPlan]) -> dict[int, dict[str, Any]]:
    """By plan: jobs placed, of them after their due day, hours of crews, and what is left out."""
    ids = [plan.pk for plan in plans]
    placed = PlannedJob.objects.filter(plan__in=ids).values("plan")
    found: dict[int, dict[str, Any]] = {pk: {} for pk in ids}
    for row in placed.annotate(
        placed=Count("pk"),
        late=Count("pk", filter=Q(starts_at__date__gt=F("job__due_on"))),
        time=Sum(F("ends_at") - F("leaves_at")),
    ).order_by("plan"):
        found[row["plan"]] |= row
    left = LeftOut.objects.filter(plan__in=ids).values("plan")
    undone = left.annotate(out=Count("pk"), undone=Sum("job__value_per_day"))
    for out in undone.order_by("plan"):
        found[out["plan"]] |= out
    return found


def _row(
    place: Territory,
    plan: WeekPlan | None,
    numbers: dict[int, dict[str, Any]],
    part: LongRun | None,
) -> TerritoryWeek:
    of = numbers[plan.pk] if plan else {}
    return TerritoryWeek(
        territory=place,
        plan=plan,
        placed=of.get("placed", 0),
        left_out=of.get("out", 0),
        late=of.get("late", 0),
        crew_hours=of["time"].total_seconds() / 3600 if "time" in of else 0.0,
        undone_a_day=float(of.get("undone", 0)),
        part=part,
    )


def _run(places: list[Territory], week: Week) -> LongRun | None:
    """The newest planning of the network in which any of these territories had a part."""
    codes = [place.code for place in places]
    runs = LongRun.objects.filter(kind=NETWORK, asked__week=week.monday.isoformat())
    rows = runs.select_related("requested_by").order_by("-requested_at", "-pk")[:10]
    return next((run for run in rows if set(codes) & set(run.asked["territories"])), None)


def _parts(run: LongRun | None) -> dict[str, LongRun]:
    """The newest part of each territory: one that was lent a crew is planned a second time."""
    if run is None:
        return {}
    rows = LongRun.objects.filter(kind=KIND, asked__network=run.pk).order_by("pk")
    return {part.asked["territory"]: with_progress(part) for part in rows}


def _loans(places: list[Territory], week: Week) -> list[CrewLoan]:
    rows = CrewLoan.objects.filter(
        Q(territory__in=places) | Q(shift__crew__depot__territory__in=places),
        shift__starts_at__gte=week.start,
        shift__starts_at__lt=week.end,
    )
    rows = rows.select_related("shift__crew__depot__territory", "territory")
    return list(rows.order_by("shift__starts_at", "shift__crew"))
