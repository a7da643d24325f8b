"""A plan with all its page shows, read in a number of queries that no plan's size changes."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.db.models import Q, QuerySet
from django.utils import timezone

from planning.models import Crew, CrewMember, LeftOut, PlannedJob, WeekPlan, WorkWindow
from planning.services.calendar import Week
from planning.services.material_orders import MaterialOrder, orders_of
from repairs.models import Qualification
from turnouts.access import Action, visible
from turnouts.models import Person, Territory, Track

LINES_A_SHEET = (19, 22, 26, 31, 37)
"""Most lines of the lists that go on one sheet with each size of letters but the last."""


@dataclass(frozen=True)
class CrewLoad:
    """What one truck carries over the week, by material."""

    truck: str
    items: list[tuple[str, float, float]]


@dataclass(frozen=True)
class PlanRead:
    """One plan, its jobs, and the figures a supervisor looks at first."""

    plan: WeekPlan
    placed: list[PlannedJob]
    left_out: list[LeftOut]
    loads: list[CrewLoad]
    orders: list[MaterialOrder]
    crew_hours: float
    filler_kg: float
    least_chance: float | None
    all_in_time: float

    @property
    def late(self) -> list[PlannedJob]:
        """Jobs planned to end after the day they are due."""
        return [one for one in self.placed if is_late(one)]

    @property
    def in_parts(self) -> list[str]:
        """The jobs that are done in parts in this plan."""
        return sorted({one.job.part_of.reference for one in self.placed if one.job.part_of})

    def paper(self, days: int) -> int:
        """How small the letters must be for one sheet of paper: 1 for the largest, 6 at most.

        A line is a row of a table, or what a truck loads; a reason and a change take two. The
        drawings of three days stand beside each other; a third row of them takes eight lines.
        """
        lines = len(self.placed) + 2 * len(self.left_out) + len(self.loads)
        lines += 8 if days > 6 else 0
        return 1 + sum(lines > most for most in LINES_A_SHEET)


def is_late(one: PlannedJob) -> bool:
    return one.job.due_on is not None and timezone.localdate(one.starts_at) > one.job.due_on


def read_plan(plan: WeekPlan) -> PlanRead:
    placed = list(
        plan.placed.select_related(
            "job__component",
            "job__part_of",
            "turnout__track__line",
            "crew",
            "truck",
            "window__track__line",
            "estimate",
            "sheet",
        ).defer("estimate__detail")
    )
    left = list(plan.left_out.select_related("job__turnout__track__line", "job__component"))
    chances = list(plan.detail["window_chance"].values())
    return PlanRead(
        plan=plan,
        placed=placed,
        left_out=left,
        loads=_loads(plan),
        orders=orders_of(plan),
        crew_hours=sum(((p.ends_at - p.leaves_at) for p in placed), timedelta()).total_seconds()
        / 3600,
        filler_kg=sum(p.estimate.filler_kg for p in placed),
        least_chance=min(chances, default=None),
        all_in_time=_product(chances),
    )


def _product(chances: list[float]) -> float:
    """The chance that every window of the week is handed back in time, windows independent."""
    whole = 1.0
    for chance in chances:
        whole *= chance
    return whole


def _loads(plan: WeekPlan) -> list[CrewLoad]:
    by_truck: dict[str, list[tuple[str, float, float]]] = defaultdict(list)
    for load in plan.detail["loads"]:
        by_truck[load["truck"]].append((load["item"], load["used"], load["from_depot"]))
    return [CrewLoad(truck, sorted(items)) for truck, items in sorted(by_truck.items())]


def plans_of(territory: Territory, week: Week) -> list[WeekPlan]:
    """Every plan of a week, the newest first."""
    rows = WeekPlan.objects.filter(territory=territory, week=week.monday)
    return list(rows.select_related("made_by", "published_by", "based_on").order_by("-number"))


def crews_of(person: Person) -> QuerySet[Crew]:
    """Crews whose calendar address somebody may see: their own, and those they plan for."""
    rows = visible(person, Crew.objects.all(), Action.SEE_SHEETS)
    planned = visible(person, Crew.objects.all(), Action.PLAN)
    today = timezone.localdate()
    own = Crew.objects.filter(
        Q(members__until__isnull=True) | Q(members__until__gt=today),
        members__person=person,
        members__since__lte=today,
    )
    chosen = rows.filter(Q(pk__in=planned.values("pk")) | Q(pk__in=own.values("pk")))
    return chosen.select_related("depot__territory", "calendar")


def week_choices(plan: WeekPlan) -> dict[str, Any]:
    """What a question about a plan can be about: the week's track time, crews, trucks, people."""
    week = Week(plan.week)
    now = timezone.now()
    rows = WorkWindow.objects.filter(track__line__territory=plan.territory, ends_at__gt=now)
    in_week = rows.filter(starts_at__gte=week.start, starts_at__lt=week.end)
    lent = Q(shifts__loan__territory=plan.territory, shifts__starts_at__gte=week.start)
    lent &= Q(shifts__starts_at__lt=week.end)
    crews = list(
        Crew.objects.filter(Q(depot__territory=plan.territory) | lent)
        .select_related("truck")
        .distinct()
    )
    last = week.days()[-1]
    people = CrewMember.objects.filter(crew__in=crews, since__lte=last).exclude(
        until__lte=week.monday
    )
    held = Qualification.objects.filter(person__crew_memberships__crew__in=crews)
    today = timezone.localdate(now)
    return {
        "windows": list(in_week.select_related("track__line")),
        "tracks": list(Track.objects.filter(line__territory=plan.territory).select_related("line")),
        "crews": crews,
        "trucks": [crew.truck for crew in crews if crew.truck],
        "people": list(people.select_related("person", "crew").order_by("crew", "person")),
        "procedures": sorted(set(held.values_list("procedure", flat=True))),
        "days": [(n, day) for n, day in enumerate(week.days()) if day >= today],
    }
