"""Whether what was warned of came: early warnings held against the next reading of the same."""

from collections import defaultdict
from datetime import date
from decimal import Decimal

from django.utils import timezone

from turnouts.access import visible
from turnouts.models import EarlyWarning, Measurement, Person, Territory

FEWEST = 5
"""Warnings met by a reading below which nothing is said (assumed: any share would be chance)."""

Thing = tuple[int, str, str, Decimal | None]


def warnings_met(reader: Person, territory: Territory, since: date, until: date) -> str:
    """A sentence on the warnings first made before a reading in this time; two queries."""
    rows = visible(
        reader,
        EarlyWarning.objects.filter(
            turnout__track__line__territory=territory, made_on__lte=until
        ).order_by("made_on"),
    )
    read = _readings([row.component_id for row in rows], until)
    met = [
        (row, after)
        for row in rows
        if (after := _next(read[_thing(row)], row.made_on)) is not None and after[0] >= since
    ]
    if len(met) < FEWEST:
        return f"Early warnings: not enough data, {len(met)} met by a reading in this time."
    came = sum((mm < row.limit_mm) if row.least else (mm > row.limit_mm) for row, (_, mm) in met)
    mean = sum(row.chance for row, _ in met) / len(met)
    return (
        f"Early warnings: of {len(met)} met by a reading in this time {came} were past their limit "
        f"({came / len(met):.0%}); the chances said {mean:.0%} on average."
    )


def _thing(row: EarlyWarning) -> Thing:
    return row.component_id, row.quantity, row.route, row.behind_point_mm


def _readings(components: list[int], until: date) -> dict[Thing, list[tuple[date, Decimal]]]:
    read: dict[Thing, list[tuple[date, Decimal]]] = defaultdict(list)
    rows = Measurement.objects.filter(
        component__in=components, inspection__inspected_at__date__lte=until
    ).order_by("inspection__inspected_at", "pk")
    for pk, quantity, route, behind, at, value in rows.values_list(
        "component_id", "quantity", "route", "behind_point_mm", "inspection__inspected_at", "value"
    ):
        read[pk, quantity, route, behind].append((timezone.localdate(at), value))
    return read


def _next(read: list[tuple[date, Decimal]], after: date) -> tuple[date, Decimal] | None:
    """The first reading after a day."""
    return next((one for one in read if one[0] > after), None)
