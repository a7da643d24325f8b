"""Material that can be ordered: when it would lie at the depots, and what a plan waits for."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Min
from django.utils import timezone

from planning.models import Stock, WeekPlan
from planning.services.calendar import Week
from turnouts.models import Territory


@dataclass(frozen=True)
class MaterialOrder:
    """So much of a material that a plan takes from an order, with the days it hangs on."""

    material: str
    amount: float
    order_by: date
    arrives_on: date


def arrivals(territory: Territory, week: Week) -> dict[str, int]:
    """By material the day of the week, 0 for Monday, from which an order placed now has come.

    What a published plan of the week already waits for counts as ordered on the day that plan was
    made, the day it was published as well. A material without a lead time cannot be ordered within
    a plan.
    """
    today, ordered = timezone.localdate(), _ordered_on(territory, week)
    return {
        material: max(0, (ordered.get(material, today) + lead - week.monday).days)
        for material, lead in _leads(territory).items()
    }


def orders_of(plan: WeekPlan) -> list[MaterialOrder]:
    """What the plan takes from orders, for its supervisor to place in time."""
    wanted: dict[str, float] = {}
    for load in plan.detail["loads"]:
        if amount := load.get("ordered", 0.0):
            wanted[load["item"]] = wanted.get(load["item"], 0.0) + amount
    if not wanted:
        return []
    leads, made_on = _leads(plan.territory), timezone.localdate(plan.made_at)
    return [
        MaterialOrder(item, round(amount, 3), made_on, made_on + leads[item])
        for item, amount in sorted(wanted.items())
        if item in leads
    ]


def _leads(territory: Territory) -> dict[str, timedelta]:
    """By material the shortest lead time of the territory's depots."""
    rows = Stock.objects.filter(depot__territory=territory, lead_days__isnull=False)
    shortest = rows.order_by().values_list("material").annotate(Min("lead_days"))
    return {material: timedelta(days=days) for material, days in shortest}


def _ordered_on(territory: Territory, week: Week) -> dict[str, date]:
    """By material the first day on which a published plan of the week had it ordered."""
    found: dict[str, date] = {}
    for item, day in _published_orders(territory, week):
        found[item] = min(day, found.get(item, day))
    return found


def _published_orders(territory: Territory, week: Week) -> Iterator[tuple[str, date]]:
    plans = WeekPlan.objects.filter(territory=territory, week=week.monday)
    for plan in plans.exclude(published_at=None).only("detail", "made_at"):
        for load in plan.detail["loads"]:
            if load.get("ordered"):
                yield load["item"], timezone.localdate(plan.made_at)
