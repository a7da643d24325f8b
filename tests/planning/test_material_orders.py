"""Lead times of depots: what a week's plan may wait for, what is to be ordered, and until when."""

from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from planning.models import Stock, WeekPlan
from planning.reading import read_plan
from planning.services.calendar import Week
from planning.services.load_outs import load_out_of
from planning.services.material_orders import arrivals, orders_of
from planning.services.publish import publish_plan
from planning.services.week import week_problem
from tests import track_time
from tests.planning.conftest import SmallWeek
from tests.track_time import MONDAY, PROCEDURE, at
from turnouts.services.errors import Conflict

WEEK = Week(MONDAY)
SUNDAY = at(-1, 12)
"""The clock of these tests stands there, as `before_the_week` says."""


def stand_at(monkeypatch: pytest.MonkeyPatch, moment: datetime) -> None:
    monkeypatch.setattr(timezone, "now", lambda: moment)


def depot_row(week: SmallWeek, days: int | None, quantity: str = "0") -> Stock:
    """Nothing of the wire anywhere but what is said here."""
    Stock.objects.filter(material=PROCEDURE).delete()
    return Stock.objects.create(
        depot=track_time.depot(week.track.line),
        material=PROCEDURE,
        quantity=Decimal(quantity),
        unit="kg",
        lead_days=days,
    )


def publish(week: SmallWeek, plan: WeekPlan, when: datetime) -> WeekPlan:
    return publish_plan(by=week.supervisor, plan=plan, expected_version=plan.version, at=when)


@pytest.mark.parametrize(("days", "first"), [(0, 0), (1, 0), (2, 1), (9, 8)])
def test_an_order_of_sunday_is_there_after_its_lead_time(
    small_week: SmallWeek, days: int, first: int
) -> None:
    depot_row(small_week, days)
    territory = small_week.track.line.territory
    assert arrivals(territory, WEEK) == {PROCEDURE: first}
    assert week_problem(territory, WEEK).arrives == {PROCEDURE: first}


def test_without_a_lead_time_nothing_is_ordered_and_the_jobs_are_left_out(
    small_week: SmallWeek,
) -> None:
    depot_row(small_week, None)
    assert arrivals(small_week.track.line.territory, WEEK) == {}
    plan = small_week.plan()
    assert not plan.placed.exists()
    assert orders_of(plan) == []


def test_the_shortest_lead_time_of_the_depots_counts(small_week: SmallWeek) -> None:
    depot_row(small_week, 9)
    Stock.objects.create(
        depot=track_time.depot(small_week.track.line), material=PROCEDURE, quantity=0, unit="kg",
        lead_days=3,
    )  # fmt: skip
    assert arrivals(small_week.track.line.territory, WEEK) == {PROCEDURE: 2}


def test_a_plan_says_what_to_order_and_when_it_comes(small_week: SmallWeek) -> None:
    depot_row(small_week, 1)
    plan = small_week.plan(at=SUNDAY)
    assert plan.placed.count() == 2
    [order] = orders_of(plan)
    used = sum(load["used"] for load in plan.detail["loads"] if load["item"] == PROCEDURE)
    assert (order.material, order.amount) == (PROCEDURE, pytest.approx(used, abs=1e-3))
    assert (order.order_by, order.arrives_on) == (MONDAY - timedelta(days=1), MONDAY)
    assert read_plan(plan).orders == [order]
    [truck] = load_out_of(plan)
    [wire] = [row for row in truck["depot"] if row["key"] == PROCEDURE]
    assert wire["ordered"] == wire["from_depot"] == pytest.approx(used)


def test_what_a_published_plan_waits_for_stays_ordered_since_then(
    small_week: SmallWeek, monkeypatch: pytest.MonkeyPatch
) -> None:
    depot_row(small_week, 2)
    small_week.window.starts_at += timedelta(days=1)  # Tuesday, when Sunday's order has come
    small_week.window.ends_at += timedelta(days=1)
    small_week.window.save()
    plan = small_week.plan(at=SUNDAY)
    assert plan.placed.count() == 2
    publish(small_week, plan, SUNDAY)
    stand_at(monkeypatch, at(0, 12))
    assert arrivals(small_week.track.line.territory, WEEK) == {PROCEDURE: 1}


def test_a_draft_is_not_published_when_the_day_to_order_is_past(
    small_week: SmallWeek, monkeypatch: pytest.MonkeyPatch
) -> None:
    depot_row(small_week, 0)
    plan = small_week.plan(at=SUNDAY)
    made_on = timezone.localdate(plan.made_at)
    assert (made_on, len(orders_of(plan))) == (date(2026, 3, 1), 1)
    with pytest.raises(Conflict, match="waits for material ordered on 2026-03-01"):
        publish(small_week, plan, at(0, 1))
    assert publish(small_week, plan, at(-1, 23)).state == "published"


def test_only_a_depot_has_a_lead_time(small_week: SmallWeek) -> None:
    truck = small_week.crew.truck
    assert truck is not None
    row = truck.stock.first()
    assert row is not None
    row.lead_days = 1
    with pytest.raises(IntegrityError, match="orders_come_to_a_depot"), transaction.atomic():
        row.save()
