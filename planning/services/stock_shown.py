"""Stock as it lies, with what took from it last, and what was used beyond it."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import F, Max, OuterRef, Q, QuerySet, Subquery, Sum

from planning.models import Depot, Stock, StockUse, Truck
from turnouts.access import Action, visible
from turnouts.models import Person

BACK = timedelta(days=28)
"""How long material that was used beyond the stock is listed to be counted."""


@dataclass(frozen=True)
class Beyond:
    """Material that a sheet used and no stock shows."""

    sheet: str
    turnout: str
    material: str
    quantity: Decimal
    unit: str
    at: datetime


def stock_of(person: Person) -> QuerySet[Stock]:
    """What lies on trucks and in depots that somebody plans for, with the last use of each."""
    rows = Stock.objects.filter(
        Q(truck__in=visible(person, Truck.objects.all(), Action.PLAN))
        | Q(depot__in=visible(person, Depot.objects.all(), Action.PLAN))
    )
    uses = StockUse.objects.filter(
        Q(truck=OuterRef("truck")) | Q(depot=OuterRef("depot")), material=OuterRef("material")
    ).order_by("-at", "-pk")
    return (
        rows.select_related("truck", "depot")
        .annotate(
            last_sheet=Subquery(uses.values("record__sheet__number")[:1]),
            last_quantity=Subquery(uses.values("quantity")[:1]),
            last_at=Subquery(uses.values("at")[:1]),
        )
        .order_by(F("truck__code").asc(nulls_last=True), "depot__code", "material")
    )


def used_beyond(person: Person, at: datetime) -> list[Beyond]:
    """What was used beyond the stock in the last weeks and not taken back, the latest first."""
    rows = visible(person, StockUse.objects.all(), Action.PLAN).filter(
        truck__isnull=True, depot__isnull=True, at__gte=at - BACK
    )
    grouped: Any = rows.order_by().values(
        "material",
        "unit",
        sheet=F("record__sheet__number"),
        turnout=F("record__sheet__job__turnout__code"),
    )
    summed = grouped.annotate(total=Sum("quantity"), latest=Max("at")).filter(total__gt=0)
    return [
        Beyond(r["sheet"], r["turnout"], r["material"], r["total"], r["unit"], r["latest"])
        for r in summed.order_by("-latest", "sheet", "material")
    ]
