"""Forecasts are kept, and held against the readings that come."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import date
from typing import Any

from django.db.models import F, Q
from django.utils import timezone

from turnouts.analysis.early_warning import Foreseen
from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.forecast_record import (
    PROMISE,
    ChanceForecast,
    IntervalForecast,
    chance_record,
    interval_record,
    met,
)
from turnouts.analysis.terms import Quantity
from turnouts.analysis.wear.limits import Limit
from turnouts.analysis.wear.line import Line
from turnouts.models import ForecastRecord, WearForecast
from turnouts.services.component_rows import Life, Place, Taken
from turnouts.services.watching import Series

ROWS_AT_ONCE = 2000


def keep_forecasts(
    series: Mapping[str, Series], foreseen: Iterable[Foreseen], on: date, kept_on: date
) -> int:
    """Keep what was foreseen of each length, once after each reading; gives how many are new."""
    strictest: dict[tuple[int, Place], tuple[Series, Foreseen]] = {}
    for one in foreseen:
        watched = series[one.key]
        key = (watched.life.component.pk, watched.place)
        if key not in strictest or _stricter(watched, strictest[key][0]):
            strictest[key] = (watched, one)
    rows = [_forecast(*pair, on, kept_on) for pair in strictest.values()]
    known = _known({row.component_id for row in rows})
    new = [row for row in rows if _name(row) not in known]
    WearForecast.objects.bulk_create(new, batch_size=ROWS_AT_ONCE, ignore_conflicts=True)
    return len(new)


def settle_forecasts(lives: Sequence[Life]) -> int:
    """Hold every open forecast of these components against the next reading, where one has come."""
    by_id = {life.component.pk: life for life in lives}
    settled = []
    for row in WearForecast.objects.filter(state="open", component__in=by_id):
        life = by_id[row.component_id]
        place = (Quantity(row.quantity), row.route, row.behind_point_mm)
        came = _next(life.readings.get(place, ()), row.last_inspection)
        if came is not None:
            settled.append(_settled(row, came, life, place))
    # Written anew and not updated: an update of many rows, each with its own values, takes minutes.
    WearForecast.objects.filter(pk__in=[row.pk for row in settled]).delete()
    WearForecast.objects.bulk_create(settled, batch_size=ROWS_AT_ONCE)
    return len(settled)


def renew_record(on: date) -> None:
    """Count anew how the forecasts did, of each quantity and of all together."""
    ForecastRecord.objects.all().delete()
    found: dict[str, list[tuple[Any, ...]]] = defaultdict(list)
    rows = WearForecast.objects.filter(state="met").annotate(after=Q(kept_on__gt=F("made_on")))
    for quantity, *rest in rows.values_list(
        "quantity", "pk", "low_mm", "high_mm", "came_mm", "chance", "past", "after"
    ).iterator():
        found[quantity].append(tuple(rest))
        found[""].append(tuple(rest))
    others: dict[tuple[str, str], int] = defaultdict(int)
    for quantity, state in WearForecast.objects.exclude(state="met").values_list(
        "quantity", "state"
    ):
        others[quantity, state] += 1
        others["", state] += 1
    ForecastRecord.objects.bulk_create(
        ForecastRecord(
            quantity=quantity,
            made_on=on,
            met=len(found[quantity]),
            afterwards=sum(row[-1] for row in found[quantity]),
            reset=others[quantity, "reset"],
            waiting=others[quantity, "open"],
            figures=_figures(found[quantity]),
        )
        for quantity in sorted({"", *found, *(name for name, _ in others)})
    )


def _figures(rows: Sequence[tuple[Any, ...]]) -> dict[str, Any]:
    intervals = interval_record(
        [
            IntervalForecast(str(pk), low, high, PROMISE, float(came))
            for pk, low, high, came, *_ in rows
        ]
    )
    chances = chance_record(
        [ChanceForecast(str(row[0]), row[4], row[5]) for row in rows if row[4] is not None]
    )
    return {"intervals": _said(intervals), "chances": _said(chances)}


def _said(found: Any) -> dict[str, Any]:
    return asdict(found) | {"enough": not isinstance(found, NotEnough)}


def _known(components: set[int]) -> set[tuple[Any, ...]]:
    rows = WearForecast.objects.filter(component__in=components)
    return set(
        rows.values_list("component_id", "quantity", "route", "behind_point_mm", "last_inspection")
    )


def _name(row: WearForecast) -> tuple[Any, ...]:
    return (
        row.component_id, row.quantity, row.route, row.behind_point_mm, row.last_inspection
    )  # fmt: skip


def _stricter(one: Series, other: Series) -> bool:
    """Whether a limit is reached sooner; of a least and a most the least is taken."""
    if one.limit.least != other.limit.least:
        return one.limit.least
    sooner = one.limit.mm > other.limit.mm
    return sooner if one.limit.least else one.limit.mm < other.limit.mm


def _forecast(watched: Series, foreseen: Foreseen, on: date, kept_on: date) -> WearForecast:
    quantity, route, behind = watched.place
    line = foreseen.line
    return WearForecast(
        component=watched.life.component,
        turnout=watched.turnout,
        quantity=quantity.value,
        route=route,
        behind_point_mm=behind,
        last_inspection=watched.taken[-1].inspection,
        made_on=on,
        kept_on=kept_on,
        began_mgt=watched.began_mgt,
        level=line.level,
        rate=line.rate,
        covariance=line.covariance,
        sd=line.sd,
        degrees=line.degrees,
        readings=foreseen.readings,
        limit_mm=watched.limit.mm,
        least=watched.limit.least,
        clause=watched.limit.clause,
    )


def _next(taken: Sequence[Taken], last: str) -> Taken | None:
    """The first reading after those of an inspection; nothing where that is no longer there."""
    places = [n for n, one in enumerate(taken) if one.inspection == last]
    return taken[places[-1] + 1] if places and places[-1] + 1 < len(taken) else None


def _settled(row: WearForecast, came: Taken, life: Life, place: Place) -> WearForecast:
    row.came_inspection, row.came_on = came.inspection, timezone.localdate(came.at)
    row.came_mgt, row.came_mm = came.mgt, came.value
    holding = [run for run in life.runs(place) if run.began_mgt <= came.mgt]
    if not holding or holding[-1].began_mgt != row.began_mgt:
        row.state = "reset"
        return row
    (v00, v01), (_, v11) = row.covariance
    line = Line(row.level, row.rate, ((v00, v01), (v01, v11)), row.sd, row.degrees)
    limit = Limit(float(row.limit_mm), not row.least)
    said = met(line, came.mgt - row.began_mgt, limit)
    row.state, row.low_mm, row.high_mm, row.chance = "met", said.low, said.high, said.chance
    row.past = came.value < row.limit_mm if row.least else came.value > row.limit_mm
    return row
